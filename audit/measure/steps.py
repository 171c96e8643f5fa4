"""Sums over 100 ms steps: what levels, activity and the stereo picture are all computed from.

    StepSums(rate_hz, channels)   .add(block); then its properties
    part_channels(channels, count)   the channels a result is asked for, checked

Steps begin at multiples of 100 ms of the file. Sums are made in float64 within a step; what is kept of a step
afterwards is its mean, mean square and peak as float32 (12 bytes): 2.6 MB for three hours of stereo.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.errors import BadSamplesError
from audit.measure.cutting import Cutter
from audit.measure.samples import Samples, check_block, check_rate

STEP_S = 0.1

Wave = npt.NDArray[np.float64]


def part_channels(channels: tuple[int, ...] | None, count: int) -> tuple[int, ...]:
    """`channels` as asked for, all of `count` for None. Raises BadSamplesError for one that is not there."""
    if channels is None:
        return tuple(range(count))
    if not channels or not all(0 <= channel < count for channel in channels):
        raise BadSamplesError(f"there are no channels {channels} among {count}")
    return channels


def _added(total: Wave, rows: Wave) -> Wave:
    """Row after row, so that the total does not depend on how many came in one block: numpy's own sum pairs
    them up."""
    return np.asarray(np.cumsum(np.concatenate((total[None], rows)), axis=0)[-1])


class _Rows:
    """A float32 table that grows by a quarter: what is set aside for a long stem counts too."""

    def __init__(self, columns: int) -> None:
        self._table = np.zeros((64, columns), dtype=np.float32)
        self._count = 0

    def extend(self, rows: npt.NDArray[np.floating]) -> None:
        need = self._count + len(rows)
        if need > len(self._table):
            wider = np.empty((need + need // 4, self._table.shape[1]), dtype=np.float32)
            wider[: self._count] = self._table[: self._count]
            self._table = wider
        self._table[self._count : need] = rows
        self._count = need

    @property
    def rows(self) -> Samples:
        return self._table[: self._count]


class StepSums:
    """Per channel and step: sum, energy, peak; per pair (0, 1), (2, 3) …: Σ l·r, Σ (l−r)², Σ (l+r)².

    compiled: False takes the plain numpy path (for tests; same results within 1e-12).
    """

    def __init__(self, rate_hz: int, channels: int, *, compiled: bool = True) -> None:
        check_rate(rate_hz)
        self.rate_hz = rate_hz
        self.channels = channels
        self.step_frames = max(1, round(STEP_S * rate_hz))
        self._cutter = Cutter(self.step_frames, channels)
        self._frames = 0
        self._sums = np.zeros(channels)
        self._squares = np.zeros(channels)
        self._peaks = np.zeros(channels)
        self._products = np.zeros((channels // 2, 3))
        self._means = _Rows(channels)
        self._powers = _Rows(channels)
        self._tops = _Rows(channels)
        self._compiled = compiled
        if compiled:
            from audit.measure import steps_kernel

            self._kernel = steps_kernel

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self.channels)
        self._frames += len(block)
        for piece in self._cutter.cut(block):
            sums, squares, peaks, products = self._sum(piece, self.step_frames)
            self._sums = _added(self._sums, sums)
            self._squares = _added(self._squares, squares)
            self._products = _added(self._products, products)
            self._peaks = np.maximum(self._peaks, peaks.max(axis=0))
            self._means.extend(sums / self.step_frames)
            self._powers.extend(squares / self.step_frames)
            self._tops.extend(peaks)

    def _sum(self, piece: Samples, step: int) -> tuple[Wave, Wave, Wave, Wave]:
        """Sums, squares, peaks (steps, channels) and pair products (steps, pairs, 3) of whole steps."""
        count = len(piece) // step
        if not self._compiled:
            return self._sum_plainly(piece, step)
        sums, squares = np.zeros((self.channels, count)), np.zeros((self.channels, count))
        peaks = np.zeros((self.channels, count), dtype=np.int32)
        products = np.zeros((self.channels // 2, count, 3))
        waves = [np.ascontiguousarray(piece[:, channel]) for channel in range(self.channels)]
        for channel, wave in enumerate(waves):
            self._kernel.sum_channel(wave, step, sums[channel], squares[channel], peaks[channel])
        for pair in range(self.channels // 2):
            self._kernel.sum_pair(waves[2 * pair], waves[2 * pair + 1], step, products[pair])
        return sums.T, squares.T, peaks.view(np.float32).T.astype(np.float64), products.transpose(1, 0, 2)

    def _sum_plainly(self, piece: Samples, step: int) -> tuple[Wave, Wave, Wave, Wave]:
        wide = piece.astype(np.float64).reshape(-1, step, self.channels)
        pairs = self.channels // 2
        left, right = wide[:, :, 0 : 2 * pairs : 2], wide[:, :, 1 : 2 * pairs : 2]
        products = np.stack(
            [
                (left * right).sum(axis=1),
                ((left - right) ** 2).sum(axis=1),
                ((left + right) ** 2).sum(axis=1),
            ],
            axis=2,
        )
        return wide.sum(axis=1), (wide**2).sum(axis=1), np.abs(wide).max(axis=1), products

    def _rest(self) -> tuple[Wave, Wave, Wave, Wave] | None:
        """The same four of the unfinished last step; None where the file ends with a full one."""
        rest = self._cutter.rest
        return self._sum_plainly(rest, len(rest)) if len(rest) else None

    @property
    def frames(self) -> int:
        return self._frames

    @property
    def sums(self) -> Wave:
        """Σ x of each channel, shape (channels,)."""
        rest = self._rest()
        return self._sums if rest is None else np.add(self._sums, rest[0][0])

    @property
    def squares(self) -> Wave:
        """Σ x² of each channel, shape (channels,)."""
        rest = self._rest()
        return self._squares if rest is None else np.add(self._squares, rest[1][0])

    @property
    def peaks(self) -> Wave:
        """Highest |x| of each channel, shape (channels,)."""
        rest = self._rest()
        return self._peaks if rest is None else np.maximum(self._peaks, rest[2][0])

    @property
    def products(self) -> Wave:
        """Σ l·r, Σ (l−r)², Σ (l+r)² of each pair, shape (pairs, 3)."""
        rest = self._rest()
        return self._products if rest is None else np.add(self._products, rest[3][0])

    @property
    def means(self) -> Samples:
        """Mean of each full step, shape (steps, channels)."""
        return self._means.rows

    @property
    def powers(self) -> Samples:
        """Mean square of each step, shape (steps, channels); an unfinished last step is the last row."""
        rest = self._rest()
        if rest is None:
            return self._powers.rows
        last = (rest[1] / len(self._cutter.rest)).astype(np.float32)
        return np.concatenate((self._powers.rows, last))

    @property
    def tops(self) -> Samples:
        """Highest |x| of each step, shape (steps, channels); rows as those of `powers`."""
        rest = self._rest()
        return (
            self._tops.rows if rest is None else np.concatenate((self._tops.rows, rest[2].astype(np.float32)))
        )

    @property
    def step_lengths_s(self) -> Wave:
        """Length of each row of `powers`, in seconds."""
        lengths = np.full(len(self._powers.rows), self.step_frames / self.rate_hz)
        rest = len(self._cutter.rest)
        return np.append(lengths, rest / self.rate_hz) if rest else lengths
