"""Stems against click and band, from lists of onsets: straight, swung, triplets, 6/8, on the beat and off."""

from __future__ import annotations

from array import array

import numpy as np
import pytest

from audit.measure.alignment import align
from audit.measure.beatgrid import BeatGrid, shared_pattern
from audit.measure.coincidence import lag_curve, lag_peak, strong
from audit.results import Alignment, Onsets

BEATS = 5.0 + 0.5 * np.arange(240)
FEELS = {
    "straight": (0.0, 0.5),
    "swung": (0.0, 2 / 3),
    "triplets": (0.0, 1 / 3, 2 / 3),
    "sixteenths": (0.0, 0.25, 0.5, 0.75),
}
NAMES = ("drums", "bass", "keys", "guitar")


def part(
    seed: int,
    places: tuple[float, ...],
    *,
    beats: np.ndarray = BEATS,
    often: float = 0.7,
    late_s: float = 0.0,
    jitter_s: float = 0.003,
) -> np.ndarray:
    """Onset times of someone who plays on these places of the beat."""
    random = np.random.default_rng(seed)
    length = float(np.median(np.diff(beats)))
    all_s = (beats[:, None] + length * np.array(places)[None, :]).ravel()
    played = np.sort(all_s[random.random(len(all_s)) < often])
    return np.sort(played + late_s + jitter_s * random.standard_normal(len(played)))


def onsets(times_s: np.ndarray) -> Onsets:
    return Onsets(times_s=array("d", times_s.tolist()), strengths_db=array("f", [80.0] * len(times_s)))


def aligned(
    *parts: np.ndarray, beats: np.ndarray = BEATS, runs: list[tuple[int, int]] | None = None
) -> tuple[Alignment, ...]:
    names = [f"stem {number}" for number in range(len(parts))]
    return align(beats, runs or [(0, len(beats))], [onsets(one) for one in parts], names)


def band(places: tuple[float, ...], **first: float) -> list[np.ndarray]:
    """Four players of one feel; what `first` says holds for the first."""
    return [part(1, places, **first), *(part(seed, places) for seed in (2, 3, 4))]


@pytest.mark.parametrize("feel", FEELS)
@pytest.mark.parametrize("late_s", [-0.05, -0.02, -0.005, 0.0, 0.005, 0.02, 0.05])
def test_planted_offsets_in_every_feel(feel: str, late_s: float):
    """In a swung song a straight grid would be off by a sixth of a beat, 83 ms."""
    first, *others = aligned(*band(FEELS[feel], late_s=late_s))
    assert first.phase is not None
    assert first.phase.offset_ms == pytest.approx(1000 * late_s, abs=1.0)
    assert first.phase.from_others_ms == pytest.approx(1000 * late_s, abs=1.0)
    assert first.phase.iqr_ms < 6.0
    assert [one.lag_ms for one in first.phase.against] == pytest.approx([1000 * late_s] * 3, abs=1.5)
    for other in others:
        assert other.phase is not None
        assert abs(other.phase.from_others_ms) < 1.5


def test_six_eight():
    beats = 5.0 + 0.19 * np.arange(480)
    first, *_ = aligned(
        *(part(seed, (0.0,), beats=beats, late_s=0.03 if seed == 1 else 0.0) for seed in (1, 2, 3)),
        beats=beats,
    )
    assert first.phase is not None
    assert first.phase.offset_ms == pytest.approx(30.0, abs=1.0)


@pytest.mark.parametrize("place", [1 / 3, 0.5, 2 / 3])
def test_who_plays_off_the_beat_is_not_late(place: float):
    """A skank on the off-beats among players who never touch them."""
    first, *_ = aligned(part(1, (place,)), *(part(seed, (0.0,)) for seed in (2, 3, 4)))
    assert first.phase is not None
    assert abs(first.phase.from_others_ms) < 1.0


def test_a_band_off_the_click_is_told_from_a_stem_off_the_band():
    """Everybody 40 ms after the click, the first another 20 ms."""
    first, second, *_ = aligned(
        part(1, (0.0, 0.5), late_s=0.06), *(part(seed, (0.0, 0.5), late_s=0.04) for seed in (2, 3, 4))
    )
    assert first.phase is not None
    assert second.phase is not None
    assert first.phase.offset_ms == pytest.approx(60.0, abs=1.5)
    assert first.phase.from_others_ms == pytest.approx(20.0, abs=1.5)
    assert second.phase.offset_ms == pytest.approx(40.0, abs=1.5)
    assert abs(second.phase.from_others_ms) < 1.5


@pytest.mark.parametrize("ppm", [-200.0, 50.0, 1000.0])
def test_planted_drift(ppm: float):
    parts = band((0.0, 0.5))
    parts[0] = parts[0] * (1.0 + ppm * 1e-6)
    first, second, *_ = aligned(*parts)
    assert first.drift is not None
    assert second.drift is not None
    assert first.drift.ppm == pytest.approx(ppm, abs=12.0)
    assert first.drift.low_ppm < first.drift.ppm < first.drift.high_ppm
    assert first.drift.slide_ms == pytest.approx(ppm * 0.12, abs=2.0)
    assert abs(second.drift.ppm) < 12.0


def test_drift_from_few_onsets():
    first, *_ = aligned(part(1, (0.0,), often=0.15) * 1.0004, *(part(seed, (0.0, 0.5)) for seed in (2, 3)))
    assert first.drift is not None
    assert first.drift.onsets < 50
    assert first.drift.ppm == pytest.approx(400.0, abs=50.0)


@pytest.mark.parametrize("ratio", [160 / 147, 147 / 160, 2.0, 320 / 147])
def test_wrong_rates(ratio: float):
    parts = band((0.0, 0.5))
    parts[0] = parts[0] / ratio
    first, second, *_ = aligned(*parts)
    assert first.wrong_rate is not None
    assert first.wrong_rate.ratio == pytest.approx(ratio)
    assert first.wrong_rate.fit > 0.9 > first.wrong_rate.fit_as_is
    assert first.phase is None
    assert second.wrong_rate is None
    assert second.phase is not None
    assert abs(second.phase.from_others_ms) < 1.5


def test_a_stem_that_enters_where_others_play_fast_is_no_half_rate():
    """Halved, its times fall on lonely beats of the first half, a surer place; it stands right as it is."""
    late = BEATS[120::2]
    fast = np.sort(np.concatenate([BEATS[::2][:60], *(BEATS[120:] + 0.0625 * k for k in range(8))]))
    first, second = aligned(late, fast)
    assert first.wrong_rate is None
    assert second.wrong_rate is None


def test_a_free_section_is_left_out():
    """Whatever is played while the click rests tells nothing."""
    beats = np.concatenate([BEATS[:100], BEATS[:100] + 80.0])
    runs = [(0, 100), (100, 100)]
    free = np.sort(np.random.default_rng(8).uniform(56.0, 84.0, 60))
    parts = [np.sort(np.concatenate([part(seed, (0.0, 0.5), beats=beats), free])) for seed in (1, 2, 3)]
    plain = [part(seed, (0.0, 0.5), beats=beats) for seed in (1, 2, 3)]
    for with_free, without in zip(
        aligned(*parts, beats=beats, runs=runs), aligned(*plain, beats=beats, runs=runs), strict=True
    ):
        assert with_free.phase is not None
        assert without.phase is not None
        assert with_free.phase.onsets == pytest.approx(without.phase.onsets, abs=6)
        assert with_free.phase.offset_ms == pytest.approx(without.phase.offset_ms, abs=0.3)


def test_nothing_is_said_of_drones_noise_and_songs_without_beats():
    band_parts = band((0.0, 0.5))[1:]
    drone, random = np.array([5.2, 44.0, 80.0]), np.sort(np.random.default_rng(7).uniform(5.0, 120.0, 150))
    for odd in (drone, random, np.zeros(0)):
        first, *_ = aligned(odd, *band_parts)
        assert first.phase is None
        assert first.drift is None
    nothing = Alignment(phase=None, drift=None, wrong_rate=None)
    assert aligned(*band_parts, beats=np.zeros(0), runs=[(0, 0)]) == (nothing,) * 3


def test_moving_everything_changes_nothing():
    """Click and stems ten seconds later: the same song."""
    parts = band((0.0, 0.5), late_s=0.02)
    here, there = aligned(*parts), aligned(*(one + 10.0 for one in parts), beats=BEATS + 10.0)
    for one, other in zip(here, there, strict=True):
        assert one.phase is not None
        assert other.phase is not None
        assert one.phase.offset_ms == pytest.approx(other.phase.offset_ms, abs=0.01)


def test_a_pattern_follows_the_band():
    grid = BeatGrid(BEATS, [(0, len(BEATS))])
    pattern = shared_pattern([grid.phases(part(seed, FEELS["swung"])) for seed in (1, 2, 3)], 0.5)
    assert pattern.places == pytest.approx([0.0, 2 / 3], abs=0.004)
    assert pattern.with_plain(0.5).places == pytest.approx([0.0, 1 / 3, 0.5, 2 / 3], abs=0.004)


def test_a_lag_curve_counts_meetings():
    times_s = np.array([1.0, 2.0, 3.0])
    curve = lag_curve(times_s + 0.02, times_s, 0.1)
    peak = lag_peak(curve)
    assert (peak.lag_s, round(peak.height, 6)) == (0.02, 3.0)
    assert lag_curve(times_s, times_s + 0.02, 0.1) == pytest.approx(curve[::-1])


def test_ripples_are_no_onsets():
    times_s, strengths = np.arange(5.0), np.array([100.0, 15.0, 90.0, 11.0, 95.0])
    assert strong(times_s, strengths).tolist() == [0.0, 2.0, 4.0]


@pytest.mark.parametrize(("moved_beats", "expected"), [(0.0, 0.6), (0.5, -0.6)])
def test_strokes_on_the_beats_or_between_them(moved_beats: float, expected: float):
    """Four strokes of 80 dB on the beats for one between them; moved by half a beat it is the reverse."""
    late_s = 0.5 * moved_beats + 0.004
    mine = np.sort(np.concatenate([BEATS, BEATS[::4] + 0.25])) + late_s
    others = [part(seed, (0.0, 0.5)) for seed in (2, 3, 4)]
    phase = aligned(mine, *others)[0].phase
    assert phase is not None
    assert phase.on_beat == pytest.approx(expected, abs=0.01)
    assert phase.offset_ms == pytest.approx(4.0, abs=1.5)
    assert phase.half_later_ms == pytest.approx(254.0, abs=4.0)
    assert phase.half_earlier_ms == pytest.approx(-246.0, abs=4.0)
    halves = (0.8, 0.0, 0.2, 0.0) if moved_beats == 0.0 else (0.2, 0.0, 0.8, 0.0)
    assert phase.quarters == pytest.approx(halves, abs=0.01)


@pytest.mark.parametrize("late_s", [0.0, 0.025])
@pytest.mark.parametrize("moved_s", [0.0, 0.25, -0.125])
def test_the_lags_at_which_a_stem_meets_the_others_are_counted_from_the_click(late_s: float, moved_s: float):
    """A figure that three others share, behind the click all of them, one moved by a part of the beat."""
    rng = np.random.default_rng(4)
    figure = BEATS[0] + 0.125 * np.flatnonzero(rng.random(4 * len(BEATS) - 8) < 0.35) + late_s
    others = [np.sort(figure[rng.random(len(figure)) < 0.8] + rng.normal(0.0, 0.002, 1)) for _ in range(3)]
    phase = aligned(figure + moved_s, *others)[0].phase
    assert phase is not None
    best = max(phase.lags, key=lambda one: one.height)
    assert best.lag_ms == pytest.approx(1000.0 * (late_s + moved_s), abs=5.0)


def test_strokes_on_the_sixteenths_and_on_triplets():
    others = [part(seed, (0.0, 0.5)) for seed in (2, 3, 4)]
    sixteenths = np.sort(np.concatenate([BEATS, BEATS + 0.125, BEATS + 0.375]))
    phase = aligned(sixteenths, *others)[0].phase
    assert phase is not None
    assert phase.quarters is not None
    assert sorted(phase.quarters) == pytest.approx([0.0, 1 / 3, 1 / 3, 1 / 3], abs=0.01)
    triplets = np.sort(np.concatenate([BEATS, BEATS + 0.5 / 3.0, BEATS + 1.0 / 3.0]))
    swung = aligned(triplets, *[part(seed, (0.0, 1.0 / 3.0)) for seed in (2, 3, 4)])[0].phase
    assert swung is not None
    assert swung.quarters is None


def test_half_a_beat_of_a_swung_song_is_where_the_onsets_fit():
    """Strokes on the beat and at 0.6 of it: half a beat away nothing fits, but the one falls on the other
    300 ms later, and the other on the one 200 ms later."""
    found = aligned(*band((0.0, 0.6)))[0].phase
    assert found is not None
    assert found.half_later_ms is not None
    assert found.half_earlier_ms is not None
    assert min(abs(found.half_later_ms - at) for at in (200.0, 300.0)) < 5.0
    assert min(abs(found.half_earlier_ms + at) for at in (200.0, 300.0)) < 5.0


@pytest.mark.parametrize(
    ("places", "parts"),
    [((0.0,), 1), ((0.0, 0.5), 2), ((1 / 3, 2 / 3), 3), ((0.25, 0.75), 2), ((0.0, 0.25), 4)],
)
@pytest.mark.parametrize("late_s", [-0.03, 0.0, 0.01, 0.04])
def test_the_click_alone_says_where_a_stem_lies(places: tuple[float, ...], parts: int, late_s: float):
    """The mean place within a part of the beat, by scipy's circular mean."""
    from scipy.stats import circmean

    mine = part(1, places, late_s=late_s)
    phase = aligned(mine, *[part(seed, (0.0, 0.5, *places)) for seed in (2, 3, 4)])[0].phase
    assert phase is not None
    length = 0.5 / parts
    expected = circmean(mine - BEATS[0], high=length / 2, low=-length / 2)
    if places == (0.25, 0.75):  # between the eighths: by them it would be a sixteenth off
        expected = late_s
    assert phase.grid_ms == pytest.approx(1000.0 * expected, abs=1.0)
    assert phase.click_ms == phase.grid_ms


def test_drums_that_are_early_do_not_move_a_stem_off_the_click():
    """Keys on the sixteenths between the eighths, beside pianos on the beat and drums 50 ms early, which make
    the pattern there. By eighths alone the keys would be a quarter of a beat off: the nearest part counts."""
    beats = 5.0 + 0.66 * np.arange(180)
    keys = part(1, (0.25, 0.75), beats=beats)
    drums = part(2, (0.0, 0.25, 0.5, 0.75), beats=beats, late_s=-0.05)
    pianos = [part(seed, (0.0,), beats=beats) for seed in (3, 4)]
    phase = aligned(keys, drums, *pianos, beats=beats)[0].phase
    assert phase is not None
    assert phase.offset_ms == pytest.approx(50.0, abs=3.0)
    assert phase.click_ms == pytest.approx(0.0, abs=1.5)


def test_the_pattern_says_how_many_parts_of_the_beat_a_stem_is_off():
    """70 ms late on three of four sixteenths: by these alone it would be 55 ms early."""
    places = (0.0, 0.25, 0.5)
    mine = part(1, places, late_s=0.07)
    phase = aligned(mine, *[part(seed, places) for seed in (2, 3, 4)])[0].phase
    assert phase is not None
    assert phase.grid_ms == pytest.approx(70.0, abs=1.5)


def test_who_lies_on_no_part_of_the_beat_is_not_placed_by_the_click_alone():
    swing = (0.0, 0.6)
    phase = aligned(*[part(seed, swing) for seed in (1, 2, 3, 4)])[0].phase
    assert phase is not None
    assert phase.grid_ms is None
    assert phase.click_ms == phase.offset_ms


@pytest.mark.parametrize(("swung", "by_thirds"), [(0.65, False), (2 / 3, True), (0.66, True)])
def test_swing_that_is_nearly_a_third_of_the_beat_is_no_place_beside_the_click(swung: float, by_thirds: bool):
    """A loop on the click whose off-beats, three of four strokes, lie at 0.65 of a beat of 660 ms: 11 ms
    before the triplet's, which makes nobody early."""
    beats = 5.0 + 0.66 * np.arange(180)
    loop = part(1, (0.0, swung), beats=beats, jitter_s=0.0005)
    loop = np.delete(loop, np.flatnonzero(np.isin(np.arange(len(loop)) % 6, (2, 4))))
    others = [part(seed, (0.0, 0.65), beats=beats, jitter_s=0.008) for seed in (2, 3, 4)]
    phase = aligned(loop, *others, beats=beats)[0].phase
    assert phase is not None
    assert (phase.grid_ms is not None) is by_thirds
    assert abs(phase.click_ms) < 5.0


@pytest.mark.parametrize("swung", [0.57, 0.54, 0.5])
def test_lightly_swung_eighths_are_not_placed_by_straight_ones(swung: float):
    """Off-beats 35 and 20 ms behind the straight ones are gathered enough for a mean, at two places."""
    places = (0.0, swung)
    mine = part(1, (0.0, swung, swung), jitter_s=0.004)
    phase = aligned(mine, *[part(seed, places, jitter_s=0.004) for seed in (2, 3, 4)])[0].phase
    assert phase is not None
    assert abs(phase.click_ms) < 3.0
    assert (phase.grid_ms is None) is (swung != 0.5)


def test_swung_sixteenths_are_read_from_their_strokes_on_the_beat():
    """A kit that plays 1, and, and the "a" of swung sixteenths meets a clavinet's figure that leaves
    the beat out better a swung sixteenth early; most of its strokes are on the beat all the same."""
    kit = np.sort(
        np.concatenate(
            [part(1, (0.0,), often=0.95), part(2, (0.5,), often=0.25), part(3, (0.79,), often=0.75)]
        )
    )
    clavinet = part(6, (0.215, 0.465, 0.715), often=0.9)
    bass = part(7, (0.0, 0.49, 0.735), often=0.5)
    guitar = part(8, (0.0, 0.54), often=0.95)
    first, *_ = aligned(kit, clavinet, bass, guitar)
    assert first.phase is not None
    assert abs(first.phase.offset_ms) < 15.0


@pytest.mark.parametrize("late_s", [0.04, 0.08, -0.06])
def test_a_kit_that_is_off_is_not_taken_back_to_the_beat(late_s: float):
    first, *_ = aligned(part(1, (0.0, 0.5, 0.79), late_s=late_s), *(part(n, (0.0, 0.5)) for n in (2, 3, 4)))
    assert first.phase is not None
    assert first.phase.offset_ms == pytest.approx(1000.0 * late_s, abs=3.0)


@pytest.mark.parametrize(("ratio", "far"), [(1.03, True), (0.96, True), (1.0, False)])
def test_a_stem_of_another_tempo_is_placed_nowhere_and_places_nobody(ratio: float, far: bool):
    """It has no beat of the song that it begins or ends on, and the others lie as they did without it."""
    odd = BEATS[0] + (part(9, (0.0, 0.5), often=0.95) - BEATS[0]) / ratio
    others = [part(seed, (0.0, 0.5)) for seed in (2, 3, 4)]
    first, *with_it = aligned(odd, *others)
    without = aligned(*others)
    assert (first.own_pulse is not None) is far
    assert (first.phase is None) is far
    assert (first.first_and_last is None) is far
    if far:
        for one, alone in zip(with_it, without, strict=True):
            assert one.phase is not None
            assert alone.phase is not None
            assert one.phase.offset_ms == pytest.approx(alone.phase.offset_ms, abs=0.01)
            assert one.phase.from_others_ms == pytest.approx(alone.phase.from_others_ms, abs=0.01)


@pytest.mark.parametrize("ppm", [700.0, -1000.0, 2000.0])
def test_lightly_swung_drums_that_slide_are_of_no_other_tempo(ppm: float):
    """On the beat and three fifths of it strokes gather at five to a beat: a pulse, but no music's."""
    beats = 5.0 + 0.5 * np.arange(360)
    drums, *others = (part(seed, (0.0, 0.6), beats=beats) for seed in (1, 2, 3, 4))
    first, *_ = aligned(drums * (1.0 + ppm * 1e-6), *others, beats=beats)
    assert first.drift is not None
    assert first.drift.ppm == pytest.approx(ppm, abs=20.0)
    assert first.own_pulse is None


@pytest.mark.parametrize(
    ("feel", "length", "ratio"),
    [("straight", 240, 1.003), ("straight", 240, 1.005), ("swung", 120, 1.004)],
)
def test_what_meets_the_others_along_no_slope_looked_at_is_of_another_tempo(
    feel: str, length: int, ratio: float
):
    """Along the steepest slope all strokes of the first meet a pattern; along some slope those of the second
    on the beat do by chance, and a third of the last one's."""
    beats = 5.0 + 0.5 * np.arange(length)
    drums, *others = (part(seed, FEELS[feel], beats=beats, often=0.9) for seed in (1, 2, 3, 4))
    first, *_ = aligned(5.0 + (drums - 5.0) * ratio, *others, beats=beats)
    assert first.own_pulse is not None
    assert first.own_pulse.tempo_ratio == pytest.approx(1.0 / ratio, abs=2e-4)
