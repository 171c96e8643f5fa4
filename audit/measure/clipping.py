"""Runs of samples at full scale: what a converter, a bounce or a plug-in leaves when the level went past it.

    ClippingMeter(rate_hz, channels, bits=…, is_float=…)
        .add(block), .result(channels, bits_in_use=…) -> Clipping

Full scale is that of the file's own format: for PCM of n bits the highest code, 2^(n−1) − 1, and on the
negative side both −(2^(n−1) − 1) and −2^(n−1) (AES17 puts full scale at ±(2^(n−1) − 1), and clippers produce
either); for float and lossy files ±1.0 and all above. Audio of fewer bits in a larger sample, integer or
float, was clipped at the full scale of those bits, ±32767/32768 for 16, and is judged by that. A run is of
one sign; its samples need not be equal.

There is no agreed standard for how many samples make a clip. Mastering systems let the user count from 4, 8
or 16; three in a row is the usual default of software [memory]. One or two full-scale samples are legal:
normalised audio has them. So runs count from three, and from ten separately.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from audit.measure.samples import Samples, check_block, check_rate
from audit.measure.steps import part_channels
from audit.results import Clipping

PADDED_BITS = (8, 16, 20, 24)
RUN = 3
LONG_RUN = 10


@dataclass(slots=True)
class _Channel:
    """One channel's account. The open run is the one that reaches the end of the last block."""

    runs: int = 0
    long_runs: int = 0
    longest: int = 0
    longest_at: int | None = None
    first_at: int | None = None
    over: int = 0
    open_sign: int = 0
    open_length: int = 0
    open_start: int = 0

    def close(self, start: int, length: int) -> None:
        if length < RUN:
            return
        self.runs += 1
        self.long_runs += length >= LONG_RUN
        if self.first_at is None:
            self.first_at = start
        if length > self.longest:
            self.longest, self.longest_at = length, start

    def close_open(self) -> None:
        self.close(self.open_start, self.open_length)
        self.open_sign = self.open_length = 0

    def closed(self) -> _Channel:
        """This account as if the file ended here."""
        copy = _Channel(
            self.runs, self.long_runs, self.longest, self.longest_at, self.first_at, self.over,
            self.open_sign, self.open_length, self.open_start,
        )  # fmt: skip
        copy.close_open()
        return copy


class ClippingMeter:
    """bits: valid bits of a PCM sample, None for lossy codecs. Memory: a few numbers a channel."""

    def __init__(self, rate_hz: int, channels: int, *, bits: int | None, is_float: bool) -> None:
        check_rate(rate_hz)
        count = None if is_float else bits
        self._full = _full_scale(count)
        self._counts_over = count is None
        self._channels = [_Channel() for _ in range(channels)]
        widest = 32 if is_float else bits or 0
        self._padded = {
            width: [_Channel() for _ in range(channels)] for width in PADDED_BITS if width < widest
        }
        self._frames = 0

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, len(self._channels))
        if len(block) == 0:
            return
        scales = [(self._full, self._channels)]
        scales += [(_full_scale(width), accounts) for width, accounts in self._padded.items()]
        for channel in range(len(self._channels)):
            wave = block[:, channel]
            highest = max(wave.max(), -wave.min())
            for full, accounts in scales:
                if highest < full:
                    accounts[channel].close_open()
                else:
                    self._add_channel(np.ascontiguousarray(wave), accounts[channel], full)
        self._frames += len(block)

    def _add_channel(self, wave: Samples, account: _Channel, full: np.float32) -> None:
        if self._counts_over:
            account.over += int(np.count_nonzero(np.abs(wave) > 1.0))
        at = np.flatnonzero(np.abs(wave) >= full)
        signs = np.sign(wave[at])
        new = np.flatnonzero((np.diff(at) > 1) | (np.diff(signs) != 0)) + 1
        starts = np.concatenate(([0], new))
        ends = np.concatenate((new, [len(at)]))
        for begin, end in zip(starts.tolist(), ends.tolist(), strict=True):
            first, sign, length = int(at[begin]), int(signs[begin]), end - begin
            if first == 0 and sign == account.open_sign:
                account.open_length += length
            else:
                account.close_open()
                account.open_sign, account.open_length = sign, length
                account.open_start = self._frames + first
        if at[-1] != len(wave) - 1:
            account.close_open()

    def result(self, channels: tuple[int, ...] | None = None, *, bits_in_use: int | None = None) -> Clipping:
        """Runs of the given channels (None: all) added up; over_full_scale is always 0 for PCM.

        bits_in_use: of those channels (measure.bits); 16 in a larger sample means 16-bit audio, and so on.
        """
        part = part_channels(channels, len(self._channels))
        padded = self._padded.get(bits_in_use or 0)
        accounts = [(padded or self._channels)[channel].closed() for channel in part]
        worst = max(accounts, key=lambda account: account.longest)
        return Clipping(
            runs=sum(account.runs for account in accounts),
            long_runs=sum(account.long_runs for account in accounts),
            longest_frames=worst.longest,
            longest_at_frame=worst.longest_at,
            first_at_frame=min(
                (account.first_at for account in accounts if account.first_at is not None), default=None
            ),
            over_full_scale=sum(account.over for account in accounts),
        )


def _full_scale(bits: int | None) -> np.float32:
    full: np.float32 = np.float32(1.0 if bits is None else (2.0 ** (bits - 1) - 1) / 2.0 ** (bits - 1))
    return full
