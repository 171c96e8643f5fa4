"""pulses: the tempo that stems share where none of them keeps to its click."""

from __future__ import annotations

from array import array

import numpy as np
import pytest

from audit.measure.alignment import align
from audit.measure.belonging import LEAST_BEATS, LEAST_ONSETS
from audit.measure.harmony import lay_by_harmony, with_harmony
from audit.measure.pulse import FEWEST_OWN, PARTS, SURELY, _gathered, _own, _spectrum, own_pulses, pulses
from audit.results import Onsets, Pulse
from tests.measure.feeding import measure_chroma, measure_onsets

CLICK = np.arange(200) * 0.5 + 4.0
"""120 beats a minute, 100 s."""


def played(times_s: np.ndarray, jitter_s: float = 0.0, seed: int = 1) -> Onsets:
    moved = np.sort(times_s + np.random.default_rng(seed).normal(0.0, jitter_s, len(times_s)))
    return Onsets(times_s=array("d", moved), strengths_db=array("f", [30.0] * len(moved)))


def notes(bpm: float, a_beat: int, seconds: float = 98.0, start_s: float = 4.3) -> np.ndarray:
    return np.arange(start_s, start_s + seconds, 60.0 / bpm / a_beat)


@pytest.mark.parametrize("bpm", [121.0, 118.3, 134.4, 104.0, 151.0])
def test_stems_of_another_tempo(bpm: float):
    found = pulses([played(notes(bpm, 2), 0.004), played(notes(bpm, 4), 0.004, seed=2)], CLICK)
    for one in found:
        assert one is not None
        # The stems' notes to a beat of theirs times their tempo over the click's.
        assert min(abs(one.per_beat / parts / (bpm / 120.0) - 1.0) for parts in (2, 4)) < 2e-3
        assert one.fit > 0.9
        assert one.on_click < 0.2


@pytest.mark.parametrize("parts", [1, 2, 3, 4, 5, 6, 7, 8])
def test_a_stem_on_the_click_ends_the_search(parts: int):
    away = played(notes(134.4, 2))
    assert pulses([played(notes(120.0, parts, start_s=4.0), 0.004), away, away], CLICK) == (None, None, None)


def test_a_few_notes_on_the_click_do_not():
    """Fewer than SURELY: a riff of few notes may lie there by chance."""
    away = played(notes(134.4, 2))
    for count, ends in ((SURELY, True), (SURELY - 1, False)):
        few = played(4.0 + 0.5 * np.arange(count))
        found = pulses([few, away, away], CLICK)
        assert (found[1] is None) is ends


def test_stems_off_the_beat_but_at_its_tempo_keep_to_it():
    """A click that is late is no other tempo."""
    assert pulses([played(notes(120.0, 2, start_s=4.137))] * 2, CLICK) == (None, None)


def test_music_without_a_pulse_gathers_nowhere():
    rng = np.random.default_rng(5)
    free = [played(np.sort(rng.uniform(4.0, 100.0, 300))) for _ in range(3)]
    for one in pulses(free, CLICK):
        assert one is not None
        assert one.fit < 0.4


def test_too_little_to_tell_by():
    long, short = played(notes(134.4, 2)), played(notes(134.4, 2)[: LEAST_ONSETS - 1])
    assert pulses([long, long], CLICK[: LEAST_BEATS - 1]) == (None, None)
    assert pulses([], CLICK) == ()
    found = pulses([long, short, None, long], CLICK)
    assert [one is None for one in found] == [False, True, True, False]


def test_no_beat_is_laid_over_a_pause():
    """Notes in a pause of the click say nothing of its tempo."""
    paused = np.concatenate([CLICK[:40], CLICK[40:80] + 60.0])
    inside = notes(134.4, 2, seconds=58.0, start_s=float(CLICK[39]) + 1.0)
    assert pulses([played(inside), played(inside)], paused) == (None, None)


def test_the_transform_is_the_sum_over_the_onsets():
    """Second implementation: Σ w·e^(2πi·f·t) / Σ w, one frequency at a time, against the transform of the
    train of impulses (both Rayleigh's statistic)."""
    rng = np.random.default_rng(3)
    beats, weights = np.sort(rng.uniform(0.0, 60.0, 150)), rng.uniform(5.0, 40.0, 150)
    beats = np.round(beats * 64) / 64  # as the train has them
    spectrum = _spectrum(beats, weights, 64)
    size = 2 * (len(spectrum) - 1)
    for bin_ in (100, 517, 1400, 2040):
        assert spectrum[bin_] == pytest.approx(_gathered(beats, weights, bin_ * 64 / size), abs=1e-9)


# A stem of another tempo than its click and the others


def beside(one: Onsets) -> tuple[Pulse | None, Pulse | None]:
    """The stem's own pulse, and that of one that plays eighths on the click."""
    first, second = own_pulses([one, played(notes(120.0, 2, start_s=4.0), 0.004, seed=9)], CLICK)
    return first, second


@pytest.mark.parametrize("bpm", [117.6, 121.2, 122.4, 126.0, 112.0])
@pytest.mark.parametrize("a_beat", [1, 2, 3, 4])
def test_one_stem_of_another_tempo(bpm: float, a_beat: int):
    found, other = beside(played(notes(bpm, a_beat), 0.006))
    assert other is None
    assert found is not None
    assert found.tempo_ratio == pytest.approx(bpm / 120.0, abs=3e-4)
    assert found.fit > 0.7


def test_its_tempo_is_read_between_the_steps_of_the_spectrum():
    """200 beats and four places a beat of them: steps of a 1000th; a slow sweep lands anywhere between."""
    for bpm in np.linspace(121.0, 121.3, 7):
        found, _ = beside(played(notes(float(bpm), 2)))
        assert found is not None
        assert found.tempo_ratio == pytest.approx(bpm / 120.0, abs=5e-5)


def test_nobody_else_keeps_to_the_click():
    away = played(notes(123.0, 2))
    assert own_pulses([away, away], CLICK) == (None, None)


@pytest.mark.parametrize(
    "one",
    [
        pytest.param(played(notes(120.0, 2, start_s=4.13), 0.004), id="late, of the click's tempo"),
        pytest.param(played(notes(120.0, 5, start_s=4.0), 0.004), id="quintuplets"),
        pytest.param(played(np.arange(4.0, 102.0, 0.75), 0.004), id="dotted quarters"),
        pytest.param(played(np.sort(np.random.default_rng(3).uniform(4.0, 100.0, 300))), id="free"),
        pytest.param(
            played(np.concatenate([notes(120.0, 2, 48.0, 4.0), notes(123.0, 2, 48.0, 53.1)]), 0.004),
            id="of another tempo in its second half alone",
        ),
        pytest.param(played(notes(128.0, 1)[: FEWEST_OWN - 1], 0.004), id="too few"),
    ],
)
def test_a_stem_without_another_tempo(one: Onsets):
    assert beside(one) == (None, None)


def test_just_enough_onsets_tell():
    found, _ = beside(played(notes(128.0, 1)[:FEWEST_OWN], 0.004))
    assert found is not None


def test_quiet_echoes_of_their_own_clock_leave_a_stem_on_its_click():
    """Three echoes a stroke, 230 ms apart and 12 dB lower: more than the strokes, which lie on the click."""
    strokes = notes(120.0, 1, start_s=4.0)
    late = [strokes + 0.23 * number for number in (1, 2, 3)]
    times = np.concatenate([strokes, *late])
    strengths = np.concatenate([np.full(len(strokes), 30.0), np.full(3 * len(strokes), 18.0)])
    order = np.argsort(times)
    echoing = Onsets(
        times_s=array("d", times[order].tolist()), strengths_db=array("f", strengths[order].tolist())
    )
    assert beside(echoing) == (None, None)


def chords(rate: int, tremolo_hz: float, depth: float) -> np.ndarray:
    """Plucked chords on every second beat of CLICK, their level swelling as an amplifier's tremolo does."""
    at = np.arange(104 * rate) / rate
    sound = np.zeros(len(at))
    for number, start in enumerate(CLICK[::2]):
        first, last = int(start * rate), int((start + 1.0) * rate)
        since = at[first:last] - start
        tones = ((147.0, 220.0, 294.0), (131.0, 196.0, 262.0), (165.0, 247.0, 330.0))[number % 3]
        chord = np.sum([np.sin(2 * np.pi * hz * since) for hz in tones], axis=0)
        sound[first:last] = chord * np.exp(-since) * np.minimum(1.0, since / 0.003)
    swelling = 1.0 - depth * (0.5 + 0.5 * np.sin(2 * np.pi * tremolo_hz * at))
    return np.asarray(0.1 * sound * swelling, dtype=np.float32)[:, None]


@pytest.mark.parametrize("tremolo_hz", [4.6, 5.3, 6.1])
@pytest.mark.parametrize("depth", [0.5, 0.95])
def test_a_tremolo_is_no_other_tempo(tremolo_hz: float, depth: float):
    """A deep one has more strokes of its own speed than of the player's: then its chords say where it is."""
    rate = 24_000
    guitar, organ = chords(rate, tremolo_hz, depth), chords(rate, 1.0, 0.0)
    sounds = (guitar, organ, organ[:, ::-1] * 0.5)
    onsets = [measure_onsets(one, rate) for one in sounds]
    runs, names = [(0, len(CLICK))], ("guitar", "organ", "keys")
    first, *_ = align(CLICK, runs, onsets, names)
    assert len(onsets[0].times_s) > 60
    if depth < 0.9:
        assert first.own_pulse is None
    chromas = [measure_chroma(one, rate) for one in sounds]
    laid, *_ = lay_by_harmony(CLICK, runs, chromas, names, 4)
    own = with_harmony(first, laid, CLICK, chromas[0]).own_pulse
    if own is not None:
        # 6.1 Hz are three to a beat and a little: too near to be led away from the harmony in 100 s.
        assert own.harmony is None
        assert own.turns is not None
        assert own.turns[0] > 3.0 * own.turns[1]


def gathering(seed: int, count: int, *, spread: float = 0.02, per_beat: float = 1.03) -> np.ndarray:
    """Places in beats of another pulse, `spread` of it wide."""
    random = np.random.default_rng(seed)
    return np.sort((np.arange(count) + random.normal(0.0, spread, count)) / per_beat)


def own(beats: np.ndarray, weights: np.ndarray | None = None) -> Pulse | None:
    weights = np.full(len(beats), 20.0) if weights is None else weights
    on_click = max(_gathered(beats, weights, level) for level in PARTS)
    return _own(beats, weights, on_click, int(beats[-1]) + 1)


def test_how_widely_it_may_spread():
    """A normal spread of s parts of a pulse gathers at exp(-2 (pi s)^2), 0.6 for 0.16. Source: Mardia & Jupp
    2000, the wrapped normal [memory]."""
    tight, wide = own(gathering(1, 180, spread=0.12)), own(gathering(1, 180, spread=0.19))
    assert tight is not None
    assert tight.fit == pytest.approx(np.exp(-2.0 * (np.pi * 0.12) ** 2), abs=0.06)
    assert wide is None


def test_either_half_has_to_gather():
    random = np.random.default_rng(4)
    free = np.sort(random.uniform(90.0, 180.0, 90))
    assert own(np.concatenate([gathering(2, 93), free])) is None
    assert own(gathering(2, 186)) is not None


def test_the_strongest_strokes_have_to_say_so():
    """A third of strokes that are louder and lie on the click, twice as many weak ones of another pulse."""
    loud, weak = np.arange(0.0, 150.0, 1.0), gathering(3, 400, per_beat=2.06)
    weak = weak[weak < 150.0]
    beats = np.concatenate([loud, weak])
    order = np.argsort(beats)
    weights = np.concatenate([np.full(len(loud), 22.0), np.full(len(weak), 20.0)])
    assert own(beats[order], weights[order]) is None


def test_the_slowest_pulse_that_gathers_as_well_is_told():
    """Even strokes gather at every multiple: of a bass of 103 in 100 the fifth was taken for a sixth."""
    found = own(gathering(5, 180, spread=0.003))
    assert found is not None
    assert found.per_beat == pytest.approx(1.03, abs=1e-3)
    assert found.tempo_ratio == pytest.approx(1.03, abs=1e-3)
