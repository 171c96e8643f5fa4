"""length-mismatch: lost music against trimmed silence."""

from __future__ import annotations

from array import array
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.results import Alignment, ClickRun, ClickTrack, FaultKind, FirstAndLast, Onsets
from audit.rules.length import length_mismatch
from tests.evidence import audit_with, fault, findings, show, song, stem
from tests.rules import test_arrangement as beats
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

RATE_HZ = 48000
FULL_S = 60.0


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


BARS = ClickTrack(
    beats_s=tuple(0.5 * k for k in range(117)), accents=(True, False, False, False) * 29 + (True,),
    runs=(ClickRun(first_beat=0, beats=117, bpm_first=120.0, bpm_last=120.0, steady=True),), bpm=120.0,
    metre="4/4", count_in_beats=4, first_beat_s=0.0,
)  # fmt: skip
"""Bars of two seconds."""


def band(**more: Any) -> list[StemEvidence]:
    return [stem(file, **more) for file in ("Drums.wav", "Keys.wav", "Guitar.wav")]


def trimmed(file: str, seconds: float, **more: Any) -> StemEvidence:
    """Ends in silence, whatever its length; its sound ends a second before."""
    return stem(file, seconds=seconds, **more)


def playing(file: str, seconds: float, end_dbfs: float = -20.0, **more: Any) -> StemEvidence:
    """Sounds to its very end."""
    last = round(seconds * RATE_HZ) - 1
    return stem(file, seconds=seconds, activity={"end_rms_dbfs": end_dbfs, "last_sound_frame": last}, **more)


def going_on(file: str, seconds: float, *, begins: int = 8) -> StemEvidence:
    """Sounds until a second before its end, and begins so many sounds after the first minute."""
    last = round((seconds - 1.0) * RATE_HZ) - 1
    made = stem(file, seconds=seconds, activity={"last_sound_frame": last})
    times = array("d", [10.0, 30.0, 58.0, *(59.5 + 0.4 * n for n in range(begins))])
    onsets = Onsets(times_s=times, strengths_db=array("f", [9.0] * len(times)))
    (one,) = made.parts
    return replace(made, parts=(replace(one, measures=replace(one.measures, onsets=onsets)),))


CASES: dict[str, tuple[Case, ...]] = {
    "length-mismatch": (
        planted(
            "cut at half the song",
            of(*band(), playing("Bass.wav", 30.0)),
            Expected(
                stem="Bass.wav", value=30000.0, at_s=30.0, says=("30.00 s early", "−20 dBFS", "limit 10 ms")
            ),
        ),
        planted(
            "two seconds short",
            of(*band(), playing("Bass.wav", 58.0)),
            Expected(stem="Bass.wav", value=2000.0, at_s=58.0),
        ),
        planted(
            "two bars short, as the click has them",
            show(song("Night Ferry", *band(), playing("Bass.wav", 56.0), click=BARS)),
            Expected(stem="Bass.wav", value=4000.0, says=("ends 2 bars (4.00 s) early",)),
        ),
        planted(
            "a bar and 30 ms are no bars",
            show(song("Night Ferry", *band(), playing("Bass.wav", 57.97), click=BARS)),
            Expected(stem="Bass.wav", value=2030.0, says=("ends 2.03 s early",)),
        ),
        planted(
            "a quiet end, a bar longer: said, not blamed",
            show(song("Night Ferry", *band(), trimmed("Bass.wav", 62.0), click=BARS)),
            Expected(severity="note", stem="Bass.wav", says=("Bass.wav 1 bar (2.00 s) longer",)),
        ),
        planted(
            "the others got a cut of two bars",
            show(song("Night Ferry", *band(), going_on("Bass.wav", 64.0), click=BARS)),
            Expected(
                severity="warning",
                stem="Bass.wav",
                at_s=59.0,
                value=4000.0,
                says=("alone for 4.00 s after the others' last sound at 0:59", "2 bars (4.00 s) longer"),
                advises=("from the current version",),
            ),
        ),
        planted(
            "so did the timecode, which is not to blame",
            show(
                song(
                    "Night Ferry",
                    *band(),
                    going_on("Bass.wav", 64.0),
                    playing("Timecode.wav", 60.0),
                    click=BARS,
                )
            ),
            Expected(severity="warning", stem="Bass.wav"),
        ),
        planted(
            "two bars longer, and it rings out",
            show(song("Night Ferry", *band(), going_on("Keys 2.wav", 64.0, begins=0), click=BARS)),
            Expected(severity="note", stem="Keys 2.wav", says=("2 bars (4.00 s) longer",)),
        ),
        planted(
            "plays on, but not for whole bars",
            show(song("Night Ferry", *band(), going_on("Bass.wav", 63.5), click=BARS)),
            Expected(severity="note", stem="Bass.wav"),
        ),
        planted(
            "two sounds more are an ending, three are not",
            show(
                song("A", *band(), going_on("Bass.wav", 64.0, begins=2), click=BARS),
                song("B", *band(), going_on("Bass.wav", 64.0, begins=3), click=BARS),
            ),
            Expected(severity="note", songs=("A",), stem="Bass.wav"),
            Expected(severity="warning", songs=("B",), stem="Bass.wav"),
        ),
        clean(
            "a long end that all files hold",
            show(
                song(
                    "Night Ferry",
                    *(stem(f, seconds=64.0) for f in ("Drums.wav", "Keys.wav", "Guitar.wav")),
                    going_on("Bass.wav", 64.0),
                    click=BARS,
                )
            ),
        ),
        planted(
            "two of five are cut at different places",
            of(*band(), playing("Bass.wav", 58.0), playing("Pad.wav", 20.0)),
            Expected(stem="Bass.wav", value=2000.0),
            Expected(stem="Pad.wav", value=40000.0),
        ),
        planted(
            "cut, where no two lengths agree",
            of(trimmed("Drums.wav", 60.0), trimmed("Keys.wav", 58.0), playing("Bass.wav", 30.0)),
            Expected(stem="Bass.wav", value=30000.0),
        ),
        planted(
            "no two lengths agree, nothing is cut: one warning",
            of(trimmed("Drums.wav", 60.0), trimmed("Keys.wav", 58.0), trimmed("Bass.wav", 45.0)),
            Expected(
                severity="warning", value=15000.0, says=("3 stems", "0:45.000 (Bass.wav)", "1:00.000 (Drums")
            ),
        ),
        planted(
            "tails trimmed at four places, all quiet: a note",
            of(*[playing(f"{n} Keys.wav", 60.0 + n, -72.0) for n in range(4)]),
            Expected(severity="note", value=3000.0, says=("4 stems",)),
        ),
        planted(
            "one of them is cut while it plays last: a warning",
            of(*[playing(f"{n} Keys.wav", 60.0 + n, -72.0) for n in range(4)], playing("Bass.wav", 64.5)),
            Expected(severity="warning", value=4500.0),
        ),
        planted(
            "timecode that breaks off in mid song",
            of(*band(), playing("Timecode.wav", 20.0)),
            Expected(stem="Timecode.wav", at_s=20.0, value=39000.0, says=("breaks off at 0:20.000",)),
        ),
        planted(
            "trimmed silence is one note",
            of(*band(), trimmed("Bass.wav", 50.0), trimmed("Brass.wav", 55.0)),
            Expected(
                severity="note",
                says=(
                    "Bass.wav 10.00 s shorter",
                    "Brass.wav 5.00 s shorter",
                    "No end breaks off",
                    "whether a start was cut off",
                ),
                advises=("first bars with the click",),
            ),
        ),
        planted(
            "a reverb that rings on is a note",
            of(*band(), playing("Strings.wav", 66.0, -69.0)),
            Expected(severity="note", stem="Strings.wav", value=6000.0, says=("6.00 s longer",)),
        ),
        planted(
            "a chorus more than the rest",
            of(*band(), playing("Strings.wav", 90.0)),
            Expected(
                severity="warning",
                stem="Strings.wav",
                at_s=60.0,
                value=30000.0,
                says=("another arrangement",),
            ),
        ),
        planted(
            "a drone that bridges into the next song is a note",
            of(*band(), playing("Pad.wav", 120.0)),
            Expected(severity="note", stem="Pad.wav", says=("1:00 min longer",)),
        ),
        planted(
            "a click that ends early is a note that does not call it harmless",
            of(*band(), playing("Click.wav", 20.0), playing("Timecode.wav", 70.0)),
            Expected(
                severity="note",
                says=(
                    "Click.wav 40.00 s shorter",
                    "Timecode.wav 10.00 s longer",
                    "song's 1:00.000: ",
                    "The music goes on after Click.wav has stopped",
                ),
                advises=("Click.wav is meant to stop",),
            ),
        ),
        clean("one length", of(*band(), stem("Click.wav"), stem("Timecode.wav"))),
        clean("click and timecode only", of(playing("Click.wav", 60.0), playing("Timecode.wav", 70.0))),
        clean("one stem", of(stem("Bass.wav"))),
        clean("a late entry", of(*band(), stem("Brass.wav", activity={"first_sound_frame": 40 * RATE_HZ}))),
        clean("everybody plays to the end", of(*[playing(f"{n} Bass.wav", 60.0) for n in range(4)])),
        clean("a silent stem of another length", of(*band(), stem("Pad.wav", silent=True, seconds=1.0))),
        clean(
            "a truncated stem has its own rule",
            of(*band(), playing("Bass.wav", 30.0, faults=[fault(FaultKind.TRUNCATED)])),
        ),
        clean("one length in seconds at two rates", of(*band(), stem("Bass.wav", rate_hz=44100))),
        at_limit("10 ms short", of(*band(), playing("Bass.wav", 59.990), playing("Horn.wav", 60.0))),
        past_limit(
            "11 ms short",
            of(*band(), playing("Bass.wav", 59.989), playing("Horn.wav", 60.0)),
            Expected(stem="Bass.wav", value=11.0, says=("11 ms early",)),
        ),
        past_limit(
            "timecode 1.99 s before the last sound misses a tail, 2.1 s are music",
            show(
                song("A", *band(), playing("Timecode.wav", 57.01)),
                song("B", *band(), playing("Timecode.wav", 56.9)),
                song("C", *band(), stem("Timecode.wav")),
                song("D", *band(), stem("Timecode.wav")),
                song("E", *band(), stem("Timecode.wav")),
            ),
            Expected(severity="warning", songs=("A",), stem="Timecode.wav"),
            Expected(severity="error", songs=("B",), stem="Timecode.wav"),
        ),
        past_limit(
            "no common length, quiet ends: 10 s apart are trimmed tails, 10.1 s are not",
            show(
                song("A", trimmed("Drums.wav", 60.0), trimmed("Keys.wav", 58.0), trimmed("Bass.wav", 50.0)),
                song("B", trimmed("Drums.wav", 60.0), trimmed("Keys.wav", 58.0), trimmed("Bass.wav", 49.9)),
            ),
            Expected(severity="note", songs=("A",)),
            Expected(severity="warning", songs=("B",)),
        ),
        past_limit(
            "at −50 dBFS it is a tail",
            of(*band(), playing("Bass.wav", 50.0, -50.0, levels={"active_rms_dbfs": -35.0})),
            Expected(severity="note", stem="Bass.wav"),
        ),
        past_limit(
            "at −49 dBFS it is playing, for a quiet stem",
            of(*band(), playing("Bass.wav", 50.0, -49.0, levels={"active_rms_dbfs": -35.0})),
            Expected(severity="error", stem="Bass.wav"),
        ),
        past_limit(
            "20 dB under itself it is a tail",
            of(*band(), playing("Bass.wav", 50.0, -39.0, levels={"active_rms_dbfs": -19.0})),
            Expected(severity="note", stem="Bass.wav"),
        ),
        past_limit(
            "sound 10 s past the end is still a tail, 10.1 s is not",
            show(
                song("A", *band(), playing("Strings.wav", 70.0)),
                song("B", *band(), playing("Strings.wav", 70.1)),
            ),
            Expected(severity="note", songs=("A",), stem="Strings.wav"),
            Expected(severity="warning", songs=("B",), stem="Strings.wav"),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_the_longest_of_two_is_the_songs_length():
    """Half of two is one: each length is shared by half of the stems; the song is as long as the longer."""
    evidence = of(stem("Keys.wav"), playing("Bass.wav", 40.0))
    assert [(f.severity.value, f.stem) for f in findings("length-mismatch", evidence)] == [
        ("error", "Bass.wav")
    ]
    evidence = of(stem("Keys.wav"), trimmed("Bass.wav", 40.0))
    assert [(f.severity.value, f.stem) for f in findings("length-mismatch", evidence)] == [
        ("note", "Bass.wav")
    ]


def test_the_click_settles_which_length_is_the_songs():
    evidence = of(
        trimmed("Drums.wav", 60.0),
        trimmed("Keys.wav", 58.0),
        trimmed("Bass.wav", 55.0),
        stem("Click.wav"),
        stem("Timecode.wav"),
    )
    found = findings("length-mismatch", evidence)
    assert [(f.severity.value, f.measured["files"]) for f in found] == [("note", ("Keys.wav", "Bass.wav"))]


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
def test_the_limit_is_time_at_every_rate(rate_hz: int):
    others = [stem(file, rate_hz=rate_hz) for file in ("Drums.wav", "Keys.wav", "Guitar.wav")]
    for milliseconds, expected in ((9, 0), (11, 1)):
        frames = round((FULL_S - milliseconds / 1000) * rate_hz)
        short = stem("Bass.wav", rate_hz=rate_hz, frames=frames)
        assert len(findings("length-mismatch", of(*others, short))) == expected


def test_no_music_is_not_applicable():
    assert audit_with("length-mismatch", of(stem("Click.wav"), stem("LTC.wav"))).not_applicable


def said(*stems: StemEvidence) -> list[tuple[str, str | None]]:
    return [(f.severity.value, f.stem) for f in findings("length-mismatch", of(*stems))]


def test_the_last_one_playing_is_not_cut():
    """Ends while playing, yet nobody sounds after it: a hard stop before trailing silence."""
    assert said(*band(), playing("Bass.wav", 59.5)) == [("note", "Bass.wav")]


def test_a_ring_out_does_not_make_everybody_else_short():
    ends = [playing(f"{file}.wav", 60.0) for file in ("Drums", "Keys", "Bass")]
    assert said(*ends, playing("Strings.wav", 66.0)) == [("note", "Strings.wav")]


def test_without_a_common_length_one_long_stem_is_not_enough():
    """Three others, one of which goes on: no sign that the bass was cut."""
    shorter = [trimmed("Drums.wav", 30.0), trimmed("Keys.wav", 20.0)]
    assert said(trimmed("Guitar.wav", 60.0), playing("Bass.wav", 40.0), *shorter) == [("warning", None)]
    assert said(trimmed("Guitar.wav", 60.0), *shorter) == [("warning", None)]
    longer = [trimmed("Drums.wav", 50.0), trimmed("Keys.wav", 20.0)]
    assert said(trimmed("Guitar.wav", 60.0), playing("Bass.wav", 40.0), *longer) == [("error", "Bass.wav")]


def test_timecode_that_stops_early_in_half_of_the_songs_is_the_shows_habit():
    def songs_with(early: int, of_songs: int) -> ShowEvidence:
        ends = [20.0] * early + [60.0] * (of_songs - early)
        return show(*(song(f"S{n}", *band(), playing("LTC.wav", end)) for n, end in enumerate(ends)))

    for early, of_songs, expected in ((1, 4, ["error"]), (2, 4, ["error"] * 2), (3, 4, ["note"] * 3)):
        found = findings("length-mismatch", songs_with(early, of_songs))
        assert [f.severity.value for f in found] == expected


def test_timecode_that_ends_in_silence_is_not_cut():
    assert said(*band(), trimmed("LTC.wav", 40.0)) == [("note", "LTC.wav")]


def test_one_stem_of_music_alone_is_not_applicable():
    assert audit_with("length-mismatch", of(stem("Bass.wav"))).not_applicable == {"length-mismatch": 1}


def strumming(
    seconds: float,
    *,
    step_s: float = 0.5,
    since_s: float = 0.3,
    strokes: int = 60,
    end_dbfs: float = -46.0,
    rings_to: float = 0.0,
    last_steps_s: float | None = None,
) -> StemEvidence:
    """Drums that strike on, the last time so long before their end, where they sound at this level."""
    last = round((seconds - rings_to) * RATE_HZ) - 1
    made = stem(
        "Drums.wav", seconds=seconds, activity={"end_rms_dbfs": end_dbfs, "last_sound_frame": last},
        levels={"active_rms_dbfs": -18.0},
    )  # fmt: skip
    steps = np.full(strokes - 1, step_s)
    if last_steps_s is not None:
        steps[-8:] = last_steps_s
    times = seconds - since_s - np.concatenate([[0.0], np.cumsum(steps[::-1])])[::-1]
    onsets = Onsets(times_s=array("d", times), strengths_db=array("f", [9.0] * strokes))
    (one,) = made.parts
    return replace(made, parts=(replace(one, measures=replace(one.measures, onsets=onsets)),))


OTHERS = tuple(playing(file, FULL_S, end_dbfs=-80.0) for file in ("Keys.wav", "Guitar.wav"))


def test_drums_cut_between_two_strokes():
    (one,) = findings("length-mismatch", of(strumming(45.0), *OTHERS))
    assert (one.severity.value, one.stem, one.value) == ("warning", "Drums.wav", pytest.approx(15_000.0))
    assert one.message == (
        "ends 15.00 s early, 300 ms after a stroke and before it has died away (−46 dBFS), while it played "
        "as densely as before and others go on; limit 10 ms"
    )


@pytest.mark.parametrize(
    ("drums", "told"),
    [
        pytest.param(strumming(45.0, since_s=0.75), True, id="a stroke and a half"),
        pytest.param(strumming(45.0, since_s=0.76), False, id="it had stopped"),
        pytest.param(strumming(45.0, last_steps_s=1.0), True, id="half as dense"),
        pytest.param(strumming(45.0, last_steps_s=1.01), False, id="it thins out"),
        pytest.param(strumming(45.0, strokes=30), True, id="thirty strokes"),
        pytest.param(strumming(45.0, strokes=29), False, id="too few strokes"),
        pytest.param(strumming(45.0, end_dbfs=-58.0), True, id="40 dB under it"),
        pytest.param(strumming(45.0, end_dbfs=-58.1), False, id="died away"),
        pytest.param(strumming(45.0, rings_to=0.004), True, id="to the end"),
        pytest.param(strumming(45.0, rings_to=0.006), False, id="silence after it"),
        pytest.param(strumming(55.0), True, id="others for four seconds more"),
        pytest.param(strumming(57.0), False, id="a tail more"),
    ],
)
def test_what_breaks_off_between_strokes(drums: StemEvidence, told: bool):
    found = findings("length-mismatch", of(drums, *OTHERS))
    assert [one.severity.value for one in found] == (["warning"] if told else ["note"])


@pytest.mark.parametrize("strokes", [0, 1])
def test_a_bound_of_no_strokes_breaks_nothing(strokes: int):
    drums = strumming(45.0, strokes=max(1, strokes))
    usual = length_mismatch.limit
    assert usual is not None
    limits = {"length-mismatch": replace(usual, more={**usual.more, "strokes": float(strokes)})}
    assert list(audit_with("length-mismatch", of(drums, *OTHERS), limits=limits).all_findings())


def test_below_60_dbfs_it_has_died_away_however_quiet_it_is():
    quiet = replace(strumming(45.0, end_dbfs=-61.0))
    (part,) = quiet.parts
    levels = replace(part.measures.levels, active_rms_dbfs=-40.0)
    quiet = replace(quiet, parts=(replace(part, measures=replace(part.measures, levels=levels)),))
    assert [one.severity.value for one in findings("length-mismatch", of(quiet, *OTHERS))] == ["note"]


# Bars that are missing somewhere


def edged(file: str, first: float, last: float, seconds: float = FULL_S) -> StemEvidence:
    edges = FirstAndLast(first_beats=first, last_beats=last, strokes=99, on_beats=0.9)
    place = Alignment(phase=None, drift=None, wrong_rate=None, first_and_last=edges)
    return replace(trimmed(file, seconds), alignment=place)


def with_a_bar_gone(
    odd: StemEvidence, *, keys_end: float = 100.0, guitar_begins: float = 4.0
) -> list[tuple[str, str | None]]:
    others = (
        edged("Drums.wav", 4.0, 100.0), edged("Keys.wav", 4.0, keys_end),
        edged("Guitar.wav", guitar_begins, 90.0),
    )  # fmt: skip
    evidence = show(song("Night Ferry", *others, odd, click=BARS))
    return [(one.severity.value, one.stem) for one in findings("length-mismatch", evidence)]


def test_a_bar_cut_out_of_the_middle():
    """It begins with the others and ends a bar of 2 s before them, and so does its file."""
    evidence = show(
        song(
            "Night Ferry", edged("Drums.wav", 4.0, 100.0), edged("Keys.wav", 4.0, 100.1),
            edged("Bass.wav", 4.1, 96.1, FULL_S - 2.0), click=BARS,
        )
    )  # fmt: skip
    (one,) = findings("length-mismatch", evidence)
    assert (one.severity.value, one.stem, one.value) == ("error", "Bass.wav", pytest.approx(2000.0))
    assert one.message == (
        "1 bar shorter than the others (2.000 s), and its last stroke comes as much before those of "
        "Drums.wav, Keys.wav, though it begins with Drums.wav, Keys.wav: somewhere it lacks 1 bar; limit 10 "
        "ms"
    )


@pytest.mark.parametrize(
    ("odd", "expected"),
    [
        (edged("Bass.wav", 4.0, 96.0, FULL_S - 2.0), [("error", "Bass.wav")]),
        (edged("Bass.wav", 4.0, 92.0, FULL_S - 4.0), [("error", "Bass.wav")]),
        (edged("Bass.wav", 4.0, 100.0, FULL_S - 2.0), [("note", "Bass.wav")]),  # trimmed silence
        (edged("Bass.wav", 4.0, 97.0, FULL_S - 2.0), [("note", "Bass.wav")]),  # it just ends earlier
        (edged("Bass.wav", 20.0, 96.0, FULL_S - 2.0), [("note", "Bass.wav")]),  # it begins alone, too
        (edged("Bass.wav", 4.0, 96.0, FULL_S - 1.97), [("note", "Bass.wav")]),  # by no whole bars
        (edged("Bass.wav", 4.0, 96.0), []),  # as long as the others
        (edged("FX.wav", 4.0, 96.0, FULL_S - 2.0), [("note", "FX.wav")]),  # effects begin and end anywhere
    ],
)
def test_what_a_whole_bar_less_says(odd: StemEvidence, expected: list[tuple[str, str | None]]):
    assert with_a_bar_gone(odd) == expected


def test_two_have_to_end_a_bar_later_and_nobody_with_it():
    odd = edged("Bass.wav", 4.0, 96.0, FULL_S - 2.0)
    assert with_a_bar_gone(odd, keys_end=80.0) == [("note", "Bass.wav")]
    also = edged("Bass.wav", 4.0, 90.1, FULL_S - 2.0)
    assert with_a_bar_gone(also) == [("note", "Bass.wav")]


def test_the_note_on_lengths_calls_no_start_whole():
    """What is 110 ms shorter lost silence at its end, or its start, and then it plays early."""
    (one,) = findings("length-mismatch", of(*band(), trimmed("Bass.wav", FULL_S - 0.11)))
    assert (one.severity.value, one.stem) == ("note", "Bass.wav")
    assert "110 ms shorter" in one.message
    assert "whether a start was cut off, or silence put before it, lengths alone do not tell" in one.message
    assert "lost" not in one.message + one.advice
    assert one.advice.startswith("Listen to their first bars with the click")


def test_what_another_rule_places_is_no_matter_of_length():
    """A bar was cut out of it, or it was moved by one; a third stem is just trimmed."""
    for odd, rule in (
        (beats.changed("Strings.wav", -4.0), "stale-arrangement"),
        (beats.shifted("Strings.wav", 4.0), "shifted-by-beats"),
    ):
        assert odd.format is not None
        short = replace(odd, format=replace(odd.format, frames=round((FULL_S - 1.9) * 48_000)))
        trimmed_too = trimmed("Brass.wav", FULL_S - 1.5)
        whole = show(song("Night Ferry", *band(), short, trimmed_too, click=BARS))
        assert [one.stem for one in findings(rule, whole)] == ["Strings.wav"]
        assert [one.stem for one in findings("length-mismatch", whole)] == ["Brass.wav"]


@pytest.mark.parametrize(("click_s", "odd"), [(60.0, "Keys.wav"), (60.2, "Drums.wav"), (61.0, "Drums.wav")])
def test_of_two_lengths_that_as_many_stems_have_the_clicks_own_is_the_songs(click_s: float, odd: str):
    """Two stems of 60.0 s and two of 60.2: which two are odd? Without the click's word the shorter ones."""
    lengths = {"Drums.wav": 60.0, "Bass.wav": 60.0, "Keys.wav": 60.2, "Guitar.wav": 60.2}
    stems = [stem(file, seconds=seconds) for file, seconds in lengths.items()]
    made = song("Night Ferry", stem("Click.wav", seconds=click_s), *stems, click_stem="Click.wav")
    (found,) = findings("length-mismatch", show(made))
    assert found.severity.value == "note"
    assert odd in found.measured["files"]
