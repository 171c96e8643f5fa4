"""Songs whose music lies beside the click as a whole: each stem is judged from where the others lie."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Finding
from audit.results import MeetingLag, Phase
from audit.rules.places import click_habits, habits
from audit.rules.zero import at_zero, moved_songs, moved_stems
from tests.evidence import findings, show
from tests.rules.test_alignment import BAND, CLICK, against, band

BESIDE_MS = 58.0
"""A tenth of a beat at 104 beats a minute."""


def beside(name: str = "Night Ferry", by_ms: float = BESIDE_MS, **more_ms: float) -> SongEvidence:
    """All stems so far off the click, some of them by so much more."""
    at = {file: by_ms + more_ms.get(file.removesuffix(".wav"), 0.0) for file in BAND}
    return replace(band(name, at), click=CLICK)


def ordinary(count: int = 4) -> list[SongEvidence]:
    return [replace(band(f"Other {number}"), click=CLICK) for number in range(count)]


def said(evidence: ShowEvidence) -> list[Finding]:
    return [one for one in findings("offset-from-click", evidence) if one.severity.value != "note"]


def phases(song: SongEvidence) -> dict[str, Phase]:
    return {
        one.name: one.alignment.phase
        for one in song.stems
        if one.alignment is not None and one.alignment.phase is not None
    }


def changed(song: SongEvidence, file: str, **phase: Any) -> SongEvidence:
    stems = [
        replace(one, alignment=replace(one.alignment, phase=replace(one.alignment.phase, **phase)))
        if one.name == file and one.alignment is not None and one.alignment.phase is not None
        else one
        for one in song.stems
    ]
    return replace(song, stems=tuple(stems))


def without(song: SongEvidence, *files: str) -> SongEvidence:
    left = replace(song, stems=tuple(one for one in song.stems if one.name not in files))
    for file, phase in phases(left).items():
        left = changed(left, file, against=tuple(one for one in phase.against if one.stem not in files))
    return left


# What is said


@pytest.mark.parametrize("by_ms", [BESIDE_MS, -BESIDE_MS])
def test_a_song_beside_its_click_accuses_none_of_its_stems(by_ms: float):
    assert said(show(beside(by_ms=by_ms), *ordinary())) == []


@pytest.mark.parametrize("more_ms", [20.0, -20.0])
@pytest.mark.parametrize("file", ["Drums", "Bass", "Guitar"])
def test_a_stem_of_such_a_song_is_told_by_what_it_is_off_from_the_others(file: str, more_ms: float):
    """Not by what it lies off the click: it would still be off if it were moved so far."""
    (one,) = said(show(beside(**{file: more_ms}), *ordinary()))
    assert one.stem == f"{file}.wav"
    assert one.value == pytest.approx(more_ms, abs=5.0)


@pytest.mark.parametrize("beside_count", [1, 3, 4])
def test_the_songs_that_lie_on_their_click_are_silent_among_such(beside_count: int):
    """Where most songs lie beside theirs, the few that do not are not early."""
    songs = [beside(f"Beside {number}") for number in range(beside_count)]
    assert said(show(*ordinary(5 - beside_count), *songs)) == []


@pytest.mark.parametrize("more_ms", [20.0, -20.0])
def test_a_stem_is_told_where_most_other_songs_lie_beside_their_click(more_ms: float):
    odd = replace(band("Night Ferry", {"Guitar.wav": more_ms}), click=CLICK)
    (one,) = said(show(odd, *(beside(f"Beside {number}") for number in range(4))))
    assert (one.stem, one.songs) == ("Guitar.wav", ("Night Ferry",))


def test_habits_are_learned_from_each_songs_own_zero():
    songs = show(*ordinary(1), *(beside(f"Beside {n}", Bass=6.0) for n in range(3)))
    assert habits(songs, without="Other 0")[Role.BASS].click_ms == pytest.approx(7.0, abs=1.0)
    assert click_habits(songs, without="Other 0")[Role.BASS].click_ms == pytest.approx(BESIDE_MS + 6.0)


def test_drums_are_known_by_songs_on_their_click_where_three_are():
    """In the others their zero is guessed from sounds that speak later."""
    songs = show(*ordinary(3), *(beside(f"Beside {n}", Bass=9.0, Guitar=9.0, Keys=9.0) for n in range(4)))
    assert habits(songs, without="Beside 0")[Role.DRUMS].click_ms == 0.0
    fewer = show(*ordinary(2), *(beside(f"Beside {n}", Bass=9.0, Guitar=9.0, Keys=9.0) for n in range(4)))
    assert habits(fewer, without="Beside 0")[Role.DRUMS].click_ms == pytest.approx(-4.0)


# Where the zero lies


@pytest.mark.parametrize(("by_ms", "moved"), [(20.9, False), (21.1, True), (-18.9, False), (-19.1, True)])
def test_from_where_a_band_has_a_zero_of_its_own(by_ms: float, moved: bool):
    """Its drums usually speak 1 ms after it."""
    assert not moved or moved_songs(show(beside(by_ms=by_ms))) == {"Night Ferry"}
    assert (phases(at_zero(beside(by_ms=by_ms)))["Bass.wav"].offset_ms == pytest.approx(1.0)) is moved


def test_the_lags_of_its_strokes_are_read_from_there_too():
    odd = beside()
    lags = (MeetingLag(lag_ms=BESIDE_MS + 250.0, height=0.3),)
    stems = tuple(
        replace(one, alignment=replace(one.alignment, phase=replace(one.alignment.phase, lags=lags)))
        if one.alignment is not None and one.alignment.phase is not None
        else one
        for one in odd.stems
    )
    read = phases(at_zero(replace(odd, stems=stems)))["Bass.wav"]
    assert read.lags[0].lag_ms == pytest.approx(251.0)


def test_a_stem_does_not_move_its_own_zero():
    read = phases(at_zero(beside(Guitar=40.0)))
    assert read["Guitar.wav"].offset_ms == pytest.approx(41.0)
    assert read["Bass.wav"].offset_ms == pytest.approx(1.0)


@pytest.mark.parametrize(("more_ms", "moved"), [(17.9, True), (18.1, False)])
def test_the_others_have_to_lie_near_the_drums(more_ms: float, moved: bool):
    """Two of three at least; of the bass's others one lies near in any case. Sounds speak 5 ms late, drums
    1."""
    odd = beside(Guitar=more_ms + 4.0, Keys=more_ms + 4.0)
    assert (phases(at_zero(odd))["Bass.wav"].offset_ms < BESIDE_MS) is moved


@pytest.mark.parametrize(("more_ms", "moved"), [(15.9, True), (16.1, False)])
def test_without_drums_they_have_to_lie_nearer_to_each_other(more_ms: float, moved: bool):
    """Drums, asked from two others: the middle is half-way between them."""
    odd = without(beside(Guitar=more_ms, Drums=30.0), "Keys.wav")
    assert (phases(at_zero(odd))["Drums.wav"].offset_ms < BESIDE_MS + 30.0) is moved
    assert bool(moved_stems(odd) & {"Drums.wav"}) is moved


@pytest.mark.parametrize(("off_ms", "moved"), [(10.9, False), (11.1, True)])
def test_drums_on_the_click_stay_there(off_ms: float, moved: bool):
    odd = without(beside(Drums=off_ms - BESIDE_MS), "Keys.wav")
    assert (phases(at_zero(odd))["Drums.wav"] != phases(odd)["Drums.wav"]) is moved


def test_drums_on_the_click_hold_the_others_there():
    odd = without(beside(Drums=-BESIDE_MS), "Keys.wav")
    assert phases(at_zero(odd)) == phases(odd)


def test_three_quick_sounds_that_agree_say_that_drums_on_the_click_are_early():
    (one,) = said(show(beside(Drums=-BESIDE_MS), *ordinary()))
    assert (one.stem, one.value) == ("Drums.wav", pytest.approx(-BESIDE_MS, abs=6.0))


def test_one_other_says_it_only_of_who_agrees():
    two = without(beside(), "Guitar.wav", "Keys.wav")
    assert phases(at_zero(two))["Bass.wav"].offset_ms == pytest.approx(1.0)
    assert "Drums.wav" in moved_stems(two)
    odd = without(beside(Bass=30.0), "Guitar.wav", "Keys.wav")
    assert phases(at_zero(odd)) == phases(odd)


@pytest.mark.parametrize(
    ("files", "iqr_ms", "asked"),
    [
        (("Lead.wav", "Strings.wav"), 5.0, True),
        (("Lead.wav", "Strings.wav"), 5.1, False),
        (("Pad.wav", "Strings.wav"), 5.0, False),  # all of them may speak late
        (("Pad.wav", "Bass.wav"), 5.0, True),
    ],
)
def test_what_swells_is_asked_where_it_is_as_tight_as_what_is_struck(
    files: tuple[str, ...], iqr_ms: float, asked: bool
):
    at = {"Drums.wav": BESIDE_MS + 30.0, **dict.fromkeys(files, BESIDE_MS)}
    odd = replace(band("Night Ferry", at), click=CLICK)
    odd = without(odd, *{"Bass.wav", "Guitar.wav", "Keys.wav"} - set(files))
    for file in files:
        odd = changed(odd, file, iqr_ms=iqr_ms)
    assert (phases(at_zero(odd))["Drums.wav"].offset_ms < 60.0) is asked


def test_a_song_without_a_tempo_is_left_as_it_is():
    odd = replace(beside(), click=replace(CLICK, bpm=None))
    assert at_zero(odd) == odd


# Parts of the beat


@pytest.mark.parametrize(("off_ms", "read_ms"), [(-105.0, 62.0), (-40.0, -40.0), (60.0, 60.0)])
def test_in_swing_the_way_to_the_drums_says_which_stroke_it_is(off_ms: float, read_ms: float):
    """The bass lies 3 ms after the drums, and a third of the beat, 167 ms, before that by the click: its
    strokes are taken for those of the last third. Half-way between, or where it says itself, it stays."""
    odd = changed(beside(), "Bass.wav", offset_ms=off_ms, against=against(Drums=4.0))
    odd = changed(odd, "Drums.wav", against=against(Bass=-4.0, Guitar=0.0, Keys=0.0))
    zero_ms = BESIDE_MS - 1.0
    assert phases(at_zero(odd))["Bass.wav"].offset_ms == pytest.approx(read_ms - zero_ms)


@pytest.mark.parametrize(("off_ms", "read_ms"), [(-63.0, 62.0), (-20.0, -20.0)])
def test_who_shares_no_strokes_with_the_drums_is_read_by_quarters(off_ms: float, read_ms: float):
    odd = changed(beside(), "Bass.wav", offset_ms=off_ms, against=())
    odd = changed(odd, "Drums.wav", against=against(Guitar=0.0, Keys=0.0))
    zero_ms = BESIDE_MS - 1.0
    assert phases(at_zero(odd))["Bass.wav"].offset_ms == pytest.approx(read_ms - zero_ms)


@pytest.mark.parametrize(("more_ms", "is_read"), [(19.0, False), (21.0, True), (-19.0, False), (-21.0, True)])
def test_in_a_quick_song_a_stem_a_few_milliseconds_from_its_way_is_late(more_ms: float, is_read: bool):
    """At 220 beats a minute an eighth of the beat, 34 ms, is not much more than what a bass may be off by."""
    odd = changed(beside(), "Bass.wav", offset_ms=62.0 - more_ms, against=against(Drums=4.0))
    odd = changed(odd, "Drums.wav", against=against(Bass=-4.0, Guitar=0.0, Keys=0.0))
    odd = replace(odd, click=replace(CLICK, bpm=220.0))
    read_ms = 62.0 - (0.0 if is_read else more_ms)
    assert phases(at_zero(odd))["Bass.wav"].offset_ms == pytest.approx(read_ms - (BESIDE_MS - 1.0))


@pytest.mark.parametrize(("by_ms", "is_read"), [(24.0, False), (26.0, True)])
def test_by_quarters_is_read_only_where_the_others_lie_well_off_the_click(by_ms: float, is_read: bool):
    """A quarter of the beat early; sounds speak 5 ms after their zero."""
    odd = changed(beside(by_ms=by_ms), "Bass.wav", offset_ms=by_ms - 125.0, against=())
    odd = changed(odd, "Drums.wav", against=against(Guitar=0.0, Keys=0.0))
    read_ms = by_ms - (0.0 if is_read else 125.0)
    assert phases(at_zero(odd))["Bass.wav"].offset_ms == pytest.approx(read_ms - (by_ms - 1.0))


def test_the_way_is_known_from_both_ends():
    """The bass takes the drums' next stroke for its own; they take its own for theirs."""
    odd = changed(beside(), "Bass.wav", against=against(Drums=4.0 + 500.0 / 3.0))
    odd = changed(odd, "Drums.wav", against=against(Bass=-4.0, Guitar=0.0, Keys=0.0))
    assert phases(at_zero(odd))["Bass.wav"].offset_ms == pytest.approx(1.0)


# By way of one stem


@pytest.mark.parametrize(("back_ms", "told"), [(-30.0, True), (-10.1, True), (-9.9, False), (3.0, False)])
def test_who_says_something_else_of_the_way_is_no_witness(back_ms: float, told: bool):
    """Where both ends differ by more than 20 ms the nearer place counts."""
    odd = replace(band("Night Ferry", {"Bass.wav": 30.0}), click=CLICK)
    for other in ("Drums.wav", "Guitar.wav", "Keys.wav"):
        odd = changed(odd, other, against=against(Bass=back_ms))
    assert bool(said(show(odd, *ordinary()))) is told


def by_way(bass_ms: float, *, keys_ms: float = 0.0, file: str = "Bass.wav", **phase: Any) -> ShowEvidence:
    """A stem that shares strokes with the drums alone, and these with the guitar and the keys."""
    odd = replace(band("Night Ferry", {file: bass_ms}), click=CLICK)
    odd = changed(odd, file, against=against(Drums=bass_ms), **phase)
    odd = changed(odd, "Guitar.wav", against=against(Drums=0.0))
    odd = changed(odd, "Keys.wav", against=against(Drums=keys_ms))
    other = against(Bass=-bass_ms, Guitar=0.0, Keys=-keys_ms)
    odd = changed(odd, "Drums.wav", against=other)
    return show(odd, *(band(f"Other {number}", {file: 0.0}) for number in range(3)))


@pytest.mark.parametrize(("bass_ms", "severity"), [(16.1, "warning"), (24.1, "error"), (-35.0, "error")])
def test_who_shares_strokes_with_one_is_told_by_those_that_agree_with_it(bass_ms: float, severity: str):
    (one,) = said(by_way(bass_ms))
    assert (one.stem, one.severity.value, one.value) == ("Bass.wav", severity, pytest.approx(bass_ms))
    assert "3 other stems agree" in one.message


def test_under_its_bound_it_is_not():
    assert said(by_way(15.9)) == []


def test_an_other_that_does_not_lie_as_usual_to_the_one_between_is_no_witness():
    """The keys lie off the drums themselves; the guitar and the drums are left."""
    (one,) = said(by_way(30.0, keys_ms=-11.0))
    assert "2 other stems agree" in one.message


@pytest.mark.parametrize(
    ("iqr_ms", "off_ms", "told"), [(6.0, 18.0, True), (6.1, 18.0, False), (14.0, 27.0, False)]
)
def test_notes_that_spread_ask_for_more_by_way_of_one(iqr_ms: float, off_ms: float, told: bool):
    assert bool(said(by_way(off_ms, iqr_ms=iqr_ms))) is told


@pytest.mark.parametrize(
    ("off_ms", "iqr_ms", "told"), [(62.5, 10.0, False), (70.0, 10.0, True), (62.5, 3.0, True)]
)
def test_an_echo_of_an_eighth_of_the_beat_is_not_told(off_ms: float, iqr_ms: float, told: bool):
    """62.5 ms at 120 beats a minute: a part doubled that much later is meant."""
    assert bool(said(by_way(off_ms, iqr_ms=iqr_ms))) is told


@pytest.mark.parametrize(
    ("part", "iqr_ms", "near_ms"),
    [
        (8, 10.0, 4.0),  # few figures are written in eighths of a beat: it has to be an echo, which is exact
        (6, 10.0, 12.0),
        (4, 10.0, 12.0),
        (3, 10.0, 12.0),
        (6, 3.0, 4.0),  # notes that lie close together tell a figure as closely
        (4, 3.0, 4.0),
        (3, 3.0, 4.0),
    ],
)
def test_how_near_to_a_part_of_the_beat_it_may_be_meant(part: int, iqr_ms: float, near_ms: float):
    """120 beats a minute, by way of one stem."""
    for beside_ms, told in ((near_ms - 0.4, False), (near_ms + 0.4, True)):
        assert bool(said(by_way(500.0 / part + beside_ms, iqr_ms=iqr_ms))) is told


@pytest.mark.parametrize(("more_ms", "told"), [(9.2, False), (9.6, True)])
def test_drums_known_from_an_unsure_zero_are_not_told_by_a_few_milliseconds(more_ms: float, told: bool):
    """They share no strokes: 14.4 ms by the click alone, of which 5 are what the others speak after it."""
    odd = without(beside(Drums=more_ms), "Keys.wav")
    for file, phase in phases(odd).items():
        others = tuple(one for one in phase.against if one.stem != "Drums.wav" and file != "Drums.wav")
        odd = changed(odd, file, against=others)
    rest = [without(one, "Bass.wav", "Guitar.wav", "Keys.wav") for one in ordinary()]
    found = [one for one in said(show(odd, *rest)) if one.stem == "Drums.wav"]
    assert bool(found) is told


@pytest.mark.parametrize(("perc_ms", "moved"), [(0.0, False), (10.0, False), (11.0, True), (33.0, True)])
def test_sounds_that_speak_late_move_no_zero_that_percussion_holds(perc_ms: float, moved: bool):
    """A late bass, a whistle and a voice; the guitar lies between them and the click."""
    at = {
        "Guitar.wav": 19.0,
        "Bass.wav": 37.0,
        "Whistle.wav": 34.0,
        "Lead Vox.wav": 36.0,
        "Perc.wav": perc_ms,
    }
    whole = replace(band("Night Ferry", at), click=CLICK)
    kept = tuple(one for one in whole.stems if one.name in {"Click.wav", *at})
    assert ("Guitar.wav" in moved_stems(replace(whole, stems=kept))) is moved


# What is said of the song


def of_songs(evidence: ShowEvidence) -> dict[str, tuple[str, str]]:
    found = [one for one in findings("offset-from-click", evidence) if one.stem is None]
    return {one.songs[0]: (one.severity.value, one.message) for one in found}


def test_one_song_beside_its_click_is_a_warning():
    told = of_songs(show(beside(), *ordinary(5)))
    assert {name: severity for name, (severity, _) in told.items()} == {"Night Ferry": "warning"}


@pytest.mark.parametrize(
    ("by_ms", "bpm", "severity"),
    [
        (58.0, 75.0, "warning"),  # a machine is late by equal times
        (67.0, 120.0, "note"),
        (75.0, 120.0, "warning"),
        (92.0, 75.0, "note"),  # a tenth of its beat too
        (92.0, 120.0, "warning"),
        (-58.0, 120.0, "warning"),
    ],
)
def test_two_songs_that_lie_off_alike_are_notes(by_ms: float, bpm: float, severity: str):
    """Music that was cut out of something longer lies so; a late click is one song's."""
    other = beside("Harbour Song", by_ms)
    told = of_songs(show(beside(), replace(other, click=replace(CLICK, bpm=bpm)), *ordinary(6)))
    assert told["Night Ferry"][0] == severity
    assert ("; Harbour Song lies so too: the click is off" in told["Night Ferry"][1]) is (severity == "note")


@pytest.mark.parametrize(
    ("by_ms", "guitar_ms", "told"),
    [(BESIDE_MS, 15.5, False), (BESIDE_MS, 16.0, True), (0.0, 13.5, False), (0.0, 14.5, True)],
)
def test_a_zero_of_its_own_asks_for_more_of_a_guitar(by_ms: float, guitar_ms: float, told: bool):
    """16.8 ms, where the drums say that 1 ms of it is theirs; 14 ms where it is the click."""
    found = said(show(beside(by_ms=by_ms, Guitar=guitar_ms), *ordinary()))
    assert bool([one for one in found if one.stem == "Guitar.wav"]) is told


def test_what_a_tempo_does_not_tell_is_no_part_of_the_beat():
    odd = replace(beside(by_ms=100.0), click=replace(CLICK, bpm=None))
    slow = replace(beside("Harbour Song", 27.0), click=replace(CLICK, bpm=60.0))
    assert of_songs(show(odd, slow, *ordinary(6)))["Night Ferry"][0] == "warning"


# True faults that stay told, and stems that stand


@pytest.mark.parametrize("off_ms", [120.0, 150.0, 167.0, -120.0])
def test_a_stem_far_off_that_shares_no_strokes_with_the_drums(off_ms: float):
    """Bass and guitar say it; a part of the beat is read only where the music lies beside its click."""
    odd = replace(band("Night Ferry", {"Keys.wav": off_ms}), click=CLICK)
    odd = changed(odd, "Keys.wav", against=against(Bass=off_ms, Guitar=off_ms))
    odd = changed(odd, "Drums.wav", against=against(Bass=0.0, Guitar=0.0))
    assert [one.stem for one in said(show(odd, *ordinary()))] == ["Keys.wav"]


@pytest.mark.parametrize("drums_ms", [12.0, 16.0, 20.0])
def test_drums_that_lie_as_ever_are_not_early_beside_slow_sounds(drums_ms: float):
    files = {"Drums.wav": drums_ms, "Piano.wav": 45.0, "Pad.wav": 45.0, "Strings.wav": 45.0}
    odd = without(replace(band("Night Ferry", files), click=CLICK), "Bass.wav", "Guitar.wav", "Keys.wav")
    others = [replace(band(f"Other {n}", {"Drums.wav": drums_ms}), click=CLICK) for n in range(4)]
    assert [one for one in said(show(odd, *others)) if one.stem == "Drums.wav"] == []


def test_guitar_and_keys_as_ever_are_not_early_where_drums_and_bass_are_late():
    odd = beside(by_ms=0.0, Drums=25.0, Bass=25.0)
    assert {one.stem for one in said(show(odd, *ordinary()))} <= {"Drums.wav", "Bass.wav"}


def test_late_shakers_make_nobody_early():
    """Percussion is another instrument in every song: no zero is known by it alone."""
    files = {"Perc 1.wav": 25.0, "Perc 2.wav": 25.0}
    odd = without(replace(band("Night Ferry", files), click=CLICK), "Drums.wav", "Keys.wav")
    assert phases(at_zero(odd))["Guitar.wav"] == phases(odd)["Guitar.wav"]
    assert {one.stem for one in said(show(odd, *ordinary()))} <= set(files)


def test_what_is_unsure_does_not_outvote_the_drums():
    odd = beside(by_ms=0.0, Bass=40.0, Keys=40.0)
    for file in ("Bass.wav", "Keys.wav"):
        odd = changed(odd, file, confidence=0.35)
    assert [one for one in said(show(odd, *ordinary())) if one.stem == "Drums.wav"] == []


def test_a_note_does_not_hide_an_error():
    """Keys late as in another song are a note; the bass is early by the click."""
    odd = replace(band("Night Ferry", {"Keys.wav": 20.0, "Bass.wav": -50.0}), click=CLICK)
    odd = changed(odd, "Bass.wav", against=())
    like = [replace(band("Other K", {"Keys.wav": 19.0}), click=CLICK)]
    assert "Bass.wav" in {one.stem for one in said(show(odd, *like, *ordinary(5)))}


# Who says so by strokes


@pytest.mark.parametrize(
    ("lags_ms", "told"),
    [
        ((20.0, 13.0, 10.0, 7.0), True),  # 11.5 in the middle
        ((20.0, 13.0, 8.5, 7.0), False),  # 10.75, less than 60 % of 18
        ((20.0, 13.0, 10.0, 5.0), True),
        ((20.0, 12.0, 5.0, 5.0), False),
        ((20.0, 14.0, 8.0, 6.0), True),  # each of them by 5.4, 30 % of 18
        ((36.0, 20.0, 5.0, 5.0), False),
    ],
)
def test_most_others_have_to_lie_that_way_and_their_middle_as_far(lags_ms: tuple[float, ...], told: bool):
    odd = replace(band("Night Ferry", {"Drums.wav": 18.0, "Piano.wav": 0.0}), click=CLICK)
    named = dict(zip(("Bass", "Guitar", "Keys", "Piano"), lags_ms, strict=True))
    odd = changed(odd, "Drums.wav", against=against(**named), offset_ms=18.0)
    others = (band(f"Other {number}", {"Piano.wav": 0.0}) for number in range(4))
    found = [one for one in said(show(odd, *others)) if one.stem == "Drums.wav" and "agree" in one.message]
    assert bool(found) is told


def test_slow_sounds_are_not_asked_of_drums():
    """Pads, strings and a choir that speak late have the drums early, however late these are."""
    slow = ("Pad", "Strings", "Choir")
    moved = {"Drums.wav": 18.0, **{f"{name}.wav": 0.0 for name in slow}}
    odd = replace(band("Night Ferry", moved), click=CLICK)
    lags = {"Bass": 20.0, "Guitar": 14.0, "Keys": 18.0, **dict.fromkeys(slow, -4.0)}
    odd = changed(odd, "Drums.wav", against=against(**lags))
    others = (band(f"Other {number}", {f"{name}.wav": 0.0 for name in slow}) for number in range(4))
    (one,) = said(show(odd, *others))
    assert one.stem == "Drums.wav"
    assert "3 other stems agree" in one.message


@pytest.mark.parametrize(("iqr_ms", "severity"), [(14.9, "error"), (15.1, "warning")])
def test_who_lies_back_by_twice_what_his_notes_differ_by_may_mean_to(iqr_ms: float, severity: str):
    odd = replace(band("Night Ferry", {"Keys.wav": 30.0}, iqr_ms=iqr_ms), click=CLICK)
    (one,) = said(show(odd, *ordinary()))
    assert (one.stem, one.severity.value) == ("Keys.wav", severity)
