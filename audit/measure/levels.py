"""Levels of a part: RMS, RMS of the sounding time, crest factor, mean and DC offset.

    LevelMeter(rate_hz, channels)   .add(block), .result(channels) -> Levels

0 dBFS is the peak code: a full-scale sine reads −3.01 dBFS RMS. (AES17 has the other convention, where it
reads 0.) A part's power is the mean of its channels' powers. A step of 100 ms sounds where any
channel of the part is above −60 dBFS RMS in it.
"""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from audit.measure.offset import Numbers, standing_offset
from audit.measure.samples import Samples
from audit.measure.steps import STEP_S, StepSums, part_channels
from audit.measure.wander import Wander, wandering_offset
from audit.results import Levels
from audit.units import power_to_db, to_db

ACTIVE_DBFS = -60.0
"""RMS of a 100 ms step past which it counts as sounding. Own judgement: below the reverb tails and the noise
of a recorded track, above converter noise."""

ACTIVE_POWER = 10.0 ** (ACTIVE_DBFS / 10.0)

DC_WINDOW_S = 10.0
DC_HOP_S = 1.0


WINDOWS_AT_ONCE = 256


class LevelMeter:
    """Memory: 8 bytes per channel and 100 ms.

    sums: shared step sums; whoever shares them feeds them, and `add` does nothing.
    """

    def __init__(self, rate_hz: int, channels: int, *, sums: StepSums | None = None) -> None:
        self._own = sums is None
        self._sums = StepSums(rate_hz, channels) if sums is None else sums

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        if self._own:
            self._sums.add(block)

    def result(self, channels: tuple[int, ...] | None = None) -> Levels:
        """Levels of the given channels together (None: all). Silence: −inf, no crest, no offset.

        crest: sample peak over the RMS of the sounding steps, so that a long rest does not make a track look
        more dynamic; over the RMS of everything where no step reaches −60 dBFS.
        dc_offset, dc_worst_window: the offset that stands under the sound (see `offset`), of the worst
        channel, over the whole and over every full 10 s that begins at a multiple of 1 s. Where the level of
        the whole hardly changes, the plain mean; in such a window, nothing.
        dc_wander: the offset that stands for a second and more where it outweighs the sound (see `wander`).
        """
        part = list(part_channels(channels, self._sums.channels))
        frames = self._sums.frames
        if frames == 0:
            return Levels(
                rms_dbfs=-np.inf, active_rms_dbfs=-np.inf, crest_db=None,
                dc_offset=0.0, dc_worst_window=0.0, dc_worst_at_s=0.0, dc_mean=0.0,
            )  # fmt: skip
        power = float(self._sums.squares[part].mean()) / frames
        powers = self._sums.powers[:, part]
        active = (powers > ACTIVE_POWER).any(axis=1)
        active_power = 0.0
        if active.any():
            mean = powers[active].mean(axis=1, dtype=np.float64)
            active_power = float(np.average(mean, weights=self._sums.step_lengths_s[active]))
            del mean
        del powers  # a long file has many steps, and what follows makes copies of them
        peak = float(self._sums.peaks[part].max())
        plain = self._sums.sums[part] / frames
        offset = self._offset(part, plain)
        worst, at_s = self._worst_window(part)
        wander, step_s = self._wander(part), self._sums.step_frames / self._sums.rate_hz
        return Levels(
            rms_dbfs=power_to_db(power),
            active_rms_dbfs=power_to_db(active_power),
            crest_db=to_db(peak) - power_to_db(active_power or power) if power > 0.0 else None,
            dc_offset=offset,
            dc_worst_window=offset if worst is None else worst,
            dc_worst_at_s=at_s,
            dc_mean=_farthest(plain),
            dc_wander=wander.offset,
            dc_wander_at_s=wander.first_step * step_s,
            dc_wander_s=wander.steps * step_s,
        )

    def _offset(self, part: list[int], plain: Numbers) -> float:
        """Offset of the worst channel over the whole file. plain: mean of each channel."""
        means = self._sums.means[:, part].T
        powers = self._sums.powers[: means.shape[1], part].T
        offsets = [  # channel by channel: a long file's step sums are large, and this makes many copies
            standing_offset(mean[None], power[None], plain[[row]])[0]
            for row, (mean, power) in enumerate(zip(means, powers, strict=True))
        ]
        return _farthest(np.array(offsets))

    def _wander(self, part: list[int]) -> Wander:
        means = self._sums.means
        powers = self._sums.powers[: len(means)]
        found = [wandering_offset(means[:, channel], powers[:, channel]) for channel in part]
        return max(found, key=lambda one: abs(one.offset))

    def _worst_window(self, part: list[int]) -> tuple[float | None, float]:
        """Offset farthest from zero over 10 s of any channel, and where they begin; None if shorter."""
        count, hop = round(DC_WINDOW_S / STEP_S), round(DC_HOP_S / STEP_S)
        means = self._sums.means[:, part].T
        if means.shape[1] < count:
            return None, 0.0
        powers = self._sums.powers[: means.shape[1], part].T
        worst, place = 0.0, 0
        for mean, power in zip(means, powers, strict=True):
            windows = sliding_window_view(mean, count)[::hop]
            levels = sliding_window_view(power, count)[::hop]
            # In batches: all windows of a long file at once would be ten times its step sums, several times.
            for first in range(0, len(windows), WINDOWS_AT_ONCE):
                batch = slice(first, first + WINDOWS_AT_ONCE)
                some = windows[batch]
                offsets = standing_offset(some, levels[batch], np.zeros(len(some)))
                at = int(np.abs(offsets).argmax())
                if abs(offsets[at]) > abs(worst):
                    worst, place = float(offsets[at]), (first + at) * hop
        return worst, place * self._sums.step_frames / self._sums.rate_hz


def _farthest(values: Numbers) -> float:
    """The value farthest from zero."""
    return float(values[np.abs(values).argmax()])
