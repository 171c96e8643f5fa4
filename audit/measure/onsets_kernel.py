"""The compiled half of `onsets`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

BANDS = 4
LOW, LOW_MID, MID, HIGH = range(BANDS)

RING = 64
WRAP = RING - 1
"""Hops of envelope that are kept: more than any lag and search below needs. A power of two."""

RISE_HOPS = np.array([20, 14, 10, 8])
"""An onset's rise is taken over this many hops (ms): about half a wave of the band's lowest tones and
more."""

HOLD_HOPS = np.array([20, 40, 40, 40])
RELEASE = 10.0 ** (-np.array([0.25, 0.5, 1.0, 1.0]) / 20.0)
"""The envelope stands for so long before it falls, and falls so fast (a hop): the pulses of a 26 Hz tone,
which come every 40 ms in the upper bands and every 20 ms in the lowest, are one sound."""

STILL = 0.7
"""A pulse this near to the envelope is the same sound going on."""

APART_HOPS = 30
"""Onsets of a band lie at least this far apart: the stronger one is kept."""

TOP_HOPS = 12
"""The level an onset reaches is looked for this long after its steepest place."""

MARK = 0.3
"""An onset is timed where the envelope passes this share of the level it reaches."""

LEAST_RISE = 10.0 ** (5.0 / 20.0)
FLOOR_SHARE = 0.01
FALL_OF_LOUDEST = 10.0 ** (-0.003 / 20.0)
HUSH = 1e-7
"""Rises below −40 dB of the loudest so far (which fades by 3 dB a second), or below −140 dBFS, are none."""

NOTHING = 1e-20
"""What falls below it is zero from there on: else long rests would end in numbers that take the processor ten
times as long."""

# State of one envelope in one band: the ring, then these.
ENVELOPE, LOUDEST, BEST, BEST_HOP, HELD = range(RING, RING + 5)
STATE = RING + 5

# Filter state of a channel: the last two samples, then the low-pass poles.
LAST, BEFORE, POLE_A, POLE_B, POLE_C = range(5)
FILTER = 5


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc", "contract"})
def curvature(wave: Any) -> Any:
    """Sum of |second differences| of float32 samples, the first two of which are the hop before: the
    highs."""
    now, last, before = wave[2:], wave[1:-1], wave[:-2]
    total = np.float32(0.0)
    for n in range(now.shape[0]):
        total += abs(now[n] - np.float32(2.0) * last[n] + before[n])
    return total


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc", "contract"})
def added(wave: Any) -> Any:
    total = np.float32(0.0)
    for n in range(wave.shape[0]):
        total += wave[n]
    return total


@njit(cache=True, nogil=True)
def band_levels(wave: Any, hop_frames: int, boxes: int, poles: Any, state: Any, levels: Any) -> None:
    """Level of each band in each hop of one channel.

    wave: float32; its first two samples belong to the hop before. levels: float32 (hops, BANDS), written.
    boxes: the lower bands are filtered at this many values a hop, each the mean of its frames.
    """
    a, b, c = state[POLE_A], state[POLE_B], state[POLE_C]
    low_step, mid_step = poles[0], poles[1]
    for k in range(levels.shape[0]):
        first = 2 + k * hop_frames
        levels[k, HIGH] = curvature(wave[first - 2 : first + hop_frames]) / hop_frames
        at_rest = levels[k, HIGH] == 0.0 and wave[first - 2] == 0.0 and wave[first - 1] == 0.0
        if at_rest and max(abs(a), abs(b), abs(c)) < NOTHING:
            a = b = c = 0.0
            levels[k, :HIGH] = 0.0
            continue
        low = low_mid = mid = 0.0
        for box in range(boxes):
            begin = box * hop_frames // boxes
            end = (box + 1) * hop_frames // boxes
            value = added(wave[first + begin : first + end]) / (end - begin)
            a += low_step * (value - a)
            b += low_step * (a - b)
            c += mid_step * (value - c)
            low = max(low, abs(b))
            low_mid = max(low_mid, abs(c - b))
            mid += abs(value - c)
        levels[k, LOW] = low
        levels[k, LOW_MID] = low_mid
        levels[k, MID] = mid / boxes
    state[POLE_A], state[POLE_B], state[POLE_C] = a, b, c


@njit(cache=True, nogil=True)
def _timed(ring: Any, best_hop: int, rise: int, floor: float) -> Any:
    """Where the envelope passes its mark, in hops (fractions count from a hop's middle)."""
    base = ring[(best_hop - rise) & WRAP] + floor
    top = 0.0
    for k in range(best_hop, best_hop + TOP_HOPS):
        top = max(top, ring[k & WRAP])
    level = max(MARK * top, np.sqrt(base * top))
    at = best_hop
    while at < best_hop + TOP_HOPS - 1 and ring[at & WRAP] < level:
        at += 1
    while at > best_hop - rise and ring[(at - 1) & WRAP] >= level:
        at -= 1
    below, above = ring[(at - 1) & WRAP], ring[at & WRAP]
    part = (level - below) / (above - below) if above > below else 1.0
    return at - 1.0 + min(1.0, max(0.0, part))


@njit(cache=True, nogil=True)
def find_onsets(levels: Any, first_hop: int, state: Any, found: Any) -> Any:
    """Onsets whose search ends within these hops: (band, hop, rise as a ratio); their number.

    levels: (hops, BANDS). state: (BANDS, STATE). found: (room, 3), written.
    """
    count = 0
    for band in range(BANDS):
        rise, release = RISE_HOPS[band], RELEASE[band]
        one = state[band]
        hold = HOLD_HOPS[band]
        envelope, loudest, best = one[ENVELOPE], one[LOUDEST], one[BEST]
        held, best_hop = int(one[HELD]), int(one[BEST_HOP])
        for k in range(levels.shape[0]):
            hop = first_hop + k
            level = levels[k, band]
            if level >= envelope:
                envelope = level
                held = hold
            elif level >= STILL * envelope:
                held = hold
            elif held > 0:
                held -= 1
            elif envelope < NOTHING:
                envelope = level
            else:
                envelope = max(level, envelope * release)
            loudest = max(envelope, loudest * FALL_OF_LOUDEST)
            one[hop & WRAP] = envelope
            floor = FLOOR_SHARE * loudest + HUSH
            base = one[(hop - rise) & WRAP] + floor
            if envelope > LEAST_RISE * base and envelope > best * base:
                best = envelope / base
                best_hop = hop
            elif best > 0.0 and hop - best_hop >= APART_HOPS:
                found[count, 0] = band
                found[count, 1] = _timed(one, best_hop, rise, floor)
                found[count, 2] = best
                count += 1
                best = 0.0
        one[ENVELOPE], one[LOUDEST], one[HELD] = envelope, loudest, held
        one[BEST], one[BEST_HOP] = best, best_hop
    return count
