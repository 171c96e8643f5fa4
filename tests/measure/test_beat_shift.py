"""Whole beats and bars by harmony: planted shifts and changes are read, songs that come round are not."""

from __future__ import annotations

from array import array
from dataclasses import replace

import numpy as np
import pytest

from audit.measure.beat_company import Company, bar_sums, sureness
from audit.measure.beat_pairs import (
    CHANGES_WEIGHT,
    STATE_WEIGHT,
    TURNS_WEIGHT,
    compare,
    fit_by_slot,
    lateness,
)
from audit.measure.beat_shift import Strokes, _top
from audit.measure.beat_slots import EXTRA_BEATS, BeatSlots, Motion
from audit.measure.harmony import Laid, lay_by_harmony
from audit.results import Beats, Chroma, Rearranged
from audit.rules.shifted import shifted_by_beats
from audit.rules.shifted_evidence import is_shifted
from tests.measure.feeding import measure_chroma

HOP_S = 0.1
BEAT_S = 0.5
BARS = 32
BEATS_S = 2.0 + BEAT_S * np.arange(4 * BARS + 1)
RUNS = [(0, len(BEATS_S))]
NAMES = ("Bass.wav", "Guitar.wav", "Keys.wav", "Pad.wav", "Strings.wav")
ROOTS = np.array([9, 5, 0, 7, 2, 4])

Song = list[np.ndarray]
"""For each stem the pitch classes that sound in each quarter beat, shape (quarter beats, 12)."""


def harmony(seed: int = 3, *, bars: int = BARS, loop: int | None = None) -> list[int]:
    """A root a bar; `loop`: so many bars come round."""
    random = np.random.default_rng(seed)
    roots = [int(ROOTS[random.integers(6)])]
    while len(roots) < (loop or bars):
        roots.append(int(random.choice([root for root in ROOTS if root != roots[-1]])))
    return [roots[bar % len(roots)] for bar in range(bars)]


def chord(root: int) -> list[int]:
    return [(root + step) % 12 for step in ((0, 3, 7) if root in (9, 2, 4) else (0, 4, 7))]


def parts(roots: list[int], seed: int = 5) -> Song:
    """A bass, a strummed guitar, keys by the half bar, a pad, strings with passing notes."""
    random = np.random.default_rng(seed)
    song = [np.zeros((16 * len(roots), 12)) for _ in NAMES]
    for bar, root in enumerate(roots):
        at, tones = 16 * bar, chord(root)
        for beat in range(4):
            song[0][at + 4 * beat : at + 4 * beat + 3, root if beat % 2 == 0 else tones[2]] = 1.0
            song[1][at + 4 * beat : at + 4 * beat + 4, tones] = 0.8
            if beat % 2 == 0:
                song[2][at + 4 * beat : at + 4 * beat + 6, tones] = 0.9
        song[3][at : at + 16, tones] = 1.0
        song[4][at : at + 8, tones[int(random.integers(3))]] = 1.0
        song[4][at + 8 : at + 16, (tones[0] + int(random.integers(12))) % 12] = 0.7
    return song


def chroma(
    part: np.ndarray, *, late_beats: float = 0.0, begins_s: float = 2.0, beat_s: float = BEAT_S,
    level: int = 200, tonal: float = 0.95,
) -> Chroma:  # fmt: skip
    """As the meter would tell it: a level of 200 is −20 dBFS."""
    hops = round((begins_s + len(part) * beat_s / 4.0 + 4.0) / HOP_S)
    quarter = np.floor((np.arange(hops) * HOP_S - begins_s - late_beats * beat_s) / (beat_s / 4.0)).astype(
        int
    )
    inside = (quarter >= 0) & (quarter < len(part))
    classes = np.where(inside[:, None], part[np.clip(quarter, 0, len(part) - 1)], 0.0)
    sounds = classes.any(axis=1)
    return Chroma(
        hop_s=HOP_S, classes=array("B", np.rint(255 * classes).astype(np.uint8).tobytes()),
        levels=array("B", np.where(sounds, level, 0).astype(np.uint8).tobytes()), tonal=tonal,
        tuning_cents=0.0, tuning_agreed=1.0,
    )  # fmt: skip


def laid(
    song: Song, *, late: dict[int, float] | None = None, beats_s: np.ndarray = BEATS_S
) -> tuple[Laid, ...]:
    found = [chroma(part, late_beats=(late or {}).get(number, 0.0)) for number, part in enumerate(song)]
    return lay_by_harmony(beats_s, [(0, len(beats_s))], found, NAMES[: len(song)], 4)


def beats_of(one: Laid) -> Beats:
    assert one.beats is not None
    return one.beats


def change_of(one: Laid) -> Rearranged:
    assert one.rearranged is not None
    return one.rearranged


def says_shifted(beats: Beats) -> bool:
    """Whether it is enough for the rule."""
    assert shifted_by_beats.limit is not None
    return is_shifted(beats, shifted_by_beats.limit)


@pytest.mark.parametrize("seed", [3, 4, 6])
def test_stems_in_place_fit_best_as_they_are(seed: int):
    for one in laid(parts(harmony(seed))):
        assert not says_shifted(beats_of(one))
        assert beats_of(one).at_zero > 0.1


@pytest.mark.parametrize("late", [-8.0, -4.0, -1.0, 1.0, 2.0, 4.0, 12.0])
@pytest.mark.parametrize("number", [1, 3])
def test_a_shifted_stem_is_found_and_no_other(number: int, late: float):
    found = laid(parts(harmony()), late={number: late})
    beats = beats_of(found[number])
    assert beats.shift_beats == late
    assert says_shifted(beats)
    assert len(beats.saying_so) >= 2
    assert not beats.against
    for other, one in enumerate(found):
        assert other == number or not (says_shifted(beats_of(one)) and not beats_of(one).against)


@pytest.mark.parametrize("late", [-8.0, -4.0, 1.0, 2.0, 4.0])
def test_a_bass_of_roots_and_fifths_is_enough(late: float):
    beats = beats_of(laid(parts(harmony()), late={0: late})[0])
    assert beats.shift_beats == late
    assert says_shifted(beats)


@pytest.mark.parametrize("late", [-4.0, 4.0])
@pytest.mark.parametrize("number", [0, 1, 3])
def test_one_bar_is_looked_at_for_itself(number: int, late: float):
    found = laid(parts(harmony()), late={number: late})
    bar = beats_of(found[number]).a_bar
    assert bar is not None
    assert bar.shift_beats == late
    assert bar.fit == pytest.approx(beats_of(found[number]).at_best)  # here it is the best lag of all, too
    assert (bar.sure, bar.without_loudest) == (
        beats_of(found[number]).sure, beats_of(found[number]).at_best_without_loudest,
    )  # fmt: skip
    assert bar.loudest > bar.fit > bar.without_loudest > 0.0
    for other, one in enumerate(found):
        beside = beats_of(one).a_bar
        assert other == number or (beside is not None and beside.fit < beats_of(one).at_zero)


def test_one_bar_is_told_of_a_stem_that_plays_little():
    """Four bars of the song."""
    song = parts(harmony())
    seldom = song[1].copy()
    seldom[16 * 4 :] = 0.0
    late = laid([*song[:1], seldom, *song[2:4]], late={1: 4.0})[1]
    bar = beats_of(late).a_bar
    assert bar is not None
    assert bar.shift_beats == 4.0
    assert bar.fit > beats_of(late).at_zero + 0.04
    assert len(bar.saying_so) >= 2


def test_two_camps_name_each_other():
    """Guitar and pad a bar after keys and strings: each is late or early by the other camp's word."""
    song = parts(harmony())
    found = laid([song[1], song[3], song[2], song[3]], late={0: 4.0, 1: 4.0})
    names, beats = NAMES[:4], [beats_of(one) for one in found]
    assert [one.shift_beats for one in beats] == [4.0, 4.0, -4.0, -4.0]
    assert all(set(one.saying_so) == set(names[2:]) for one in beats[:2])
    assert all(set(one.saying_so) == set(names[:2]) for one in beats[2:])
    assert all(len(one.against) == 1 and not says_shifted(one) for one in beats)


def test_a_loop_hides_its_own_length():
    """Four chords all through: a stem four bars late fits as if it were in place."""
    looped = parts(harmony(loop=4))
    assert not says_shifted(beats_of(laid(looped, late={1: 16.0})[1]))
    one_bar = beats_of(laid(looped, late={1: 4.0})[1])
    assert one_bar.shift_beats == 4.0
    assert one_bar.at_second > 0.85 * one_bar.at_best
    assert one_bar.second_beats % 16 == 4


def test_one_chord_tells_nothing():
    found = laid(parts([9] * BARS), late={1: 4.0})
    assert not says_shifted(beats_of(found[1]))


def test_chords_off_the_beat_are_not_late():
    """Keys on every second eighth: what they begin lies as near to the next chord's beat as to their own."""
    song = parts(harmony())
    song[2][:] = 0.0
    for bar, root in enumerate(harmony()):
        for beat in range(4):
            at = 16 * bar + 4 * beat + 2
            song[2][at : at + 2, chord(root)] = 0.9
    found = laid(song)
    assert not any(says_shifted(beats_of(one)) for one in found)
    assert beats_of(laid(song, late={2: 8.0})[2]).shift_beats == pytest.approx(8.0, abs=1.0)


def test_a_canon_follows_one_stem_only():
    """Over one chord the strings play the keys' tune two beats later: nobody but the keys says so."""
    roots = [9] * BARS
    song = parts(roots)
    random = np.random.default_rng(9)
    song[2][:] = 0.0
    for beat in range(4 * BARS):
        song[2][4 * beat : 4 * beat + 3, [9, 0, 2, 4, 7][int(random.integers(5))]] = 1.0
    song[4] = np.roll(song[2], 8, axis=0)
    beats = beats_of(laid(song)[4])
    assert beats.shift_beats == 2.0
    assert beats.at_best_without_loudest < 0.5 * beats.at_best
    assert beats.sure_without_loudest < 0.5 * beats.sure
    assert not says_shifted(beats)


def test_drums_silence_and_too_few_stems_are_not_told():
    song = parts(harmony())
    drums = chroma(song[0], tonal=0.3)
    silent = chroma(np.zeros_like(song[0]))
    whole = [chroma(part) for part in song[:3]]
    found = lay_by_harmony(BEATS_S, RUNS, [*whole, drums, silent, None], [*NAMES, "Mix.wav"], 4)
    assert [one.beats is not None for one in found] == [True, True, True, False, False, False]
    assert [one.beats for one in lay_by_harmony(BEATS_S, RUNS, whole[:2], NAMES[:2], 4)] == [None, None]
    assert [one.beats for one in lay_by_harmony(BEATS_S[:8], [(0, 8)], whole, NAMES[:3], 4)] == [None] * 3


def test_the_level_does_not_matter():
    song = parts(harmony())
    loud = [chroma(part, late_beats=4.0 * (number == 1)) for number, part in enumerate(song)]
    quiet = [replace(one, levels=array("B", [max(0, level - 60) for level in one.levels])) for one in loud]
    one, other = (beats_of(lay_by_harmony(BEATS_S, RUNS, found, NAMES, 4)[1]) for found in (loud, quiet))
    assert one.shift_beats == other.shift_beats
    assert one.at_best == pytest.approx(other.at_best, abs=1e-6)


def test_silence_before_the_song_moves_nothing():
    song = parts(harmony())
    late = {1: -3.0}
    moved = [
        chroma(part, begins_s=12.0, late_beats=late.get(number, 0.0)) for number, part in enumerate(song)
    ]
    here = beats_of(laid(song, late=late)[1])
    there = beats_of(lay_by_harmony(BEATS_S + 10.0, RUNS, moved, NAMES, 4)[1])
    assert here.shift_beats == there.shift_beats == -3.0
    assert here.at_best == pytest.approx(there.at_best, abs=0.01)


@pytest.mark.parametrize("bars", [-2, -1, 1, 2])
@pytest.mark.parametrize("at_bar", [8, 15, 22])
def test_a_change_of_arrangement_is_placed(bars: int, at_bar: int):
    """The stem repeats bars before the place, or lacks them after it."""
    song = parts(harmony())
    at = 16 * at_bar
    pieces = [song[1][:at], song[1][at - 16 * bars : at], song[1][at:]] if bars > 0 else [
        song[1][:at], song[1][at - 16 * bars :],
    ]  # fmt: skip
    song[1] = np.concatenate(pieces)
    change = change_of(laid(song)[1])
    assert change.shift_beats == 4.0 * bars
    assert change.at_s == pytest.approx(2.0 + 2.0 * at_bar, abs=2.1)
    assert min(change.sure_before, change.sure_after, change.sure_without_loudest) > 2.0
    assert change.at_best > change.at_zero + 0.05
    assert change.while_playing > 0.8
    assert len(change.saying_so) >= 2


def test_a_bass_that_rests_after_the_others_gains_by_its_rests_alone():
    """Over a loop: eight bars off its rest lies on theirs, and its end on their end."""
    song = parts(harmony(bars=56, loop=4))
    for part in song[1:]:
        part[: 16 * 8] = part[16 * 20 : 16 * 28] = part[16 * 48 :] = 0.0
    song[0][: 16 * 8] = song[0][16 * 28 : 16 * 36] = 0.0
    beats_s = 2.0 + BEAT_S * np.arange(4 * 56)
    change = change_of(laid(song, beats_s=beats_s)[0])
    assert change.shift_beats == 32.0
    assert min(change.sure_before, change.sure_after) > 2.5
    assert change.while_playing < 0.25


def test_a_song_that_keeps_its_arrangement_has_no_surer_place():
    for one in laid(parts(harmony(4))):
        change = one.rearranged
        assert change is None or change.sure_after < 2.0 or change.at_best < change.at_zero + 0.05


def test_curves_are_plain_correlations():
    """Against numpy's correlate, class by class."""
    slots = BeatSlots(BEATS_S, RUNS)
    song = parts(harmony())
    one, other = (Motion(chroma(song[number], late_beats=late), slots) for number, late in ((1, 2.0), (0, 0)))
    pairs = compare(slots, [one, other])
    expected = np.zeros(2 * len(slots) - 1)
    for mine, theirs, weight in (
        (one.changes, other.changes, CHANGES_WEIGHT), (one.turns, other.turns, TURNS_WEIGHT),
        (one.state, other.state, STATE_WEIGHT),
    ):  # fmt: skip
        for k in range(12):
            expected += weight * np.correlate(mine[:, k], theirs[:, k], mode="full")
    middle = len(slots) - 1
    np.testing.assert_allclose(
        pairs.curves[0, 1], expected[middle - pairs.reach : middle + pairs.reach + 1], atol=1e-9
    )
    np.testing.assert_allclose(pairs.curves[1, 0], pairs.curves[0, 1][::-1])
    for lag in (-5, -1, 0, 1, 8):
        assert fit_by_slot(one, other, lag).sum() == pytest.approx(pairs.curves[0, 1][pairs.reach + lag])
    bars = bar_sums(one, other, 8, 0, slots, 4)
    gain = pairs.curves[0, 1][pairs.reach + 8] - pairs.curves[0, 1][pairs.reach]
    assert bars.sum() == pytest.approx(gain)


def test_who_speaks_for_a_lag_and_who_against():
    """By how much another stem alone fits better a bar later: 0.03 and more is a word."""
    slots = BeatSlots(BEATS_S, RUNS)
    motions = [Motion(chroma(part), slots) for part in parts(harmony())]
    pairs = compare(slots, motions)
    bar = pairs.reach + 4 * slots.per_beat
    for other, better in zip(range(1, 5), (0.035, 0.025, -0.025, -0.035), strict=True):
        pairs.curves[0, other] = np.full(2 * pairs.reach + 1, 0.2)
        pairs.curves[0, other][bar - 1 : bar + 2] += better
    company = Company(0, range(1, 5), slots, motions, pairs, NAMES, 4)
    assert company.late == [0, 0, 0, 0]
    assert (company.at(bar).saying_so, company.at(bar).against) == (("Guitar.wav",), ("Strings.wav",))


def test_half_a_beat_is_no_beat():
    """Four slots a beat: a curve that is highest half a beat off has nothing to say of a whole one."""
    at = np.arange(-40, 41)
    pushed, late = (1.0 / (1.0 + np.abs(at - top)) for top in (2, 4))
    assert _top(pushed, 40, 1, 4) is None
    assert _top(late, 40, 1, 4) == 44
    assert _top(late[::-1], 40, -1, 4) == 36
    assert _top(pushed, 40, 2, 4) == 47


def test_a_chord_that_is_struck_again_does_not_turn():
    """Four strokes a bar: tones begin on every beat, chords turn on every fourth only."""
    roots = harmony(bars=24)
    slots = BeatSlots(BEATS_S[:97], [(0, 97)])
    struck = np.zeros((16 * 24, 12))
    for bar, root in enumerate(roots):
        for beat in range(4):
            struck[16 * bar + 4 * beat : 16 * bar + 4 * beat + 3, chord(root)] = 1.0
    motion = Motion(chroma(struck), slots)
    size = np.linalg.norm(motion.turns, axis=1)[4 * EXTRA_BEATS :][: 4 * 96].reshape(24, 16)
    assert size[1:, 0].min() > 5.0 * size[1:, 4:13].max()
    assert np.linalg.norm(motion.turns) == pytest.approx(1.0)
    begun = np.linalg.norm(motion.changes, axis=1)[4 * EXTRA_BEATS :][: 4 * 96].reshape(24, 16)
    assert begun[:, 4:12:4].mean() > 0.3 * begun[1:, 0].mean()


def test_a_witness_that_plays_after_the_others_is_laid_back():
    slots = BeatSlots(BEATS_S, RUNS)
    song = parts(harmony())
    for late, slots_late in ((0.25, (1, 2)), (0.0, (0,)), (-0.5, (0,)), (2.0, (0,))):
        motions = [Motion(chroma(song[number]), slots) for number in (1, 2)]
        motions.append(Motion(chroma(song[3], late_beats=late), slots))
        pairs = compare(slots, motions)
        assert lateness(2, [0, 1], pairs) in slots_late
        assert lateness(2, [0], pairs) == 0


def test_chops_on_two_and_four_are_a_backbeat():
    roots = harmony()
    song = parts(roots)
    slots = BeatSlots(BEATS_S, RUNS)
    band = Motion(chroma(song[3]), slots)
    found = {}
    for beats in ((1, 3), (0, 2), (0, 1, 2, 3), (1,)):
        part = np.zeros_like(song[1])
        for bar, root in enumerate(roots):
            for beat in beats:
                at = 16 * bar + 4 * beat
                part[at : at + 2, chord(root)] = 1.0
        found[beats] = Strokes.of(Motion(chroma(part), slots), band, slots.per_beat)
    assert found[1, 3].backbeat > 2.0
    assert max(found[beats].backbeat for beats in ((0, 2), (0, 1, 2, 3), (1,))) < 1.2
    # Whoever waits for a beat does not strike where the chord turns; who plays every beat does.
    assert max(found[1,].on_turns, found[1, 3].on_turns) < 0.2
    assert 0.8 < found[0, 1, 2, 3].on_turns < 1.6
    assert found[0, 2].on_turns > 2.0


def test_sureness_counts_the_bars_that_agree():
    assert sureness(np.ones(9)) == pytest.approx(3.0)
    assert sureness(np.array([1.0, -1.0, 1.0, -1.0])) == 0.0
    assert sureness(np.zeros(5)) == 0.0
    assert sureness(np.concatenate([np.ones(9), np.zeros(100)])) == pytest.approx(3.0)


def test_slots_go_on_before_and_after_and_leave_gaps_out():
    slots = BeatSlots(np.array([0.0, 0.5, 1.0, 5.0, 5.5, 6.0]), [(0, 3), (3, 3)])
    assert slots.per_beat == 4
    assert len(slots) == 4 * (4 + 2 * EXTRA_BEATS)
    inner = slots.starts_s[4 * EXTRA_BEATS : -4 * EXTRA_BEATS]
    np.testing.assert_allclose(inner[:9], [*np.arange(0, 1.0, 0.125), 5.0])
    assert slots.starts_s[0] == pytest.approx(-0.5 * EXTRA_BEATS)
    assert slots.ends_s[-1] == pytest.approx(6.0 + 0.5 * EXTRA_BEATS)
    np.testing.assert_allclose(slots.ends_s - slots.starts_s, 0.125)


def test_from_sound_to_beats():
    """Chords as tones, a beat of one of them late, through the chroma meter."""
    at_s, rate_hz = np.arange(round((2.0 + 24 * 2.0) * 8000)) / 8000.0, 8000
    roots = harmony(bars=24)
    found = []
    for number, octave in enumerate((48, 60, 72)):
        late_s = BEAT_S if number == 1 else 0.0
        wave = np.zeros(len(at_s))
        for bar, root in enumerate(roots):
            inside = (at_s >= 2.0 * bar + late_s) & (at_s < 2.0 * bar + 1.9 + late_s)
            for pitch in chord(root):
                hertz = 440.0 * 2.0 ** ((octave + pitch - 69) / 12.0)
                wave[inside] += 0.1 * np.sin(2 * np.pi * hertz * at_s[inside])
        found.append(measure_chroma(wave[:, None].astype(np.float32), rate_hz))
    beats_s = BEAT_S * np.arange(97)
    beats = beats_of(lay_by_harmony(beats_s, [(0, 97)], found, NAMES[:3], 4)[1])
    assert beats.shift_beats == 1.0
    assert says_shifted(beats)
