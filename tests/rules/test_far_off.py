"""Quarter and half beats that chords and strokes tell together: planted, clean and at the bounds."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Finding
from audit.results import BeatPlace, Beats, ClickTrack, MeetingLag
from audit.rules import far_off, harmony_place
from audit.rules.harmony_place import by_both, lies_beside
from audit.rules.shifted import shifted_by_beats
from tests.evidence import findings, show
from tests.evidence import stem as a_stem
from tests.rules.test_alignment import band
from tests.rules.test_half_beats import CLICK

BEAT_MS = 500.0
HERE = "Night Ferry"


def place(at_beats: float, by: dict[str, float]) -> Beats:
    top = BeatPlace(
        at_beats=at_beats, fit=0.3, halves_beats=(at_beats, at_beats), without_one_beats=at_beats,
        by_stem=tuple(by.items()),
    )  # fmt: skip
    return Beats(
        shift_beats=0.0, at_best=0.3, at_best_without_loudest=0.3, at_zero=0.28, half_late=0.2,
        half_early=0.2, gain_by_changes=0.0, gain_by_state=0.0, second_beats=16.0, at_second=0.1, sure=0.0,
        sure_without_loudest=0.0, usual=0.3, backbeat=0.5, on_turns=1.5, saying_so=(), against=(), place=top,
    )  # fmt: skip


def playing(
    name: str, off_beats: dict[str, float] | None = None, *, lags: tuple[tuple[float, float], ...] = (),
    strokes_ms: float = 0.0, on_beat: float | None = 0.0, usual: float = 0.3, click: ClickTrack = CLICK,
    **more: Any,
) -> SongEvidence:  # fmt: skip
    """A song whose bass, keys and guitar lie with one another by their chords, or so many beats off; the
    strokes of those that are off lie at `strokes_ms` and meet others' at `lags` (ms, height) too."""
    off = off_beats or {}
    made = band(name, dict.fromkeys(off, strokes_ms), on_beat=on_beat)
    harmonic = [one.name for one in made.stems if one.role not in (Role.CLICK, Role.DRUMS, Role.PERCUSSION)]
    stems = []
    for stem in made.stems:
        if stem.name in harmonic and stem.alignment is not None and stem.alignment.phase is not None:
            at = off.get(stem.name, 0.0)
            by = {other: at - off.get(other, 0.0) for other in harmonic if other != stem.name}
            beats = replace(place(at, by), usual=usual)
            phase = stem.alignment.phase
            if stem.name in off:
                assert beats.place is not None
                beats = replace(beats, place=replace(beats.place, **more))
                phase = replace(phase, lags=tuple(MeetingLag(lag_ms=ms, height=high) for ms, high in lags))
            stem = replace(stem, alignment=replace(stem.alignment, phase=phase, beats=beats))
        stems.append(stem)
    return replace(made, stems=tuple(stems), click=click)


def a_show(odd: SongEvidence, *, others: int = 4) -> ShowEvidence:
    return show(odd, *(playing(f"Other {number}") for number in range(others)))


def told(odd: SongEvidence, **more: Any) -> list[Finding]:
    return findings("offset-from-click", a_show(odd, **more))


TWO = ((0.0, 0.3), (170.0, 0.3), (230.0, 0.3))
LAGS = ((0.0, 0.3), (250.0, 0.32), (-250.0, 0.28))


@pytest.mark.parametrize("file", ["Bass.wav", "Keys.wav"])
@pytest.mark.parametrize(("beats", "off_ms"), [(0.5, 250.0), (-0.48, -250.0), (0.27, 140.0)])
def test_a_stem_whose_strokes_fit_is_told_by_its_chords(file: str, beats: float, off_ms: float):
    odd = playing(HERE, {file: beats}, lags=((0.0, 0.3), (off_ms, 0.3)))
    (found,) = told(odd)
    assert (found.stem, found.severity.value) == (file, "warning")
    assert found.value == pytest.approx(off_ms)
    assert found.measured["places_ms"] == (off_ms,)
    assert str(abs(round(off_ms * 48.0))) in found.message.replace("\u00a0", "")
    assert ("late" if off_ms > 0.0 else "early") in found.message
    assert ("earlier" if off_ms > 0.0 else "later") in found.advice
    others = {"Bass.wav", "Keys.wav", "Guitar.wav"} - {file}
    assert all(other in found.message for other in others)


def test_of_a_stem_that_is_off_by_its_strokes_the_chords_say_how_far():
    """Strokes 30 ms early look the same 220 ms late."""
    odd = playing(
        HERE, {"Keys.wav": 0.45}, strokes_ms=-30.0, lags=((-30.0, 0.3), (220.0, 0.31), (-280.0, 0.3))
    )
    (found,) = told(odd)
    assert found.value == pytest.approx(220.0)
    assert "by its strokes alone −30 ms would look the same" in found.message
    near = playing(HERE, {"Keys.wav": -0.05}, strokes_ms=-30.0, lags=((-30.0, 0.3), (220.0, 0.31)))
    (found,) = told(near)
    assert found.value == pytest.approx(-30.0)
    assert "look the same" not in found.message


@pytest.mark.parametrize(
    ("why", "odd"),
    [
        ("at home", playing(HERE, {"Bass.wav": 0.03}, lags=LAGS)),
        ("between two places", playing(HERE, {"Bass.wav": 0.25}, lags=LAGS)),
        ("guitars answer", playing(HERE, {"Guitar.wav": 0.5}, lags=LAGS)),
        ("chops", playing(HERE, {"Keys.wav": 0.5}, lags=LAGS, on_beat=-0.8)),
        ("may play off-beats", playing(HERE, {"Bass.wav": 0.5}, lags=LAGS, on_beat=-0.5)),
        ("one half of the song", playing(HERE, {"Bass.wav": 0.5}, lags=LAGS, halves_beats=(0.5, 0.1))),
        ("one other stem says so", playing(HERE, {"Bass.wav": 0.5}, lags=LAGS, without_one_beats=0.14)),
        ("a faint fit", playing(HERE, {"Bass.wav": 0.5}, lags=LAGS, fit=0.09)),
        ("two lags are as likely", playing(HERE, {"Bass.wav": 0.4}, lags=TWO)),
        ("a whole beat is another rule's", playing(HERE, {"Bass.wav": 0.8}, lags=((0.0, 0.3), (400.0, 0.4)))),
    ],
)  # fmt: skip
def test_what_may_be_meant_or_is_not_clear_is_silent(why: str, odd: SongEvidence):
    assert not told(odd), why


def test_as_many_others_that_say_it_lies_as_usual_speak_against_it():
    odd = playing(HERE, {"Keys.wav": 0.5}, lags=LAGS, by_stem=(("Bass.wav", 0.5), ("Guitar.wav", 0.5)))
    assert told(odd)
    odd = playing(
        HERE, {"Keys.wav": 0.5}, lags=LAGS,
        by_stem=(("Bass.wav", 0.5), ("Guitar.wav", 0.5), ("Pad.wav", 0.02)),
    )  # fmt: skip
    pad = replace(next(one for one in odd.stems if one.name == "Guitar.wav"), stem=a_stem("Pad.wav").stem)
    assert not told(replace(odd, stems=(*odd.stems, pad)))


@pytest.mark.parametrize("others", [0, 2, 3])
def test_without_a_habit_a_struck_stem_lies_with_the_band(others: int):
    odd = playing(HERE, {"Keys.wav": 0.5}, lags=LAGS)
    assert [found.stem for found in told(odd, others=others)] == ["Keys.wav"]


def test_a_stem_that_its_chords_put_where_it_should_be_is_not_told():
    """Strokes 130 ms late by the beat; moved back to their lag near none they go with its chords."""
    off = {"Keys.wav": 0.02}
    odd = playing(HERE, off, strokes_ms=130.0, lags=((6.0, 0.3), (130.0, 0.2)))
    assert not told(odd)
    odd = playing(HERE, off, strokes_ms=130.0, lags=((14.0, 0.3), (130.0, 0.2)))
    assert [round(found.value or 0.0) for found in told(odd)] == [14]


def test_one_that_is_late_does_not_make_the_others_early():
    """Against the bass and a pad that goes with it the keys look as far off the other way."""
    odd = playing(HERE, {"Bass.wav": 0.5, "Pad.wav": 0.5}, lags=LAGS)
    stems = []
    for stem in odd.stems:
        if stem.name in ("Bass.wav", "Keys.wav") and stem.alignment is not None:
            early = stem.name == "Keys.wav"
            assert stem.alignment.phase is not None
            phase = replace(stem.alignment.phase, lags=tuple(MeetingLag(lag_ms=a, height=b) for a, b in LAGS))
            beats = (
                place(-0.5, {"Bass.wav": -0.5, "Pad.wav": -0.5, "Guitar.wav": 1.2})
                if early
                else place(0.5, {"Keys.wav": 0.5, "Guitar.wav": 0.5, "Pad.wav": 0.5})
            )
            stem = replace(stem, alignment=replace(stem.alignment, phase=phase, beats=beats))
        stems.append(stem)
    late = replace(odd, stems=tuple(stems))
    assert [found.stem for found in told(late)] == ["Bass.wav"]
    unplaced = tuple(a_stem("Bass.wav") if one.name == "Bass.wav" else one for one in stems)
    assert [found.stem for found in told(replace(odd, stems=unplaced))] == ["Keys.wav"]


def test_an_echo_of_another_of_its_role_is_not_told_unless_other_songs_have_its_name():
    odd = playing(HERE, {"Keys Wide.wav": 0.5}, lags=LAGS)
    usual = [playing(f"Other {number}") for number in range(4)]
    assert not findings("offset-from-click", show(odd, *usual))
    named = [playing(f"Other {number}", {"Keys Wide.wav": 0.0}, lags=((0.0, 0.3),)) for number in range(4)]
    assert [found.stem for found in findings("offset-from-click", show(odd, *named))] == ["Keys Wide.wav"]


@pytest.mark.parametrize(("file", "stems"), [("Keys.wav", []), ("Bass.wav", ["Bass.wav"])])
def test_keys_may_chop_in_one_song_and_a_bass_that_never_does_is_off(file: str, stems: list[str]):
    """Both strike the beats in every other song, and nearly only between them here."""
    odd = playing(HERE, {file: 0.5}, lags=LAGS, on_beat=-0.7)
    usual = [playing(f"Other {number}", {file: 0.0}, on_beat=0.6) for number in range(4)]
    assert [found.stem for found in findings("offset-from-click", show(odd, *usual))] == stems


@pytest.mark.parametrize(
    ("places", "told_too"), [((0.01, -0.01, 0.0, 0.02), True), ((0.2, -0.2, 0.1, -0.15), False)]
)
def test_it_has_to_lie_farther_than_its_role_differs_from_song_to_song(
    places: tuple[float, ...], told_too: bool
):
    odd = playing(HERE, {"Keys.wav": 0.27}, lags=((0.0, 0.3), (140.0, 0.3)))
    usual = [playing(f"Other {n}", {"Keys.wav": at}, lags=((0.0, 0.3),)) for n, at in enumerate(places)]
    assert bool(findings("offset-from-click", show(odd, *usual))) is told_too


def test_who_lies_with_the_band_is_not_told_whatever_its_like_does():
    odd = playing(HERE, {"Keys.wav": 0.0}, lags=((0.0, 0.1), (-140.0, 0.3)))
    late = [playing(f"Other {n}", {"Keys.wav": 0.28}, lags=((0.0, 0.3),)) for n in range(4)]
    assert not findings("offset-from-click", show(odd, *late))


@pytest.mark.parametrize(("bpm", "told_too"), [(190.0, True), (210.0, False)])
def test_in_fast_songs_attacks_are_too_large_a_part_of_the_beat(bpm: float, told_too: bool):
    fast = replace(CLICK, beats_s=tuple(60.0 / bpm * k for k in range(121)), bpm=bpm)
    half_ms = 30_000.0 / bpm
    odd = playing(HERE, {"Keys.wav": 0.5}, lags=((0.0, 0.3), (half_ms, 0.3)), click=fast)
    assert bool(told(odd)) is told_too


@pytest.mark.parametrize(
    ("beats", "more", "told_too"),
    [
        (0.5, {"fit": 0.1, "usual": 0.2}, True), (0.5, {"fit": 0.098, "usual": 0.2}, False),
        (0.5, {"fit": 0.125, "usual": 0.3}, True), (0.5, {"fit": 0.118, "usual": 0.3}, False),
        (0.5, {"usual": 0.11}, True), (0.5, {"usual": 0.09}, False),  # the band hardly goes with itself
        (0.5, {"by_stem": (("Bass.wav", 0.5), ("Guitar.wav", 0.6))}, True),
        (0.5, {"by_stem": (("Bass.wav", 0.5), ("Guitar.wav", 0.7))}, False),
    ],
)  # fmt: skip
def test_the_bounds_of_what_is_clear(beats: float, more: dict[str, Any], told_too: bool):
    assert bool(told(playing(HERE, {"Keys.wav": beats}, lags=LAGS, **more))) is told_too


def test_where_nothing_else_says_that_it_is_off_one_lag_has_to_stand_out():
    """Either is a tenth of a beat from the other: enough to choose by where strokes say that it is off."""
    lags = ((170.0, 0.3), (250.0, 0.3))
    assert not told(playing(HERE, {"Keys.wav": 0.37}, lags=((0.0, 0.3), *lags)))
    (found,) = told(playing(HERE, {"Keys.wav": 0.37}, strokes_ms=-30.0, lags=((-30.0, 0.3), *lags)))
    assert found.value == pytest.approx(170.0)


@pytest.mark.parametrize(("height", "ms"), [(0.3, None), (0.05, 220.0)])
def test_of_two_lags_as_near_the_one_that_meets_more_is_named(height: float, ms: float | None):
    odd = playing(HERE, {"Keys.wav": 0.38}, strokes_ms=-30.0,
                  lags=((-30.0, 0.3), (160.0, height), (220.0, 0.3)))  # fmt: skip
    stem, limit = keys_of(odd), shifted_by_beats.limit
    assert limit is not None
    lies = lies_beside(stem, odd, a_show(odd), limit)
    assert lies is not None
    assert stem.alignment is not None
    assert stem.alignment.phase is not None
    assert by_both(stem.alignment.phase, -30.0, lies) == ms


def keys_of(song: SongEvidence) -> StemEvidence:
    return next(one for one in song.stems if one.name == "Keys.wav")


@pytest.mark.parametrize(("beats", "ms"), [(0.4, 220.0), (0.2, None), (-0.08, -30.0), (-0.6, -280.0)])
def test_of_the_lags_of_the_strokes_the_harmony_names_the_nearest(beats: float, ms: float | None):
    odd = playing(
        HERE, {"Keys.wav": beats}, strokes_ms=-30.0, lags=((-30.0, 0.3), (220.0, 0.3), (-280.0, 0.3))
    )
    stem, limit = keys_of(odd), shifted_by_beats.limit
    assert limit is not None
    lies = lies_beside(stem, odd, a_show(odd), limit)
    assert lies is not None
    assert lies.off_ms == pytest.approx(beats * BEAT_MS)
    assert stem.alignment is not None
    assert stem.alignment.phase is not None
    assert by_both(stem.alignment.phase, -30.0, lies) == (None if ms is None else pytest.approx(ms))


def test_drums_have_no_harmony_to_lie_by():
    odd = playing(HERE)
    drums = next(one for one in odd.stems if one.role is Role.DRUMS)
    limit = shifted_by_beats.limit
    assert limit is not None
    assert lies_beside(drums, odd, a_show(odd), limit) is None


def test_the_bounds_are_in_order():
    assert 0.0 < far_off.LEAST_BEATS < far_off.MOST_BEATS < 1.0
    assert harmony_place.SPREAD < harmony_place.NEXT_TO <= far_off.LEAST_BEATS
