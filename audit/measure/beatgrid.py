"""The song's own beat pattern: where in the beat its stems play, anchored to the click.

    BeatGrid(beats_s, runs)     .position(times_s)  .period_s(times_s)
    shared_pattern(phases, …) -> Pattern;  expected_s(grid, pattern)

A pattern is a handful of places in the beat (0 is the click): straight, swung, triplet or 6/8 as the stems
have it. Nothing is compared with an ideal grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.medians import middle_of

Numbers = npt.NDArray[np.float64]

SPREAD_S = 0.008
APART_S = 0.045
LEAST_SHARE = 0.06
"""A place of the pattern holds at least this share of the fullest one's onsets; two lie 45 ms apart or
more."""

WELL_FILLED, BAND_REACH = 0.3, 0.2
"""A band's own beat is a place with this share of the fullest one's, at most so far from the click, in
beats."""

THIRDS_FROM_S = 0.4
"""Shorter beats (the eighths of 6/8 and 7/8) are not cut into thirds."""

NEAR_S = 0.022


class BeatGrid:
    """Beats that follow one another; between runs there is none.

    beats_s: ascending. runs: (first beat, number of beats) of each run; beats of no run are left out.
    """

    def __init__(self, beats_s: Numbers, runs: Sequence[tuple[int, int]]) -> None:
        self.beats_s = beats_s
        joined = np.zeros(max(0, len(beats_s) - 1), dtype=bool)
        for first, count in runs:
            joined[first : first + count - 1] = True
        self._joined = joined
        steps = np.diff(beats_s)[joined]
        self.usual_s = float(np.median(steps)) if len(steps) else 0.0

    def inside(self, times_s: Numbers) -> npt.NDArray[np.bool_]:
        """Whether a time lies in a run, or at most half a beat off its ends."""
        if not self._joined.any():
            return np.zeros(len(times_s), dtype=bool)
        beat = np.searchsorted(self.beats_s, times_s, side="right") - 1
        within = (beat >= 0) & (beat < len(self._joined))
        inner = within & self._joined[np.clip(beat, 0, len(self._joined) - 1)]
        nearest = np.clip(np.searchsorted(self.beats_s, times_s), 1, len(self.beats_s) - 1)
        off = np.minimum(np.abs(times_s - self.beats_s[nearest - 1]), np.abs(times_s - self.beats_s[nearest]))
        return inner | (off <= 0.5 * self.usual_s)

    def starts_s(self) -> tuple[Numbers, Numbers]:
        """Every joined beat's time and length, and the last beat of each run with the length before it."""
        index = np.flatnonzero(self._joined)
        if len(index) == 0:
            return np.zeros(0), np.zeros(0)
        begins, lengths = self.beats_s[index], np.diff(self.beats_s)[index]
        ends = index[np.append(np.diff(index) > 1, True)]
        begins = np.concatenate([begins, self.beats_s[ends + 1]])
        lengths = np.concatenate([lengths, np.diff(self.beats_s)[ends]])
        order = np.argsort(begins, kind="stable")
        return begins[order], lengths[order]

    def phases(self, times_s: Numbers) -> Numbers:
        """Place in the beat, in beats, −0.5 … 0.5; 0 is on the click. Times as `inside` lets through."""
        beat = np.clip(np.searchsorted(self.beats_s, times_s, side="right") - 1, 0, len(self.beats_s) - 2)
        length = np.where(self._joined[beat], np.diff(self.beats_s)[beat], self.usual_s)
        place = (times_s - self.beats_s[beat]) / np.maximum(length, 1e-6)
        return (place + 0.5) % 1.0 - 0.5


@dataclass(frozen=True, slots=True)
class Pattern:
    """Places in the beat, in beats after the band's own beat, from 0 up to (not including) 1; the first is
    0."""

    places: Numbers
    band: float = 0.0  # where the band's own beat lies after the click's, in beats

    def with_plain(self, beat_s: float) -> Pattern:
        """With the half and the thirds of the beat added where the stems have none near: whoever plays
        off-beats alone is not late by half a beat."""
        places = list(self.places)
        for plain in (1 / 2, 1 / 3, 2 / 3) if beat_s >= THIRDS_FROM_S else (1 / 2,):
            if all(abs((place - plain + 0.5) % 1.0 - 0.5) * beat_s >= APART_S for place in places):
                places.append(plain)
        return Pattern(places=np.sort(np.array(places)), band=self.band)


def shared_pattern(phases: Sequence[Numbers], beat_s: float) -> Pattern:
    """The places where stems play, from each stem's phases.

    Every stem has about the same weight, however many notes it plays. The band's own beat is the well-filled
    place nearest to the click; the other places are measured from the same stems' onsets on it.
    """
    bins = max(8, round(beat_s / 0.001))
    total = np.zeros(bins)
    for one in phases:
        if len(one):
            index = np.floor((one % 1.0) * bins).astype(np.int64) % bins
            total += np.bincount(index, minlength=bins) / np.sqrt(len(one))
    width = SPREAD_S / beat_s * bins
    reach = np.minimum(np.arange(bins), bins - np.arange(bins))
    bell = np.exp(-0.5 * (reach / width) ** 2)
    smooth = np.real(np.fft.ifft(np.fft.fft(total) * np.fft.fft(bell)))
    tops = _tops(smooth, max(1, round(APART_S / beat_s * bins)))
    if not len(tops):
        return Pattern(places=np.zeros(1))
    places = (tops + 0.5) / bins
    around = (places + 0.5) % 1.0 - 0.5
    full = (smooth[tops] >= WELL_FILLED * smooth.max()) & (np.abs(around) <= BAND_REACH)
    band = float(around[full][np.argmin(np.abs(around[full]))]) if full.any() else 0.0
    near = NEAR_S / beat_s
    band += _middle([(one - band + 0.5) % 1.0 - 0.5 for one in phases], near) or 0.0
    level = [(one - band + 0.5) % 1.0 - 0.5 for one in phases]
    anchored = [_anchored(level, (place - band) % 1.0, near) for place in places]
    apart = APART_S / beat_s
    others = [place for place in anchored if apart <= place <= 1.0 - apart]
    return Pattern(places=np.sort(np.array([0.0, *others])), band=band)


def _tops(smooth: Numbers, apart: int) -> npt.NDArray[np.int64]:
    """Bins of the histogram's tops, the highest first."""
    room, tops = smooth.copy(), []
    least = LEAST_SHARE * float(smooth.max(initial=0.0))
    while least > 0.0 and room.max() > least:
        top = int(np.argmax(room))
        if smooth[top] >= max(smooth[top - 1], smooth[(top + 1) % len(smooth)]):
            tops.append(top)
        _clear(room, top, apart)
    return np.array(tops, dtype=np.int64)


def _middle(phases: Sequence[Numbers], near: float) -> float | None:
    """Median over the stems of their median phase near 0; None where nobody plays there."""
    found = [middle_of(close) for one in phases if len(close := one[np.abs(one) <= near]) >= 4]
    return float(np.median(found)) if found else None


def _clear(room: Numbers, top: int, apart: int) -> None:
    room[(np.arange(top - apart + 1, top + apart)) % len(room)] = 0.0


def _anchored(phases: Sequence[Numbers], place: float, near: float) -> float:
    """The place, measured from the on-beat onsets of those stems that play on both."""
    shifts, plain = [], []
    for one in phases:
        there = (one - place + 0.5) % 1.0 - 0.5
        there = there[np.abs(there) <= near]
        on_beat = one[np.abs(one) <= near]
        if len(there) >= 4:
            plain.append(middle_of(there))
            if len(on_beat) >= 4:
                shifts.append(plain[-1] - middle_of(on_beat))
    moved = float(np.median(shifts)) if shifts else (float(np.median(plain)) if plain else 0.0)
    return (place + moved) % 1.0


def expected_s(grid: BeatGrid, pattern: Pattern) -> Numbers:
    """Every place of the band's pattern in every beat of the grid, as times, ascending."""
    starts, lengths = grid.starts_s()
    return np.sort((starts[:, None] + (pattern.band + pattern.places[None, :]) * lengths[:, None]).ravel())
