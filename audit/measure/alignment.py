"""Every stem of a song against its click and its other stems: phase in the beat, drift, wrong rate.

    align(beats_s, runs, onsets, names) -> one Alignment a stem

1. The other stems' onsets show the song's pattern within the beat, anchored to the click (beatgrid); the
   half and the thirds of the beat belong to it always.
2. The stem's onsets are laid against that pattern: the lag (up to half a beat) and the slope at which most of
   them meet it is its rough place. Of lags that fit alike the smallest counts: who plays off-beats is not
   late.
3. Each onset's distance from the nearest place of the pattern gives the offset (their median), its spread,
   and the drift (slide). A whole place of the pattern more or less cannot be told: an eighth and 20 ms late
   reads as 20 ms.
4. The same stem against each other stem: the median lag of onsets that belong together.
5. Where no stem keeps to the click, the pulse that they share instead; where others do, that of a stem that
   was made for another tempo (pulse). Such a stem tells the others nothing.

Pure: arrays in, results out. `names` are labels for the result and nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from audit.measure.beatgrid import BeatGrid, Pattern, expected_s, shared_pattern
from audit.measure.coincidence import centred, lag_curve, lag_peak, strong
from audit.measure.first_last import first_and_last
from audit.measure.meeting_lags import meeting_lags
from audit.measure.on_grid import on_grid
from audit.measure.own_beat import GATHER_S, gathering, on_its_own_beat
from audit.measure.pulse import on_the_beat_at, own_pulses, pulses
from audit.measure.slide import agreed_slope, fit_line
from audit.measure.wrong_rate import wrong_rates
from audit.results import Against, Alignment, Drift, MeetingLag, Onsets, Phase, Pulse

Numbers = npt.NDArray[np.float64]

FEWEST = 12
"""Onsets below which nothing is said of a stem."""

FEWEST_FOR_DRIFT, SHORTEST_DRIFT_S = 20, 20.0
MOST_PPM = 2500.0

WITHIN_S = 0.025
"""An onset belongs to a place of the pattern, or to another stem's onset, within this distance."""

ABOUT_HALF = (0.38, 0.62)
"""Parts of a beat that are about half of it."""

LAGS_WITHIN = 0.9
"""Parts of a beat to either side in which the lags are searched that meet the other stems best."""

MOSTLY = 1.1
"""A stem strikes mostly on the beat where so many times as many of its strokes gather as anywhere else."""

HALF_WAY_S = 0.035
"""A stroke is on the beat, or half-way between two, within this distance."""

NEAR_QUARTER, ON_QUARTERS = 0.11, 0.7
"""A stroke is on a quarter of the beat within this part of it, and a stem plays quarters where so much of it
is on them."""

PLACED, LEAST_SURE = 0.35, 3.0
"""A stem is placed if its onsets fit the pattern by this much more than chance does (0 chance, 1 all), and
meet the others' this many standard deviations above chance."""

SURE = 0.5
"""Where they fit by less, its strokes on the beats say more, if it marks these."""

MET_SHARE = 0.5
"""Two stems can be compared if so many onsets of the sparser one belong to the other's."""


@dataclass(slots=True)
class _Place:
    """Where a stem lies, roughly: its lag at `middle_s` and its slope."""

    times_s: Numbers
    pattern: Pattern = field(default_factory=lambda: Pattern(places=np.zeros(1)))  # of the other stems
    expected_s: Numbers = field(default_factory=lambda: np.zeros(0))
    lag_s: float = 0.0
    slope: float = 0.0
    middle_s: float = 0.0
    sure: float = 0.0

    def lag_at(self, times_s: Numbers) -> Numbers:
        return self.lag_s + self.slope * (times_s - self.middle_s)


def align(
    beats_s: Numbers, runs: Sequence[tuple[int, int]], onsets: Sequence[Onsets], names: Sequence[str]
) -> tuple[Alignment, ...]:
    """One Alignment a stem, in the order given.

    beats_s: the click's beats, seconds, ascending, shape (n,); runs: (first beat, beats) of each stretch of
    beats without a break. onsets: of the stems that make music (no click, guide, timecode).
    """
    grid = BeatGrid(np.asarray(beats_s, dtype=np.float64), runs)
    nothing = Alignment(phase=None, drift=None, wrong_rate=None)
    if grid.usual_s <= 0.0:
        return (nothing,) * len(onsets)
    strengths = [np.array(one.strengths_db, dtype=np.float64) for one in onsets]
    every = [np.array(one.times_s, dtype=np.float64) for one in onsets]
    whole = [strong(times_s, strength) for times_s, strength in zip(every, strengths, strict=True)]
    own = _of_another_tempo(own_pulses(onsets, grid.beats_s), whole, grid)
    wrong = {
        number: one
        for number, one in wrong_rates(whole, grid.beats_s, 0.5 * grid.usual_s).items()
        if (pulse := own[number]) is None or on_the_beat_at(pulse, one.ratio)
    }
    right = [None if number in wrong else one for number, one in enumerate(onsets)]
    # A stem at a wrong rate, or another tempo, tells the others nothing. What slides less is told how far.
    far = [_far(pulse) for pulse in own]
    for number in range(len(onsets)):
        if number in wrong or far[number]:
            whole[number] = np.zeros(0)
    places = [_place(number, whole, grid) for number in range(len(onsets))]
    shared = pulses(right, grid.beats_s)
    return tuple(
        Alignment(phase=None, drift=None, wrong_rate=wrong[number])
        if number in wrong
        else replace(
            _aligned(number, places, grid, names, strokes=(every[number], strengths[number])),
            pulse=shared[number],
            own_pulse=own[number],
            first_and_last=None if far[number] else first_and_last(onsets[number], grid.beats_s),
        )
        for number in range(len(onsets))
    )


def _far(pulse: Pulse | None) -> bool:
    return pulse is not None and abs(pulse.tempo_ratio - 1.0) > MOST_PPM * 1e-6


def _of_another_tempo(
    own: Sequence[Pulse | None], whole: Sequence[Numbers], grid: BeatGrid
) -> list[Pulse | None]:
    """The pulses, but for stems that slide: along a slope within MOST_PPM they meet the others.

    Where a stem slides by half a beat its strokes gather at many frequencies, and the surest may be that of
    no music. At the last tenth of the slopes the true one may lie beyond them."""
    kept = [np.zeros(0) if _far(pulse) else times_s for pulse, times_s in zip(own, whole, strict=True)]
    found = []
    for number, pulse in enumerate(own):
        if pulse is not None and _far(pulse):
            place = _place(number, [*kept[:number], whole[number], *kept[number + 1 :]], grid)
            slides = len(place.times_s) >= FEWEST and abs(place.slope) < 0.9e-6 * MOST_PPM
            near = len(_residuals(place)[0]) if slides else 0
            pulse = None if slides and _fits(near, place, grid) >= SURE else pulse
        found.append(pulse)
    return found


def _place(number: int, whole: Sequence[Numbers], grid: BeatGrid) -> _Place:
    times_s = whole[number]
    inner = times_s[grid.inside(times_s)]
    place = _Place(times_s=inner)
    if len(inner) < FEWEST:
        return place
    rest = [one[grid.inside(one)] for other, one in enumerate(whole) if other != number]
    phases = [grid.phases(one) for one in rest]
    place.pattern = shared_pattern(phases, grid.usual_s).with_plain(grid.usual_s)
    place.expected_s = expected_s(grid, place.pattern)
    reach_s = 0.5 * grid.usual_s
    place.middle_s = 0.5 * float(inner[0] + inner[-1])
    place.slope, place.lag_s, _ = agreed_slope(inner, place.expected_s, reach_s=reach_s, most_ppm=MOST_PPM)
    straight = inner - place.slope * (inner - place.middle_s)
    place.lag_s = _on_its_beat(straight, place, grid, reach_s)
    place.sure = lag_peak(lag_curve(straight, place.expected_s, reach_s)).sure
    return place


def _on_its_beat(straight: Numbers, place: _Place, grid: BeatGrid, reach_s: float) -> float:
    """The stem's lag, the slope taken off: that at which it meets the pattern best, or the best near to none
    where its strokes gather most on the beat. Swung sixteenths meet the others' figures as well a part of the
    beat off."""
    phases = (grid.phases(straight) - place.pattern.band + 0.5) % 1.0 - 0.5
    at_s = np.sort(phases) * grid.usual_s
    gathered = gathering(at_s, grid.usual_s)
    beside_s = float(at_s[np.argmax(gathered)])
    elsewhere = gathered[np.abs(at_s) > WITHIN_S + GATHER_S].max(initial=0.0)
    on_the_beat = abs(beside_s) <= WITHIN_S and gathered.max() >= MOSTLY * elsewhere
    if not on_the_beat or abs(beside_s - place.lag_s) <= WITHIN_S:
        return place.lag_s
    curve = lag_curve(straight, place.expected_s, reach_s)
    half, near = len(curve) // 2, round(1000.0 * WITHIN_S)
    return (int(np.argmax(curve[half - near : half + near + 1])) - near) / 1000.0


def _aligned(
    number: int, places: Sequence[_Place], grid: BeatGrid, names: Sequence[str],
    *, strokes: tuple[Numbers, Numbers],
) -> Alignment:  # fmt: skip
    place = places[number]
    laid = _laid(place, grid) if len(place.times_s) >= FEWEST else None
    if laid is None:
        return Alignment(phase=None, drift=None, wrong_rate=None)
    at_s, off_s = laid.at_s, laid.off_s
    low_s, middle_s, high_s = np.percentile(off_s, [25, 50, 75])
    lag_s = float(middle_s)
    band_s = place.pattern.band * grid.usual_s
    against = _against(number, places, lag_s, names)
    phase = Phase(
        offset_ms=1000.0 * (lag_s + band_s),
        from_others_ms=1000.0 * lag_s,
        iqr_ms=1000.0 * float(high_s - low_s),
        onsets=len(off_s),
        share=len(off_s) / len(place.times_s),
        against=against,
        confidence=laid.sure * min(1.0, len(off_s) / 30.0),
        error_ms=1000.0 * fit_line(at_s, off_s).offset_error_s if at_s[-1] > at_s[0] else 0.0,
        on_beat=_on_beat(*strokes, lag_s + band_s, grid),
        quarters=_quarters(*strokes, lag_s + band_s, grid),
        grid_ms=on_grid(
            place.times_s, lag_s + band_s, grid, spread_s=float(high_s - low_s), within_s=WITHIN_S
        ),
        half_later_ms=_half(place, lag_s, 1, band_s, grid),
        half_earlier_ms=_half(place, lag_s, -1, band_s, grid),
        lags=_lags(number, places, band_s, grid),
    )
    return Alignment(phase=phase, drift=_drift(at_s, off_s), wrong_rate=None)


@dataclass(frozen=True, slots=True)
class _Laid:
    """A stem's onsets against the pattern."""

    at_s: Numbers
    off_s: Numbers
    sure: float  # 0 chance, 1 all that it plays


def _laid(place: _Place, grid: BeatGrid) -> _Laid | None:
    """All its onsets against the others' pattern, or, where that is unsure or says another place, its strokes
    on the beats that it marks. Own measurement: of 427 clean stems that mark the beat none has two places."""
    at_s, off_s = _residuals(place)
    fits = _fits(len(off_s), place, grid)
    placed = place.sure >= LEAST_SURE and len(off_s) >= FEWEST and fits >= PLACED
    own = on_its_own_beat(place.times_s, grid, place.pattern.band)
    if own is not None:
        own_s = float(np.median(own.off_s))
        elsewhere = placed and abs(own_s - float(np.median(off_s))) > WITHIN_S
        elsewhere = elsewhere and not _others_play_at(own_s, place.pattern, grid)
        if not placed or fits < SURE or elsewhere:
            return _Laid(own.at_s, own.off_s, own.beats)
    return _Laid(at_s, off_s, min(fits, 1.0)) if placed else None


def _others_play_at(at_s: float, pattern: Pattern, grid: BeatGrid) -> bool:
    """Whether the others have a place there, beside their beat: who strikes a swung sixteenth is not off by
    one."""
    apart = (pattern.places[1:] - at_s / grid.usual_s + 0.5) % 1.0 - 0.5
    return bool((np.abs(apart) * grid.usual_s <= WITHIN_S).any())


def _fits(near: int, place: _Place, grid: BeatGrid) -> float:
    """How much it means that so many of its onsets lie near the rough line: 0 chance, 1 all do."""
    chance = _chance(place.pattern, grid)
    return (near / len(place.times_s) - chance) / max(1.0 - chance, 0.05)


def _residuals(place: _Place) -> tuple[Numbers, Numbers]:
    """When each onset sounds, and how far after its place of the pattern, for those near the rough line."""
    expected, lag = place.expected_s, place.lag_at(place.times_s)
    at = off = np.zeros(0)
    for _ in range(2):
        wanted = place.times_s - lag
        after = np.clip(np.searchsorted(expected, wanted), 1, len(expected) - 1)
        nearer = np.where(
            np.abs(expected[after - 1] - wanted) <= np.abs(expected[after] - wanted), after - 1, after
        )
        whole = place.times_s - expected[nearer]
        near = np.abs(whole - lag) <= WITHIN_S
        at, off = place.times_s[near], whole[near]
        if len(at) < FEWEST:
            break
        if at[-1] > at[0]:
            line = fit_line(at, off)
            lag = line.offset_s + line.slope * (place.times_s - line.middle_s)
    return at, off


def _on_beat(times_s: Numbers, strengths_db: Numbers, lag_s: float, grid: BeatGrid) -> float | None:
    """Strengths on the beats less those half-way between them, over both, once the stem's lag is taken off.
    None where most of it is elsewhere."""
    inner = grid.inside(times_s - lag_s)
    phases = np.abs(grid.phases(times_s[inner] - lag_s))
    near = HALF_WAY_S / grid.usual_s
    on = float(strengths_db[inner][phases <= near].sum())
    between = float(strengths_db[inner][phases >= 0.5 - near].sum())
    told = on + between > 0.5 * float(strengths_db[inner].sum())
    return (on - between) / (on + between) if told else None


def _quarters(
    times_s: Numbers, strengths_db: Numbers, lag_s: float, grid: BeatGrid
) -> tuple[float, float, float, float] | None:
    """Shares of the strengths at the beat, a quarter, half and three quarters after it, once the stem's lag
    is taken off. None where much of it is elsewhere (swing, triplets)."""
    inner = grid.inside(times_s - lag_s)
    phases, strengths = grid.phases(times_s[inner] - lag_s), strengths_db[inner]
    near = min(HALF_WAY_S / grid.usual_s, NEAR_QUARTER)
    nearest = np.round(4.0 * phases)
    there = np.abs(phases - nearest / 4.0) <= near
    sums = np.bincount(nearest[there].astype(np.int64) % 4, strengths[there], minlength=4)
    whole = float(sums.sum())
    if whole <= 0.0 or whole < ON_QUARTERS * float(strengths.sum()):
        return None
    one, two, three, four = (sums / whole).tolist()
    return one, two, three, four


def _half(place: _Place, lag_s: float, sign: int, band_s: float, grid: BeatGrid) -> float | None:
    """The lag at which the onsets fit the pattern best among those about half a beat from their own, in ms
    from the click. In swung songs that is not quite half a beat."""
    low_s, high_s = (share * grid.usual_s for share in ABOUT_HALF)
    middle_s = lag_s + sign * 0.5 * (low_s + high_s)
    straight = place.times_s - place.slope * (place.times_s - place.middle_s) - middle_s
    curve = lag_curve(straight, place.expected_s, 0.5 * (high_s - low_s))
    if curve.max() <= 0.0:
        return None
    return 1000.0 * (middle_s + band_s) + float(np.argmax(curve) - len(curve) // 2)


def _lags(number: int, places: Sequence[_Place], band_s: float, grid: BeatGrid) -> tuple[MeetingLag, ...]:
    place = places[number]
    # Against the others as they lie in the beat, then from the click.
    straight = place.times_s - place.slope * (place.times_s - place.middle_s) + band_s
    others = [
        their.times_s - their.lag_s
        for other, their in enumerate(places)
        if other != number and their.sure >= LEAST_SURE
    ]
    return meeting_lags(straight, others, LAGS_WITHIN * grid.usual_s)


def _chance(pattern: Pattern, grid: BeatGrid) -> float:
    """Share of onsets thrown at random that would fit the pattern."""
    return float(min(1.0, len(pattern.places) * 2.0 * WITHIN_S / grid.usual_s))


def _against(
    number: int, places: Sequence[_Place], lag_s: float, names: Sequence[str]
) -> tuple[Against, ...]:
    place = places[number]
    found = []
    for other, their in enumerate(places):
        if other == number or their.sure < LEAST_SURE:
            continue
        # The others made the pattern, so they lie on it; their own rough places may have been led astray by
        # this very stem.
        apart_s, lags = centred(place.times_s, their.times_s, lag_s, WITHIN_S)
        if len(lags) >= max(FEWEST, MET_SHARE * min(len(place.times_s), len(their.times_s))):
            found.append(Against(stem=names[other], lag_ms=apart_s * 1000.0, meetings=len(lags)))
    return tuple(found)


def _drift(at_s: Numbers, off_s: Numbers) -> Drift | None:
    if len(at_s) < FEWEST_FOR_DRIFT or at_s[-1] - at_s[0] < SHORTEST_DRIFT_S:
        return None
    line = fit_line(at_s, off_s)
    middle = len(at_s) // 2
    first, second = fit_line(at_s[:middle], off_s[:middle]), fit_line(at_s[middle:], off_s[middle:])
    return Drift(
        ppm=line.slope * 1e6,
        low_ppm=(line.slope - 1.96 * line.error) * 1e6,
        high_ppm=(line.slope + 1.96 * line.error) * 1e6,
        first_half_ppm=first.slope * 1e6,
        second_half_ppm=second.slope * 1e6,
        slide_ms=line.slope * float(at_s[-1] - at_s[0]) * 1000.0,
        onsets=len(at_s),
    )
