"""Levels of a part: RMS, RMS of the sounding time, crest factor, and the mean (DC).

    LevelMeter(rate_hz, channels)   .add(block), .result(channels) -> Levels

0 dBFS is the peak code: a full-scale sine reads −3.01 dBFS RMS. (AES17 has the other convention, where it
reads 0.) A part's power is the mean of its channels' powers. A step of 100 ms sounds where any
channel of the part is above −60 dBFS RMS in it.
"""

from __future__ import annotations

import numpy as np

from audit.measure.samples import Samples
from audit.measure.steps import STEP_S, StepSums, part_channels
from audit.results import Levels
from audit.units import power_to_db, to_db

ACTIVE_DBFS = -60.0
"""RMS of a 100 ms step past which it counts as sounding. Own judgement: below the reverb tails and the noise
of a recorded track, above converter noise."""

ACTIVE_POWER = 10.0 ** (ACTIVE_DBFS / 10.0)

DC_WINDOW_S = 10.0


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
        dc_worst_window: over every full 10 s that begins at a multiple of 100 ms.
        """
        part = list(part_channels(channels, self._sums.channels))
        frames = self._sums.frames
        if frames == 0:
            return Levels(
                rms_dbfs=-np.inf, active_rms_dbfs=-np.inf, crest_db=None,
                dc_offset=0.0, dc_worst_window=0.0, dc_worst_at_s=0.0,
            )  # fmt: skip
        power = float(self._sums.squares[part].mean()) / frames
        powers = self._sums.powers[:, part].astype(np.float64)
        active = (powers > ACTIVE_POWER).any(axis=1)
        lengths = self._sums.step_lengths_s[active]
        active_power = 0.0
        if active.any():
            active_power = float(np.average(powers[active].mean(axis=1), weights=lengths))
        peak = float(self._sums.peaks[part].max())
        offsets = self._sums.sums[part] / frames
        offset = float(offsets[np.abs(offsets).argmax()])
        worst, at_s = self._worst_window(part)
        return Levels(
            rms_dbfs=power_to_db(power),
            active_rms_dbfs=power_to_db(active_power),
            crest_db=to_db(peak) - power_to_db(active_power or power) if power > 0.0 else None,
            dc_offset=offset,
            dc_worst_window=offset if worst is None else worst,
            dc_worst_at_s=at_s,
        )

    def _worst_window(self, part: list[int]) -> tuple[float | None, float]:
        """Mean farthest from zero over 10 s of any channel, and where they begin; None if shorter."""
        means = self._sums.means[:, part].astype(np.float64)
        count = round(DC_WINDOW_S / STEP_S)
        if len(means) < count:
            return None, 0.0
        run = np.cumsum(np.vstack((np.zeros(len(part)), means)), axis=0)
        windows = (run[count:] - run[:-count]) / count
        at, channel = np.unravel_index(np.abs(windows).argmax(), windows.shape)
        return float(windows[at, channel]), float(at * self._sums.step_frames / self._sums.rate_hz)
