"""Flattened peaks: clipping that was turned down later, so that no sample is at full scale any more.

    FlatTopMeter(rate_hz, channels, bits=…, is_float=…)   .add(block), .result(channels) -> FlatTops

What clipping leaves is a plateau: three or more equal samples at the channel's own maximum (within 0.05 dB),
reached and left at a corner. Others have plateaus too, and must not count:

* A low note's top in 16 bits has many equal samples, but no corner. A parabola that stays within the spread s
  of a plateau of 2m + 1 samples has fallen by at most (1 + 2/m)² s two samples further on, 9 s for the
  shortest. So a corner is a fall of 10 times spread and quantum, and of 0.15 % of the level, in 1/24000 s.
  (A 40 Hz sine clipped by 1 dB falls by 0.5 % there.) The quantum is never taken finer than 16 bits: many
  24-bit and float files hold 16-bit audio.
* Sample-and-hold, 8-bit and stepped sounds have plateaus with corners at all levels. Where those below the
  top are many (LOWER_COUNT, LOWER_SHARE), none is reported.
* A square or pulse wave stands at its top most of the time: `share` says how much, for the rule to judge.
* DC, a held last sample and silence are never entered or never left.

Few plateaus prove little by themselves. `touches` counts how often the wave comes to exactly its maximum, in
one sample or more: what is cut off does so at every peak that was higher; what is not does so
once, or, where a sequencer plays the same sound again, at tops that are no plateaus.

Drums and plucks are cut off for two samples at most. Two equal samples are no plateau, as every other top may
lie between two samples; but that they are equal within the tolerance t where both neighbours lie f below them
comes about in t/f of all tops, whatever made these equally high: a limiter leaves it in 2 % of its own,
clipping in 10 to 50 %. So `pairs` are counted where f is PAIR_FALL times t (of 16 bits at the finest), and
`pairs_among` says of how many touches. The same sound again, with the same neighbours, counts once.

Equal means within 3 codes of 16 bits and more, which is what dither of the usual triangular kind leaves of
a constant; within 1 code below 16 bits. Audio that was dithered to fewer bits than its file has is common: 16
in 24, 24 in float. So what can hold more than 16 bits is looked at twice, with 3 codes of its own bits (of 24
in float and lossy files) and with 3 of 16, which counts where it shows more.

Not found: what was resampled, filtered or coded after it was clipped (the plateaus are gone), or dithered
with shaped noise, which is wider; clipped parts below a later, higher peak; and hiss-like sounds most of
whose clipped peaks are one sample.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from audit.measure.samples import Samples, check_block, check_rate
from audit.measure.steps import part_channels
from audit.results import FlatTops
from audit.units import SILENCE_DB, to_db

BAND = 10.0 ** (-0.05 / 20.0)
"""Plateaus this far below the maximum still belong to it."""

STEEP = 0.0015
SOUND = np.float32(1e-3)
"""−60 dBFS: below it nothing is looked at, and no frame counts as sounding."""

LOWER_COUNT = 0.5
LOWER_SHARE = 0.01
"""A sound is stepped by nature where it has more than LOWER_COUNT plateaus below the top for each one at it,
and these take up more than LOWER_SHARE of its sounding frames. Own measurement: stepped sounds take 20 % and
more, the chance plateaus of 16-bit noise and cymbals under 0.1 %."""


PAIR_FALL = 60.0
"""Own measurement (tests/lab/MEASURED.md): at 30 up to 9 % of limiters' tops were pairs, at 60 4 %."""

FINEST_BITS, COARSEST_BITS = 24, 16
MORE = 1.25
"""So many times the plateaus have to show for the coarser look to count: it sees a few more by its nature."""


class FlatTopMeter:
    """bits: valid bits of a PCM sample, None for lossy codecs. Memory: tables of 12 levels a channel."""

    def __init__(self, rate_hz: int, channels: int, *, bits: int | None, is_float: bool) -> None:
        check_rate(rate_hz)
        from audit.measure.silence_kernel import is_silent

        self._is_silent = is_silent
        own = FINEST_BITS if is_float or bits is None else min(bits, FINEST_BITS)
        self._sights = [
            _Sight(rate_hz, channels, bits=width)
            for width in sorted({own, min(own, COARSEST_BITS)}, reverse=True)
        ]
        self._span = max(2, round(rate_hz / 24_000))
        self._channels = channels
        self._frames = 0
        # The frames just before the next one to be looked at, and those that wait for their successors.
        self._carry = np.zeros((0, channels), dtype=np.float32)

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        if len(block) == 0:
            return
        before, after = self._span + 2, self._span
        if self._frames == 0:
            # As if the first sample had been held for ever: what begins with the file was not entered.
            self._carry = np.repeat(block[:1], before, axis=0)
        lead = before + after
        head = np.asfortranarray(np.concatenate((self._carry, block[:lead])))
        self._look(head, self._frames - len(self._carry))
        if len(block) > lead:
            self._look(block, self._frames)
        self._frames += len(block)
        tail = block if len(block) >= lead else np.concatenate((self._carry, block))
        self._carry = tail[-lead:].copy()

    def _look(self, block: Samples, frame: int) -> None:
        """All frames of a block that have enough others before and after them."""
        start, stop = self._span + 2, len(block) - self._span
        if stop <= start:
            return
        for channel in range(self._channels):
            wave = np.ascontiguousarray(block[:, channel])
            silent = self._is_silent(wave)
            for sight in self._sights:
                if not silent or sight.is_on_a_top(channel):
                    sight.look(wave, start, stop, frame, channel)

    def result(self, channels: tuple[int, ...] | None = None) -> FlatTops:
        """Plateaus of the given channels (None: all), each at its own maximum, added up.

        level_dbfs: that of the highest. A plateau in the last 0.1 ms of the file is not seen.
        """
        part = part_channels(channels, self._channels)
        seen = [self._seen(channel) for channel in part]
        found = [tops for tops in seen if tops.plateaus]
        paired = [tops for tops in seen if tops.pairs]
        sounding = sum(tops.sounding for tops in seen)
        return FlatTops(
            level_dbfs=to_db(max(tops.level for tops in found)) if found else SILENCE_DB,
            plateaus=sum(tops.plateaus for tops in found),
            longest_frames=max((tops.longest for tops in found), default=0),
            first_at_frame=min((tops.first for tops in found), default=None),
            touches=sum(tops.touches for tops in found),
            share=min(1.0, sum(tops.frames for tops in found) / sounding) if sounding else 0.0,
            pairs=sum(tops.pairs for tops in paired),
            pairs_among=sum(tops.touches for tops in paired),
            pairs_dbfs=to_db(max(tops.touch_level for tops in paired)) if paired else SILENCE_DB,
            pairs_at_frame=min((tops.pair_at for tops in paired), default=None),
        )

    def _seen(self, channel: int) -> _Tops:
        finest, *coarser = (sight.tops(channel) for sight in self._sights)
        best = next((tops for tops in coarser if tops.plateaus > MORE * finest.plateaus), finest)
        if best.plateaus:
            return best
        return next((tops for tops in coarser if tops.pairs > MORE * finest.pairs), finest)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tops:
    """The plateaus of one channel at its maximum; none where it is stepped by nature."""

    sounding: float  # frames
    level: float = 0.0
    plateaus: int = 0
    frames: int = 0
    longest: int = 0
    first: int = 0
    touches: int = 0
    touch_level: float = 0.0
    pairs: int = 0
    pair_at: int = 0


class _Sight:
    """The channels as seen with one notion of equal: that of dithered audio of so many bits."""

    def __init__(self, rate_hz: int, channels: int, *, bits: int) -> None:
        from audit.measure import flat_tops_kernel as kernel

        step = 2.0 ** -(bits - 1)
        self._kernel = kernel
        self._tolerance = np.float32(step * (3.5 if bits >= COARSEST_BITS else 1.5))
        fall = PAIR_FALL * float(max(self._tolerance, np.float32(3.5 * 2.0**-15)))
        self._limits = (self._tolerance, SOUND, max(step, 2.0**-15), STEEP, BAND, fall)
        self._span = max(2, round(rate_hz / 24_000))
        self._state = np.zeros((channels, kernel.STATE_SIZE))
        self._tables = np.zeros((channels, kernel.ROWS, kernel.COLUMNS))

    def look(self, wave: Samples, start: int, stop: int, frame: int, channel: int) -> None:
        state, table = self._state[channel], self._tables[channel]
        self._kernel.scan(wave, start, stop, frame, state, table, self._span, self._limits)

    def is_on_a_top(self, channel: int) -> bool:
        """Whether a plateau has begun that has not ended: even silence tells it something."""
        return bool(self._state[channel, self._kernel.RUN_LENGTH] > 0.0)

    def tops(self, channel: int) -> _Tops:
        k, state, table = self._kernel, self._state[channel], self._tables[channel]
        sounding = float(state[k.SOUNDING])
        used = table[:, k.COUNT] > 0
        top = used & (table[:, k.LEVEL] >= state[k.PEAK] * BAND - self._tolerance)
        count = int(table[top, k.COUNT].sum())
        lower = state[k.BELOW] + table[used & ~top, k.COUNT].sum()
        lower_frames = state[k.BELOW_FRAMES] + table[used & ~top, k.FRAMES].sum()
        stepped = lower > LOWER_COUNT * count and lower_frames > LOWER_SHARE * sounding
        if stepped:
            return _Tops(sounding=sounding)
        touched = _Tops(
            sounding=sounding,
            touches=int(state[k.TOUCHES]),
            touch_level=float(state[k.TOUCH_LEVEL]),
            pairs=int(state[k.PAIRS]),
            pair_at=int(state[k.PAIR_AT]),
        )
        if count == 0:
            return touched
        return replace(
            touched,
            level=float(table[top, k.LEVEL].max()),
            plateaus=count,
            frames=int(table[top, k.FRAMES].sum()),
            longest=int(table[top, k.LONGEST].max()),
            first=int(table[top, k.FIRST].min()),
        )
