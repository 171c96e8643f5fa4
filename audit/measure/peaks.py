"""Sample peak and true peak: the highest sample, and the highest level the waveform reaches between samples.

    measure_peaks(samples, rate_hz)   one array in, Peaks out
    PeakMeter(rate_hz, channels)      the same for a stream of blocks, for any of its channels

True peak as in ITU-R BS.1770-5 Annex 2, with a better filter than the one printed there (interpolation.py),
at every rate alike: four points a sample find the candidates; those within 1 dB of the highest peak so far
are followed at 8, 16 and 32 points a sample, and a parabola through the last three gives the vertex. Parts of
a file that cannot raise the peak are passed over: the samples and their second differences bound what can lie
between them. Before the first and after the last frame there is silence, as a player's output has it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.errors import BadSamplesError
from audit.measure.interpolation import QUARTERS, REACH, interpolation_table, overshoot_bound
from audit.measure.peaks_plain import PlainScan
from audit.measure.samples import Samples, check_block, check_rate, check_samples
from audit.results import Peaks
from audit.units import to_db


class PeakMeter:
    """Peaks of a stream of blocks. Holds some thousand frames, however long the stream.

    rate_hz: 8 000 … 384 000. compiled: False computes every point at 32x with numpy; tests compare with it.
    """

    def __init__(self, rate_hz: int, channels: int, *, compiled: bool = True) -> None:
        check_rate(rate_hz)
        if channels < 1:
            raise BadSamplesError("a meter needs at least one channel")
        self._rate_hz = rate_hz
        self._channels = channels
        self._frames = 0
        self._scan = CompiledScan(channels) if compiled else PlainScan(channels)

    def add(self, block: Samples) -> None:
        """Take in the next frames: float32, shape (frames, channels), finite, any number of frames.

        Raises BadSamplesError if shape or type is wrong.
        """
        check_block(block, self._channels)
        self._scan.add(np.ascontiguousarray(block))
        self._frames += block.shape[0]

    def result(self, channels: tuple[int, ...] | None = None) -> Peaks:
        """Peaks of some of the channels (0-based; all where None); more may be added afterwards.

        Silence, and nothing at all, give -inf at frame 0. Of equal peaks the first counts.
        """
        chosen = tuple(range(self._channels)) if channels is None else tuple(sorted(set(channels)))
        if not chosen or not set(chosen) <= set(range(self._channels)):
            raise BadSamplesError(f"there are no channels {channels} among {self._channels}")
        peaks = self._scan.finished()
        sample = max((peaks[c] for c in chosen), key=lambda row: (row[0], -row[1]))
        true = max((peaks[c] for c in chosen), key=lambda row: (row[2], -row[3]))
        # The waveform may peak a moment before the first frame or after the last: that is told as the edge.
        place = min(max(float(true[3]), 0.0), max(self._frames - 1, 0))
        return Peaks(
            sample_dbfs=to_db(float(sample[0])),
            sample_at_frame=int(sample[1]),
            true_dbtp=to_db(float(true[2])),
            true_at_s=place / self._rate_hz,
            channel_dbfs=tuple(to_db(float(peaks[c][0])) for c in chosen),
        )


class CompiledScan:
    """Runs peaks_kernel over the blocks."""

    def __init__(self, channels: int) -> None:
        from audit.measure import peaks_kernel

        bound = overshoot_bound()
        self._kernel, self._segment = peaks_kernel.scan_block, peaks_kernel.SEGMENT
        self._table = interpolation_table()
        self._quarters = self._table[list(QUARTERS)].astype(np.float32)
        self._short = bound.short
        self._bounds = np.array((bound.gain, bound.curvature, bound.short_curvature))
        # The file begins after one segment of silence: its first samples ring before themselves.
        self._planes = np.zeros((channels, peaks_kernel.PLANE_FRAMES), dtype=np.float32)
        self._filled = peaks_kernel.BEFORE + REACH
        self._next_frame = -REACH
        self._peaks = np.zeros((channels, 4))
        self._silence = np.zeros((peaks_kernel.AFTER + peaks_kernel.SEGMENT + REACH, channels), np.float32)

    def add(self, block: Samples) -> None:
        self._filled, self._next_frame = self._run(block, self._planes, self._peaks)

    def finished(self) -> npt.NDArray[np.float64]:
        """Sample peak, its frame, true peak, its place in frames; shape (channels, 4). Changes nothing."""
        peaks: npt.NDArray[np.float64] = self._peaks.copy()
        self._run(self._silence, self._planes.copy(), peaks)
        return peaks

    def _run(
        self, block: Samples, planes: npt.NDArray[np.float32], peaks: npt.NDArray[np.float64]
    ) -> tuple[int, int]:
        filled, next_frame = self._kernel(
            block.reshape(-1), block.shape[1], planes, self._filled, self._next_frame, self._table,
            self._quarters, self._short, self._bounds, peaks, self._segment,
        )  # fmt: skip
        return filled, next_frame


def measure_peaks(samples: npt.NDArray[np.floating], rate_hz: int) -> Peaks:
    """Highest sample and highest interpolated value over all channels of a whole recording.

    samples: any float type, shape (frames, channels), full scale 1.0, at least one frame.
    Raises BadSamplesError if the shape, the type or the rate is wrong, or a value is not finite.
    Source: ITU-R BS.1770-5 Annex 2. Tolerance: +0.2 / −0.4 dB (EBU Tech 3341 cases 15-23).
    """
    checked = check_samples(samples, rate_hz)
    meter = PeakMeter(rate_hz, checked.shape[1])
    meter.add(checked)
    return meter.result()
