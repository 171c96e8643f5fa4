"""cut-head: a first sound without its attack, and silence trimmed off before bar 1."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.findings import Severity
from audit.results import Alignment, ClickRun, ClickTrack, HardStart, Head, Phase
from audit.settings.model import SongSettings
from tests.evidence import findings, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted
from tests.rules.test_arrangement import shifted

RATE_HZ = 48_000

CLICK = ClickTrack(
    beats_s=tuple(0.5 * k for k in range(121)), accents=(True, False, False, False) * 30 + (True,),
    runs=(ClickRun(first_beat=0, beats=121, bpm_first=120.0, bpm_last=120.0, steady=True),), bpm=120.0,
    metre="4/4", count_in_beats=4, first_beat_s=0.0,
)  # fmt: skip
"""Two bars of two seconds before the music begins at 4 s."""


def head(**fields: Any) -> Head:
    """A first sound that is cut by 30 ms, for certain."""
    cut = Head(
        at_s=0.0, start_db=-4.0, like_beginning_db=6.0, like_inside_db=1.0, missing_ms=30.0, agreed=True
    )
    return replace(cut, **fields)


WHOLE = head(like_beginning_db=0.8, like_inside_db=5.0)


def one(file: str, first: Head | None = WHOLE, **more: Any) -> StemEvidence:
    return stem(file, head=first, **more)


def of(*stems: StemEvidence, click: ClickTrack | None = CLICK) -> ShowEvidence:
    return show(song("Night Ferry", *stems, click=click))


def band(**more: Any) -> list[StemEvidence]:
    return [one(file, **more) for file in ("Drums.wav", "Keys.wav", "Guitar.wav")]


def lead(file: str, first_s: float, seconds: float = 60.0, **more: Any) -> StemEvidence:
    """A stem whose first sound comes after so much silence."""
    return stem(file, seconds=seconds, activity={"first_sound_frame": round(first_s * RATE_HZ)}, **more)


def waiting(*more: StemEvidence) -> ShowEvidence:
    """Stems that are silent for two bars, and one more."""
    return of(lead("Drums.wav", 4.0), lead("Keys.wav", 4.01), lead("Guitar.wav", 12.0), *more)


CASES: dict[str, tuple[Case, ...]] = {
    "cut-head": (
        planted(
            "a bass cut 30 ms inside its first note",
            of(*band(), one("Bass.wav", head())),
            Expected(stem="Bass.wav", value=30.0, at_s=0.0, says=("30 ms are cut off", "limit 2.5 dB")),
        ),
        planted(
            "drums cut after two bars of silence",
            of(one("Bass.wav"), one("Keys.wav"), one("Drums.wav", head(at_s=4.01, missing_ms=12.0))),
            Expected(stem="Drums.wav", value=12.0, at_s=4.01),
        ),
        planted(
            "two bars of silence trimmed off",
            waiting(lead("Bass.wav", 0.0, 56.0)),
            Expected(
                stem="Bass.wav", value=4000.0, says=("4.000 s (8.0 beats",), advises=("192\u00a0000 samples",)
            ),
        ),
        planted(
            "all of a song's stems: a note",
            of(*[one(file, head()) for file in ("Drums.wav", "Bass.wav")]),
            Expected(severity="note", stem=None, says=("2 stems", "Drums.wav")),
        ),
        clean("whole first sounds", of(*band(), one("Bass.wav"))),
        clean("nothing to compare with", of(*band(), one("Bass.wav", None))),
        clean("likes that disagree in the place", of(*band(), one("Bass.wav", head(agreed=False)))),
        clean("a swell", of(*band(), one("Pad.wav", head(start_db=-30.0)))),
        clean("a loop", of(*band(), one("Loop.wav", head(), role="loop"))),
        clean("nothing much like it", of(*band(), one("Keys.wav", head(like_inside_db=3.5)))),
        clean("a click that begins at once", of(*band(), one("Click.wav", head()))),
        clean("all begin at once, one is shorter", of(lead("Drums.wav", 0.0), lead("Keys.wav", 0.0),
                                                      lead("Bass.wav", 0.0, 56.0))),
        clean("a riser in the count-in", waiting(lead("FX.wav", 0.0))),
        clean("a riser in the count-in, its tail trimmed", waiting(lead("FX.wav", 0.0, 20.0))),
        clean("trimmed by what is no beat", waiting(lead("Bass.wav", 0.0, 55.85))),
        clean("silence before it as well", waiting(lead("Bass.wav", 0.4, 56.0))),
        clean("no click to tell beats by", of(lead("Drums.wav", 4.0), lead("Keys.wav", 4.0),
                                              lead("Bass.wav", 0.0, 56.0), click=None)),
        at_limit("8 ms less a little", of(*band(), one("Bass.wav", head(missing_ms=7.9)))),
        at_limit("a beginning just as like", of(*band(), one("Bass.wav", head(like_beginning_db=2.49)))),
        at_limit("not quite a beat of silence", of(lead("Drums.wav", 0.49), lead("Keys.wav", 0.49),
                                                   lead("Bass.wav", 0.0, 59.5))),
        past_limit("8 ms", of(*band(), one("Bass.wav", head(missing_ms=8.0))), Expected(stem="Bass.wav")),
        past_limit(
            "just less like", of(*band(), one("Bass.wav", head(like_beginning_db=2.51))),
            Expected(stem="Bass.wav"),
        ),
        past_limit("a beat of silence", of(lead("Drums.wav", 0.51), lead("Keys.wav", 0.51),
                                           lead("Bass.wav", 0.0, 59.5)),
                   Expected(stem="Bass.wav", value=500.0)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_harmony_that_fits_as_it_is_wins():
    """Who fits the others as the files stand was not trimmed, whatever the lengths say."""
    bass = lead("Bass.wav", 0.0, 56.0)
    fits = shifted("Bass.wav", -8.0, at_zero=0.38).alignment
    placed = replace(bass, alignment=fits)
    assert findings("cut-head", waiting(bass))
    assert not findings("cut-head", waiting(placed))


def test_the_silence_it_asks_for_is_what_was_lost():
    (found,) = findings("cut-head", waiting(lead("Bass.wav", 0.002, 56.002)))
    assert found.severity is Severity.WARNING
    assert found.measured["samples"] == round(3.998 * RATE_HZ)


def test_songs_that_run_straight_on_may_begin_in_full_flow():
    """The settings say so: then no first sound is asked about, but trimmed silence still is."""
    straight_on = SongSettings(name="Night Ferry", segue=True)
    for cut, count in ((of(*band(), one("Bass.wav", head())), 0), (waiting(lead("Bass.wav", 0.0, 56.0)), 1)):
        (song,) = cut.songs
        assert len(findings("cut-head", replace(cut, songs=(song,)))) == 1
        assert len(findings("cut-head", replace(cut, songs=(replace(song, settings=straight_on),)))) == count


def hard(file: str, sharper: float = 12.0, at_s: float = 4.0, **more: Any) -> StemEvidence:
    """Starts with a step at 0:04."""
    made = one(file, **more)
    (part,) = made.parts
    start = HardStart(at_s=at_s, step_dbfs=-14.0, sharper=sharper)
    return replace(made, parts=(replace(part, measures=replace(part.measures, hard_start=start)),))


def test_a_first_sound_that_starts_with_a_step():
    (found,) = findings("cut-head", of(*band(), hard("Bass.wav")))
    assert (found.severity.value, found.stem, found.value, found.limit) == ("warning", "Bass.wav", 12.0, 3.0)
    assert found.message == (
        "its first sound, at 0:04.000, starts with a step of −14 dBFS, 12 times as sharp as anything after "
        "it (limit 3): its beginning is cut off, or this one sound begins so"
    )


@pytest.mark.parametrize(
    ("odd", "told"),
    [
        (hard("Bass.wav", at_s=0.051), True),
        (hard("Bass.wav", at_s=0.05), False),  # many a made sound starts with its file
        (hard("Bass.wav", 3.0), True),
        (hard("Bass.wav", 2.99), False),
        (hard("Loop.wav"), False),
        (hard("FX.wav"), False),
    ],
)
def test_how_sharp_and_of_what(odd: StemEvidence, told: bool):
    assert bool(findings("cut-head", of(*band(), odd))) is told


def test_a_stem_is_told_once():
    """By its later sounds where they tell: that says how much is missing."""
    (found,) = findings("cut-head", of(*band(), hard("Bass.wav", first=head())))
    assert "lacks its attack" in found.message


def test_steps_at_the_start_of_half_the_stems_are_a_song_that_runs_on():
    (found,) = findings("cut-head", of(*band()[:2], hard("Bass.wav"), hard("Pad.wav")))
    assert (found.severity, found.stem) == (Severity.NOTE, None)
    assert "2 stems begin inside their first sound" in found.message
    assert "Bass.wav, Pad.wav" in found.message


@pytest.mark.parametrize(
    ("at_s", "offset_ms", "iqr_ms", "told"),
    [
        (10.75, 2.0, 0.4, False),  # on its half beat, as all of its notes
        (10.766, 2.0, 0.4, False),  # within half of the 30 ms that it would lack
        (10.768, 2.0, 0.4, True),
        (10.78, 2.0, 0.4, True),  # 30 ms after its place: that is what was cut
        (10.848, 58.0, 0.4, True),  # 40 ms after its place, in a song whose music lies 58 ms after the click
        (10.808, 58.0, 0.4, False),
        (10.75, 14.0, 6.0, False),  # ahead of the others, which are ducked and so heard late
        (10.75, 2.0, 15.0, False),
        (10.75, 2.0, 15.1, True),  # nobody knows the place of one note of a player
        (0.0, 2.0, 0.4, True),  # begins with its file
        (70.0, 2.0, 0.4, True),  # where no click is
    ],
)
def test_a_first_sound_in_its_place_lacks_nothing(at_s: float, offset_ms: float, iqr_ms: float, told: bool):
    """Where a side chain ducks the notes on the beat, none is heard to begin like the first."""
    phase = Phase(
        offset_ms=offset_ms,
        from_others_ms=0.0,
        iqr_ms=iqr_ms,
        onsets=80,
        share=1.0,
        confidence=1.0,
        against=(),
    )
    bass = one("Bass.wav", head(at_s=at_s))
    bass = replace(bass, alignment=Alignment(phase=phase, drift=None, wrong_rate=None))
    assert [found.stem for found in findings("cut-head", of(*band(), bass))] == (["Bass.wav"] if told else [])


def test_what_lacks_half_a_sixteenth_may_lie_on_either_side_of_its_place():
    """50 ms of a sixteenth of 125: 75 ms late would look 50 ms early."""
    for missing_ms, told in ((50.0, False), (50.1, True)):
        phase = Phase(
            offset_ms=0.0, from_others_ms=0.0, iqr_ms=0.4, onsets=80, share=1.0, confidence=1.0, against=()
        )
        bass = replace(
            one("Bass.wav", head(at_s=10.75, missing_ms=missing_ms)),
            alignment=Alignment(phase=phase, drift=None, wrong_rate=None),
        )
        assert bool(findings("cut-head", of(*band(), bass))) is told
