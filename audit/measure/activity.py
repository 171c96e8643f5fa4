"""Where a part sounds: its first and last sound, its active time, and how its end sounds.

ActivityMeter(rate_hz, channels)   .add(block), .result(channels) -> Activity
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.measure.levels import ACTIVE_POWER
from audit.measure.samples import Samples, check_block
from audit.measure.steps import StepSums, part_channels
from audit.results import Activity
from audit.units import power_to_db

SOUND_DBFS = -70.0
"""|sample| above which it is sound. Own judgement, 10 dB below what counts as an active step."""

SOUND = np.float32(10.0 ** (SOUND_DBFS / 20.0))

END_S = 0.05
"""How much of the end is measured: 50 ms, two periods of the lowest note of a bass guitar (41 Hz)."""


class ActivityMeter:
    """Memory: 8 bytes per channel and 100 ms, and the last 50 ms.

    sums: shared step sums; whoever shares them feeds them.
    """

    def __init__(self, rate_hz: int, channels: int, *, sums: StepSums | None = None) -> None:
        from audit.measure.silence_kernel import is_silent

        self._is_silent = is_silent
        self._own = sums is None
        self._sums = StepSums(rate_hz, channels) if sums is None else sums
        self._channels = channels
        self._window = max(1, round(END_S * rate_hz))
        self._frames = 0
        self._first: list[int | None] = [None] * channels
        self._last: list[int | None] = [None] * channels
        self._last_not_zero = [-1] * channels
        self._tail = np.zeros((0, channels), dtype=np.float32)
        # Energy of every channel over the 50 ms that end with each channel's last sample that is not zero.
        self._before = np.zeros((channels, channels))

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        if self._own:
            self._sums.add(block)
        if len(block) == 0:
            return
        joined: Samples | None = None
        energies: dict[int, npt.NDArray[np.float64]] = {}
        for channel in range(self._channels):
            wave = block[:, channel]
            if self._is_silent(wave):
                continue
            if self._first[channel] is None:
                loud = np.flatnonzero(np.abs(wave) > SOUND)
                self._first[channel] = self._frames + int(loud[0]) if len(loud) else None
            last = _last_past(wave, SOUND)
            if last is not None:
                self._last[channel] = self._frames + last
            end = _last_past(wave, np.float32(0.0))
            if end is None:
                continue
            self._last_not_zero[channel] = self._frames + end
            if end not in energies:
                if end + 1 < self._window and joined is None:
                    joined = np.concatenate((self._tail, block[: self._window]))
                energies[end] = self._energy(block, joined, end)
            self._before[channel] = energies[end]
        self._frames += len(block)
        if len(block) >= self._window:
            self._tail = block[-self._window :].copy()
        else:
            self._tail = np.concatenate((self._tail, block))[-self._window :]

    def _energy(self, block: Samples, joined: Samples | None, end: int) -> npt.NDArray[np.float64]:
        """Σ x² of every channel over the 50 ms that end with frame `end` of the block."""
        if end + 1 >= self._window:
            piece = block[end + 1 - self._window : end + 1]
        else:
            assert joined is not None
            stop = len(self._tail) + end + 1
            piece = joined[max(0, stop - self._window) : stop]
        # One layout whatever the caller's: numpy's order of addition follows the layout.
        energy: npt.NDArray[np.float64] = np.square(piece.T, dtype=np.float64, order="C").sum(axis=1)
        return energy

    def result(self, channels: tuple[int, ...] | None = None) -> Activity:
        """Activity of the given channels together (None: all); the part sounds where any of them does.

        A file that ends without zeros has zero_tail_frames 0 and before_tail_rms_dbfs = end_rms_dbfs.
        """
        part = list(part_channels(channels, self._channels))
        firsts = [self._first[channel] for channel in part]
        lasts = [self._last[channel] for channel in part]
        active = (self._sums.powers[:, part] > ACTIVE_POWER).any(axis=1)
        end_power = float(np.square(self._tail[:, part], dtype=np.float64).mean()) if self._frames else 0.0
        latest = max(part, key=lambda channel: self._last_not_zero[channel])
        stop = self._last_not_zero[latest] + 1
        before = min(stop, self._window)
        power = float(self._before[latest, part].mean()) / before if before else 0.0
        return Activity(
            first_sound_frame=min((first for first in firsts if first is not None), default=None),
            last_sound_frame=max((last for last in lasts if last is not None), default=None),
            active_s=float(self._sums.step_lengths_s[active].sum()),
            end_rms_dbfs=power_to_db(end_power),
            zero_tail_frames=self._frames - stop,
            before_tail_rms_dbfs=power_to_db(power),
        )


def _last_past(wave: npt.NDArray[np.float32], level: np.float32) -> int | None:
    """Index of the last sample with |x| above `level`, searched from the end in growing pieces."""
    stop, size = len(wave), 256
    while stop > 0:
        start = max(0, stop - size)
        hits = np.flatnonzero(np.abs(wave[start:stop]) > level)
        if len(hits):
            return start + int(hits[-1])
        stop, size = start, size * 4
    return None
