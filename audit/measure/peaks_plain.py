"""The peak meter's plain path: every point at 32x in terms of numpy, nothing passed over. For the tests."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.measure.interpolation import REACH, STEPS, TAPS, interpolation_table
from audit.measure.samples import Samples

_TURN_FRAMES = 4096


class PlainScan:
    """Peaks of each channel of a stream of blocks: shape (channels, 4), as peaks.CompiledScan has them."""

    def __init__(self, channels: int) -> None:
        self._frames = 0
        self._peaks = np.zeros((channels, 4))
        # The last frames again (2 reaches of silence at first), and one more on each side for the parabola.
        self._recent = np.zeros((2 * REACH + TAPS, channels))

    def add(self, block: Samples) -> None:
        self._recent = _scan(self._recent, block, self._frames, self._peaks)
        self._frames += block.shape[0]

    def finished(self) -> npt.NDArray[np.float64]:
        """Sample peak, its frame, true peak, its place in frames; shape (channels, 4). Changes nothing."""
        peaks: npt.NDArray[np.float64] = self._peaks.copy()
        silence = np.zeros((2 * TAPS, peaks.shape[0]), dtype=np.float32)
        _scan(self._recent, silence, self._frames, peaks)
        return peaks


def _scan(
    recent: npt.NDArray[np.float64], block: Samples, first_frame: int, peaks: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Raise the peaks by a block; returns the frames the next one needs again."""
    kept = recent.shape[0]
    for begin in range(0, block.shape[0], _TURN_FRAMES):
        turn = block[begin : begin + _TURN_FRAMES]
        together: npt.NDArray[np.float64] = np.concatenate((recent, turn.astype(np.float64)))
        for c, row in enumerate(peaks):
            _raise_sample(row, np.abs(turn[:, c]), first_frame + begin)
            _raise_true(row, together[:, c], first_frame + begin - kept)
        recent = together[-kept:]
    return recent


def _raise_sample(row: npt.NDArray[np.float64], sizes: npt.NDArray[np.float32], first_frame: int) -> None:
    at = int(sizes.argmax())
    if sizes[at] > row[0]:
        row[0], row[1] = sizes[at], first_frame + at


def _raise_true(row: npt.NDArray[np.float64], samples: npt.NDArray[np.float64], first_frame: int) -> None:
    windows = np.lib.stride_tricks.sliding_window_view(samples, TAPS)
    sizes = np.abs(windows @ interpolation_table()[:STEPS].T).ravel()
    low, here, high = sizes[:-2], sizes[1:-1], sizes[2:]
    crests = np.nonzero((here >= low) & (here >= high) & (here > 0.0))[0]
    if crests.size == 0:
        return
    low, here, high = low[crests], here[crests], high[crests]
    bend = low - 2.0 * here + high
    shift = np.divide(0.5 * (low - high), bend, out=np.zeros_like(bend), where=bend < 0.0)
    tops = here - 0.25 * (low - high) * shift
    at = int(tops.argmax())
    if tops[at] > row[2]:
        row[2] = tops[at]
        row[3] = first_frame + REACH - 1 + (crests[at] + 1 + shift[at]) / STEPS
