"""Where sounds begin: onsets of each channel and of all channels together, found as the blocks go by.

    OnsetMeter(rate_hz, channels)   .add(block)   .result(channels) -> Onsets

Four bands (below 150 Hz, to 600 Hz, above it, and the highs by the waveform's second difference), each with
an envelope a millisecond that rises at once and falls slowly. An onset is a rise of 5 dB and more over 8 ms
(highs) to 20 ms (lows) of which nothing within 30 ms is stronger; it is timed between hops, where the
envelope passes 30 % of the level that it reaches (or half way up from where it came, in dB, if that is
more). Onsets of several bands within 20 ms are one, as strong as they are together. The time is the
waveform's, not the ear's: slow attacks are timed late, each instrument by an amount of its own, which
whoever compares stems has to allow for.

Nothing depends on the level but the floor: −40 dB of the loudest so far (which is forgotten by 3 dB a
second). Method: our own, after the usual energy-rise detectors (Bello et al., "A tutorial on onset
detection in music signals", IEEE Trans. Speech Audio Proc. 13(5), 2005 [memory]).
"""

from __future__ import annotations

from array import array
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from audit.measure.samples import Samples
from audit.results import Onsets

LOW_HZ, MID_HZ = 150.0, 600.0
BOXES = 4
"""Values a millisecond that the lower bands are filtered at."""

TOGETHER_S = 0.020
LEADING_DB = 10.0
"""Onsets of several bands within 20 ms are one; the first that is at most this much weaker times it."""

MOST_ONSETS = 60_000
"""Later ones of a band are not kept: more than five hours at three a second."""

DELAY_S = (0.0, -0.1e-3, -0.6e-3, -0.6e-3)
"""How late each band times the start of a tone burst, from the middle of its hop (own measurement)."""

Numbers = npt.NDArray[np.float64]


class OnsetMeter:
    """Memory: 12 bytes an onset, band and channel, at most MOST_ONSETS each."""

    def __init__(
        self, rate_hz: int, channels: int, *, also: Callable[[npt.NDArray[np.float32]], object] | None = None
    ) -> None:
        """also: told the levels of every channel, shape (channels, hops of `hop_s`, bands), as they come."""
        from audit.measure import onsets_kernel as kernel

        self._kernel = kernel
        self._hop_frames = max(BOXES, round(rate_hz / 1000.0))
        self.hop_s = self._hop_frames / rate_hz
        step_s = self.hop_s / BOXES
        self._poles = 1.0 - np.exp(-2.0 * np.pi * np.array([LOW_HZ, MID_HZ]) * step_s)
        self._also = also
        self._channels = channels
        self._curves = channels + 1 if channels > 1 else 1
        """One a channel, and the last of all together."""
        self._filters = np.zeros((channels, kernel.FILTER))
        self._states = np.zeros((self._curves, kernel.BANDS, kernel.STATE))
        self._times_s = [array("d") for _ in range(self._curves)]
        self._strengths_db = [array("f") for _ in range(self._curves)]
        self._rest = np.zeros((2, channels), dtype=np.float32)
        self._hops = 0

    def add(self, block: Samples) -> None:
        """The next block, float32, shape (frames, channels), finite."""
        hops = (len(self._rest) - 2 + len(block)) // self._hop_frames
        used = hops * self._hop_frames
        if hops == 0:
            self._rest = np.concatenate([self._rest, block])
            return
        taken = used + 2 - len(self._rest)
        levels = np.empty((self._channels, hops, self._kernel.BANDS), dtype=np.float32)
        for channel in range(self._channels):
            wave = np.concatenate([self._rest[:, channel], block[:taken, channel]])
            self._kernel.band_levels(
                wave, self._hop_frames, BOXES, self._poles, self._filters[channel], levels[channel]
            )
        both = (
            np.concatenate([self._rest[max(0, taken) :], block[max(0, taken - 2) :]]) if taken < 2 else None
        )
        self._rest = block[taken - 2 :].copy() if both is None else both[-(2 + len(block) - taken) :].copy()
        self._search(levels)

    def _search(self, levels: npt.NDArray[np.float32]) -> None:
        if self._also is not None:
            self._also(levels)
        hops = levels.shape[1]
        room = self._kernel.BANDS * (hops // self._kernel.APART_HOPS + 2)
        curves = list(levels) + ([levels.sum(axis=0)] if self._channels > 1 else [])
        for number, curve in enumerate(curves):
            found = np.empty((room, 3))
            count = self._kernel.find_onsets(curve, self._hops, self._states[number], found)
            self._keep(number, found[:count])
        self._hops += hops

    def _keep(self, curve: int, found: Numbers) -> None:
        if len(found) == 0 or len(self._times_s[curve]) > MOST_ONSETS * self._kernel.BANDS:
            return
        delay_s = np.array(DELAY_S)[found[:, 0].astype(np.int64)]
        times_s = (found[:, 1] + 0.5) * self.hop_s - delay_s
        self._times_s[curve].frombytes(times_s.tobytes())
        self._strengths_db[curve].frombytes((20.0 * np.log10(found[:, 2])).astype(np.float32).tobytes())

    def result(self, channels: tuple[int, ...] | None = None) -> Onsets:
        """Onsets of some channels together (0-based; None: all). Empty for silence.

        Sounds that begin in the last 30 ms are not told.
        """
        every = tuple(range(self._channels))
        wanted = every if channels is None else channels
        if wanted == every:
            curves = [self._curves - 1]
        else:
            curves = list(wanted)
        times_s = np.concatenate([np.array(self._times_s[curve]) for curve in curves])
        strengths_db = np.concatenate(
            [np.array(self._strengths_db[curve], dtype=np.float32) for curve in curves]
        )
        times_s, strengths_db = merged(times_s, strengths_db)
        return Onsets(
            times_s=array("d", np.maximum(times_s, 0.0).tobytes()),
            strengths_db=array("f", strengths_db.tobytes()),
        )


def merged(
    times_s: Numbers, strengths_db: npt.NDArray[np.float32]
) -> tuple[Numbers, npt.NDArray[np.float32]]:
    """Onsets of several bands or channels as one list, ascending: those within 20 ms of the first are one."""
    order = np.argsort(times_s, kind="stable")
    times_s, strengths_db = times_s[order], strengths_db[order]
    kept_s, kept_db = array("d"), array("f")
    begin = 0
    while begin < len(times_s):
        end = int(np.searchsorted(times_s, times_s[begin] + TOGETHER_S, side="right"))
        group = strengths_db[begin:end]
        strongest = float(group.max())
        leader = begin + int(np.argmax(group >= strongest - LEADING_DB))
        kept_s.append(float(times_s[leader]))
        kept_db.append(float(group.sum()))
        begin = end
    return np.array(kept_s, dtype=np.float64), np.array(kept_db, dtype=np.float32)
