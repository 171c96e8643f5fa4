"""Clicks under loud sound that leaves the top of the band empty: a wrong sample seen at half the rate.

    HighClickFinder(rate_hz)   .look(wave, start, stop, first_frame), .clicks(jolts)

Most sound falls towards the highest frequencies: drums, shakers and voices by 30 dB and more between 12 kHz
and half of the rate. A wrong sample does not. `low_clicks` looks at the lowest few kHz; turned upside down
(every second sample with the other sign) a wave has its highest few kHz there, and a wrong sample stays one.

Up there a jump looks like a wrong sample of half its height, and cut sounds jump, by design or not. So it
takes more than the same size in the whole band:

* one wrong sample explains the whole band's residual AS_A_STEP times better than a step, from both sides;
* where a wrong sample of that size would show below 3 kHz, it does, in that size;
* next to nothing is left beside it in its own band, and nothing else is nearly as large;
* what stands still between its steps (square waves, chips, crushed bits) is not judged;
* where the whole band jolts more than NEARBY times within NEARBY_S, half as high and more, that is the sound.

Own measurement, in `python -m tests.damage_lab`: see tests/lab/MEASURED.md.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.low_clicks import BLOCK, NEARBY, NEARBY_S, SPAN, TAPS_A_SIDE, LowClickFinder
from audit.measure.samples import Samples
from audit.results import SpliceClick
from audit.units import from_db

STANDS_OUT = 5.0
"""Of a click in its band over the mean of 21 ms before and after, before any model: spares most of pads,
strings and voices the models, and lost none of 122 planted in drums."""

LEAST_SCORE = 16.0
LEFT, LEFT_EITHER, OF_SCORE = 2.5, 3.0, 1.5e-4
OTHER = 0.25
FALL_DB, RISE_DB = 8.0, 4.0

AS_A_STEP, LEFT_LEAST, STEP_SPAN_S = 2.0, 0.8, 0.03
"""Own measurement: wrong samples in drums and voices 2.9 and more, plucks and cut drums 0.1 to 1.9."""

BELOW, BELOW_ERRORS = 0.05, 5.0
STILL, STILL_S = 0.02, 0.02


class HighClickFinder(LowClickFinder):
    """One channel. Memory: as the low one's."""

    _left, _falls_db, _rises_db = LEFT, FALL_DB, RISE_DB

    def __init__(self, rate_hz: int) -> None:
        from audit.measure import high_clicks_kernel

        super().__init__(rate_hz)
        self._steps = high_clicks_kernel
        self._signs = np.ones(len(self._taps), np.float32)
        self._signs[1::2] = -1.0
        self._turned = self._taps * self._signs
        side = TAPS_A_SIDE + 1
        self._shape = np.zeros(2 * side + 1)
        self._shape[1:-1] = self._taps[:: self._factor]

    def _thin(self, wave: Samples, out: Samples) -> None:
        """Out of a wave whose every second sample has the other sign; which of the two matters nowhere."""
        self._kernel.thinned(wave, self._turned, self._factor, out)
        if self._factor % 2:
            out[1::2] *= -1.0

    def _is_worth_it(self, thin: Samples) -> bool:
        """Whether a block's highest sample stands out of the blocks beside it."""
        return bool(self._steps.stands_out(thin, BLOCK, STANDS_OUT))

    def _same(self, whole: float, size: float) -> float:
        return abs(whole / size)  # the sign is that of its place

    def _is_fault(self, answer: npt.NDArray[np.float64], wave: Samples, here: int) -> bool:
        kernel = self._kernel
        scores = answer[[kernel.BEFORE, kernel.AFTER]]
        left = answer[[kernel.REST_BEFORE, kernel.REST_AFTER]]
        return bool(
            scores.min() >= LEAST_SCORE
            and np.all(left <= LEFT_EITHER + OF_SCORE * scores**2)
            and answer[kernel.OTHER] <= OTHER * scores.min()
            and not self._stands_still(wave, here)
            and super()._is_fault(answer, wave, here)
            and self._is_sample(wave, here)
            and self._shows_below(wave, here, abs(answer[kernel.SIZE]))
        )

    def _stands_still(self, wave: Samples, here: int) -> bool:
        near = round(STILL_S * self._rate_hz)
        return float(np.mean(np.diff(wave[here - near : here + near]) == 0.0)) > STILL

    def _is_sample(self, wave: Samples, here: int) -> bool:
        span = round(STEP_SPAN_S * self._rate_hz)
        side = span + self._steps.ORDER + 8
        piece = wave[here - side : here + side + 1].astype(np.float64)
        return float(self._steps.sample_or_step(piece, side, span, LEFT_LEAST)) >= AS_A_STEP

    def _shows_below(self, wave: Samples, here: int, size: float) -> bool:
        """Whether the low band holds the same, as far as it says anything."""
        factor, half = self._factor, len(self._taps) // 2
        count = (round(0.055 * self._rate_hz) - half) // factor
        count = min(count, SPAN + TAPS_A_SIDE + 5)
        thin = np.zeros(2 * count + 1, np.float32)
        self._kernel.thinned(wave[here - count * factor - half :], self._taps, factor, thin)
        span = count - (TAPS_A_SIDE + 3)
        fit, stands_out = self._steps.size_below(thin.astype(np.float64), count, span, self._shape, size)
        return bool(abs(abs(fit) - 1.0) <= BELOW + BELOW_ERRORS / max(stands_out, 1e-9))

    def clicks(self, others: Sequence[tuple[int, float]] = ()) -> list[SpliceClick]:
        """The clicks that are no part of the sound, in order. others: frames and sizes of the whole band's
        jolts."""
        near = NEARBY_S * self._rate_hz
        return [
            click
            for click in super().clicks()
            if sum(
                abs(frame - click.at_frame) <= near and size >= 0.5 * from_db(click.size_dbfs)
                for frame, size in others
            )
            <= NEARBY
        ]
