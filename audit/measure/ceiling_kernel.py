"""The compiled half of `ceiling`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

_FAST = {"nnan", "ninf", "nsz", "reassoc", "contract"}

# Places in the whole-number settings of `look`.
FIRST, LAST, BELOW, GAP, AROUND, BAND_BINS, LOUD_CLASSES = range(7)

# Places in the other settings of `look`.
SCALE, CLIFF, PLATEAU, FILLED, CLASS_DB, TOP_DB, REAL_SHARE = range(7)


@njit(cache=True, nogil=True, fastmath=_FAST)
def powers(parts: Any, power: Any, fine: Any) -> None:
    """|X|² of one window into `power`, and on top of the sums `fine`.

    parts: float32, real and imaginary parts in turn.
    """
    for k in range(len(power)):
        value = parts[2 * k] * parts[2 * k] + parts[2 * k + 1] * parts[2 * k + 1]
        power[k] = value
        fine[k] += value


@njit(cache=True, nogil=True, fastmath=_FAST)
def band_powers(power: Any, width: int, scale: float, bands: Any) -> float:
    """Sums of `width` bins each, times the scale; their sum is returned."""
    whole = 0.0
    for band in range(len(bands)):
        total = np.float32(0.0)
        for k in range(band * width, (band + 1) * width):
            total += power[k]
        bands[band] = total * scale
        whole += bands[band]
    return whole


@njit(cache=True, nogil=True)
def steepest(bands: Any, whole: Any, real: Any, smooth: Any, lead: Any) -> int:
    """The first band of the gap where the level breaks off most steeply; −1 where it does nowhere.

    As `CeilingMeter._ratios`, which says what a break is; smooth and lead are room to work in.
    """
    below, gap, around = whole[BELOW], whole[GAP], whole[AROUND]
    first, last = whole[FIRST], whole[LAST]
    stop = last - gap
    if stop <= first:
        return -1
    for edge in range(first - around, stop):
        total = 0.0
        for k in range(edge - below, edge):
            total += bands[k]
        smooth[edge] = total / below
    best, ratio_of_best = -1, real[CLIFF]
    above = 0.0
    for k in range(stop - 1 + gap, last):
        above = max(above, bands[k])
    for edge in range(stop - 1, first - 1, -1):
        above = max(above, bands[edge + gap])
        ratio = smooth[edge] / max(above, 1e-20)
        if ratio < ratio_of_best:
            continue
        for k in range(around):
            value = smooth[edge - around + 1 + k]
            at = k
            while at > 0 and lead[at - 1] > value:
                lead[at] = lead[at - 1]
                at -= 1
            lead[at] = value
        middle = 0.5 * (lead[(around - 1) // 2] + lead[around // 2])
        if smooth[edge] >= real[PLATEAU] * middle and middle >= real[FILLED] * smooth[edge]:
            best, ratio_of_best = edge, ratio
    return best


@njit(cache=True, nogil=True)
def mirrored(parts: Any, centre: int, span: Any, beside: Any, room: Any, sums: Any) -> None:
    """Adds to `sums` the mean phase of X(f₀ + d)·X(f₀ − d) about each centre, weighted by its size.

    span: first and last bin above the mirror (the last is not taken). room: |X| of the bins there.
    """
    start, stop = span
    for k in range(start, stop):
        room[k - start] = np.sqrt(parts[2 * k] ** 2 + parts[2 * k + 1] ** 2)
    for number in range(len(beside)):
        real, imaginary, sizes = 0.0, 0.0, 0.0
        for k in range(start, stop):
            low = centre + beside[number] - k
            a, b, c, d = parts[2 * k], parts[2 * k + 1], parts[2 * low], parts[2 * low + 1]
            real += a * c - b * d
            imaginary += a * d + b * c
            sizes += room[k - start] * np.sqrt(c * c + d * d)
        sums[number] += complex(real, imaginary) / max(sizes, 1e-30)


@njit(cache=True, nogil=True, fastmath=_FAST)
def energy(parts: Any, start: int, stop: int) -> float:
    """Σ |X|² of some bins."""
    total = 0.0
    for k in range(2 * start, 2 * stop):
        total += parts[k] * parts[k]
    return total


@njit(cache=True, nogil=True)
def look(
    spectra: Any, whole: Any, real: Any, centres: Any, spans: Any, beside: Any, fine: Any, windows: Any,
    power: Any, held: Any, breaks: Any, mirror: Any, mirror_count: Any,
) -> None:  # fmt: skip
    """Enter windows of one channel into its sums.

    spectra: float32 (windows, 2 · bins), real and imaginary parts in turn. whole, real: settings. centres,
    spans: of the mirrors. The others: see _Channel; a row a class of level. A window that lies below every
    class that can still count is left out.
    """
    one = np.empty(len(fine), dtype=np.float32)
    bands = np.empty(power.shape[1])
    smooth, lead = np.empty(len(bands)), np.empty(whole[AROUND])
    room = np.empty(spectra.shape[1] // 2, dtype=np.float32)
    loudest = len(windows)
    for at in range(len(windows)):
        if windows[at] > 0:
            loudest = at
            break
    for row in range(len(spectra)):
        parts = spectra[row]
        powers(parts, one, fine)
        level = band_powers(one, whole[BAND_BINS], real[SCALE], bands)
        level_db = 10.0 * np.log10(max(level, 1e-15))
        at = max(0, int(np.floor((real[TOP_DB] - level_db) / real[CLASS_DB])))
        if at >= min(len(windows), loudest + whole[LOUD_CLASSES]):
            continue
        loudest = min(loudest, at)
        windows[at] += 1
        for k in range(len(bands)):
            power[at, k] += bands[k]
            held[at, k] = max(held[at, k], bands[k])
        edge = steepest(bands, whole, real, smooth, lead)
        if edge >= 0:
            breaks[at, edge] += 1
        for number in range(len(centres)):
            start, stop = spans[number]
            if energy(parts, start, stop) * real[SCALE] > real[REAL_SHARE] * level:
                mirrored(parts, centres[number], spans[number], beside, room, mirror[at, number])
                mirror_count[at, number] += 1
