"""The compiled half of `chroma`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

FINE = 36
"""Places of the octave, three a semitone; place 0 is C in equal temperament at A = 440 Hz."""

GROUP_BINS, AROUND_GROUPS = 4, 4
PROMINENT = np.log(10.0 ** (12.0 / 10.0))
"""A tone stands 12 dB over the geometric mean of the power some 16 bins to either side: in noise one spectrum
in ten has such a place. The mean is made of groups of four bins: a quarter of the logarithms."""

NEXT_TO_LOUDEST = 10.0 ** (-45.0 / 10.0)
HUSH = 10.0 ** (-90.0 / 10.0)
"""Tones below −45 dB of the loudest in the spectrum, or below −90 dBFS, are none."""

LEADING = 10.0 ** (-12.0 / 10.0)
LEAST_TUNING_HZ, MOST_TUNING_HZ = 150.0, 1500.0
"""The tuning is told by tones this near to the loudest, in this range: lower ones are timed too coarsely,
overtones of strings are sharp."""

ROLL_OFF_HZ = 1200.0
"""Above it tones count less (half at this frequency): they are overtones of several notes."""

# Sums over a channel's spectra.
SINE, COSINE, WEIGHT, TONAL, SOUNDING = range(5)
SUMS = 5


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc", "contract"})
def _dot(wave: Any, taps: Any) -> Any:
    total = np.float32(0.0)
    for n in range(taps.shape[0]):
        total += wave[n] * taps[n]
    return total


@njit(cache=True, nogil=True)
def thin_out(wave: Any, taps: Any, factor: int, thinned: Any) -> None:
    """Low-pass and keep every `factor`-th value: thinned[k] is wave[k · factor …] times the taps. float32."""
    count = taps.shape[0]
    for k in range(thinned.shape[0]):
        thinned[k] = _dot(wave[k * factor : k * factor + count], taps)


@njit(cache=True, nogil=True)
def cut_windows(wave: Any, hop: int, window: Any, out: Any) -> None:
    """Weighted pieces of the wave, `hop` values apart: out[k] = wave[k · hop …] · window. All float32."""
    for k in range(len(out)):
        piece = wave[k * hop : k * hop + len(window)]
        row = out[k]
        for n in range(len(window)):
            row[n] = piece[n] * window[n]


@njit(cache=True, nogil=True)
def powers(parts: Any, power: Any) -> None:
    """|X|², shape (hops, bins); parts: real and imaginary parts in turn, shape (hops, 2 · bins). float32."""
    for k in range(len(power)):
        one, row = parts[k], power[k]
        for n in range(len(row)):
            row[n] = one[2 * n] * one[2 * n] + one[2 * n + 1] * one[2 * n + 1]


@njit(cache=True, nogil=True)
def find_tones(power: Any, bin_hz: float, low: int, high: int, fine: Any, levels: Any, sums: Any) -> None:
    """Tones of each spectrum, spread over the places of the octave.

    power: float32 (hops, bins), 1.0 for a full-scale sine; bins low … high are looked at (at least two more
    stand to either side). fine: float32 (hops, FINE), amplitudes, written. levels: float32 (hops), sum of
    those amplitudes. sums: float64 (SUMS), added to.
    """
    groups = (high - low) // GROUP_BINS
    logs = np.zeros(groups + 1)
    for hop in range(power.shape[0]):
        one = power[hop]
        loudest, total = np.float32(0.0), 0.0
        for k in range(low, high):
            loudest = max(loudest, one[k])
            total += one[k]
        if loudest < HUSH:
            continue
        for group in range(groups):
            product = 1.0
            for k in range(low + group * GROUP_BINS, low + (group + 1) * GROUP_BINS):
                product *= one[k] + 1e-20
            logs[group + 1] = logs[group] + np.log(product)
        least = max(HUSH, NEXT_TO_LOUDEST * loudest)
        tonal = 0.0
        for k in range(low, high):
            middle = one[k]
            if middle < least or middle <= one[k - 1] or middle < one[k + 1]:
                continue
            group = min((k - low) // GROUP_BINS, groups - 1)
            begin, end = max(0, group - AROUND_GROUPS), min(groups, group + AROUND_GROUPS + 1)
            if np.log(middle) < (logs[end] - logs[begin]) / (GROUP_BINS * (end - begin)) + PROMINENT:
                continue
            left, here, right = np.log(one[k - 1]), np.log(middle), np.log(one[k + 1])
            part = 0.5 * (left - right) / (left - 2.0 * here + right)
            hertz = (k + part) * bin_hz
            amplitude = np.exp(0.5 * (here - 0.25 * (left - right) * part))
            lobe = one[k - 2] + one[k - 1] + middle + one[k + 1] + one[k + 2]
            tonal += lobe
            semitones = 12.0 * np.log2(hertz / 440.0) + 9.0
            if middle >= LEADING * loudest and LEAST_TUNING_HZ <= hertz <= MOST_TUNING_HZ:
                turn = 2.0 * np.pi * semitones
                sums[COSINE] += amplitude * np.cos(turn)
                sums[SINE] += amplitude * np.sin(turn)
                sums[WEIGHT] += amplitude
            weighed = amplitude / (1.0 + (hertz / ROLL_OFF_HZ) ** 2)
            place = (3.0 * semitones) % FINE
            lower = int(place)
            above = place - lower
            fine[hop, lower % FINE] += weighed * (1.0 - above)
            fine[hop, (lower + 1) % FINE] += weighed * above
            levels[hop] += weighed
        root = np.sqrt(total)
        sums[SOUNDING] += root
        sums[TONAL] += root * min(1.0, tonal / total)
