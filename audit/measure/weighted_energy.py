"""K-weighted energy in steps of 10 ms, the common ground of every loudness figure. Fed in blocks.

    StepEnergies(rate_hz, channels)   add(block) -> energies of the steps that block finished

Step k holds the frames from round(k · rate / 100) up to round((k + 1) · rate / 100), so rates where 10 ms is
no whole number of frames (22 050, 11 025 Hz) stay in step with the clock.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.errors import BadSamplesError
from audit.measure.samples import Samples, check_block, check_rate
from audit.measure.weighting import design_k_weighting

STEPS_PER_S = 100

Energies = npt.NDArray[np.float64]
"""Sums of squares of the K-weighted samples, shape (steps, channels)."""


def step_end(step: int, rate_hz: int) -> int:
    """The frame after the last one of a step."""
    return ((step + 1) * rate_hz + STEPS_PER_S // 2) // STEPS_PER_S


class StepEnergies:
    """K-weighting and squaring of a stream of blocks.

    compiled: False takes scipy's filters instead of our compiled ones; tests compare the two.
    """

    def __init__(self, rate_hz: int, channels: int, *, compiled: bool = True) -> None:
        check_rate(rate_hz)
        if channels < 1:
            raise BadSamplesError("a meter needs at least one channel")
        self.rate_hz = rate_hz
        self.channels = channels
        self.frames = 0
        self.steps = 0
        self._chain = _CompiledChain(rate_hz, channels) if compiled else _PlainChain(rate_hz, channels)

    def add(self, block: Samples) -> Energies:
        """Take in one block; returns the energies of the steps it finished (often several, or none).

        Raises BadSamplesError if the block's shape or type is wrong or a value is not finite.
        """
        check_block(block, self.channels)
        finished = self._chain.add(np.ascontiguousarray(block), self.frames, self.steps)
        self.frames += block.shape[0]
        self.steps += finished.shape[0]
        # A value that is not a number stays in the recursion for good: looking at the state is enough.
        if not np.isfinite(self._chain.state).all():
            raise BadSamplesError("a sample is not a finite number")
        return finished

    @property
    def unfinished(self) -> Energies:
        """Energy of the frames after the last whole step, shape (channels,)."""
        return self._chain.unfinished


class _CompiledChain:
    """The filters of energy_kernel."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        from audit.measure import energy_kernel

        weighting = design_k_weighting(rate_hz)
        shelf, high_pass = weighting.shelf, weighting.high_pass
        self._kernel = energy_kernel.gather_energy
        self._rate_hz = rate_hz
        self._channels = channels
        self._shelf = np.array((shelf.b0, shelf.b1, shelf.b2)) * high_pass.b0
        self._poles = np.array((shelf.a1, shelf.a2, high_pass.a1, high_pass.a2))
        self._history = np.zeros(4 * channels)
        self.state: Energies = np.zeros((channels, energy_kernel.STATES))

    def add(self, block: Samples, first_frame: int, step: int) -> Energies:
        room = block.shape[0] * STEPS_PER_S // self._rate_hz + 2
        finished = np.empty((room, self._channels))
        done = self._kernel(
            block.reshape(-1), self._channels, self._rate_hz, first_frame, step, self._shelf, self._poles,
            self._history, self.state, finished,
        )  # fmt: skip
        return finished[:done]

    @property
    def unfinished(self) -> Energies:
        energies: Energies = self.state[:, -1].copy()
        return energies


class _PlainChain:
    """The same in terms of scipy."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        weighting = design_k_weighting(rate_hz)
        self._rate_hz = rate_hz
        self._sections = np.array(
            [(s.b0, s.b1, s.b2, 1.0, s.a1, s.a2) for s in (weighting.shelf, weighting.high_pass)]
        )
        self.state: Energies = np.zeros((2, 2, channels))
        self.unfinished: Energies = np.zeros(channels)

    def add(self, block: Samples, first_frame: int, step: int) -> Energies:
        from scipy.signal import sosfilt

        finished: list[Energies] = []
        if block.shape[0] > 0:
            weighted, self.state = sosfilt(self._sections, block.astype(np.float64), axis=0, zi=self.state)
            squares = weighted * weighted
            at = 0
            while at < squares.shape[0]:
                end = step_end(step, self._rate_hz) - first_frame
                self.unfinished = self.unfinished + squares[at:end].sum(axis=0)
                if end > squares.shape[0]:
                    break
                finished.append(self.unfinished)
                self.unfinished = np.zeros_like(self.unfinished)
                at = end
                step += 1
        return np.array(finished).reshape(-1, block.shape[1])
