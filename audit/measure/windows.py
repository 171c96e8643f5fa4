"""The loudest 400 ms and 3 s on a 10 ms grid, kept up to date while a file streams by.

EBU Tech 3341 case 13 needs a grid of 10 ms: on one of 100 ms a 400 ms burst falls between two windows.
Keeping every 10 ms would cost ten times the memory of the 100 ms hops, so the maxima are kept running, for
the groups of channels a stem is asked for: each channel alone, each pair (0 and 1, 2 and 3 …) and all.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from audit.measure.weighted_energy import STEPS_PER_S, Energies

MOMENTARY_STEPS = 40
SHORT_TERM_STEPS = 300


class LoudestWindows:
    """Running maxima of the momentary and short-term windows, for every group of channels.

    weights: one a channel, BS.1770-5 Table 3.
    """

    def __init__(self, weights: tuple[float, ...], *, compiled: bool = True) -> None:
        channels = len(weights)
        singles = [(c,) for c in range(channels)]
        pairs = [(c, c + 1) for c in range(0, channels - 1, 2)]
        groups = list(dict.fromkeys([*singles, *pairs, tuple(range(channels))]))
        self._index = {group: g for g, group in enumerate(groups)}
        self._groups = np.zeros((len(groups), channels))
        for g, group in enumerate(groups):
            for c in group:
                self._groups[g, c] = weights[c]
        self._recent: Energies = np.zeros((channels, 0))
        self._steps = 0
        self._maxima = {length: np.zeros(len(groups)) for length in (MOMENTARY_STEPS, SHORT_TERM_STEPS)}
        self._ends = {length: np.zeros(len(groups), dtype=np.int64) for length in self._maxima}
        if compiled:
            from audit.measure.windows_kernel import raise_maxima

            self._raise: Callable[..., None] = raise_maxima
        else:
            self._raise = raise_maxima_plainly

    def add(self, energies: Energies) -> None:
        """Take in finished 10 ms steps, shape (steps, channels)."""
        if energies.shape[0] == 0:
            return
        kept = self._recent.shape[1]
        together = np.ascontiguousarray(np.concatenate((self._recent, energies.T), axis=1))
        offset = self._steps - kept
        for length, maxima in self._maxima.items():
            first_end = max(kept + 1, length)
            self._raise(together, first_end, length, self._groups, maxima, self._ends[length], offset)
        self._steps += energies.shape[0]
        self._recent = together[:, -(SHORT_TERM_STEPS - 1) :].copy()

    def loudest(self, channels: tuple[int, ...], length: int) -> tuple[float, float] | None:
        """Energy of a group's loudest window of `length` steps, and its centre in seconds.

        None where the group is not kept (see the module). Energy 0.0 where there was no whole window.
        """
        group = self._index.get(channels)
        if group is None:
            return None
        centre_s = (int(self._ends[length][group]) - length / 2) / STEPS_PER_S
        return float(self._maxima[length][group]), centre_s


def raise_maxima_plainly(
    energies: Energies,
    first_end: int,
    length: int,
    groups: npt.NDArray[np.float64],
    maxima: npt.NDArray[np.float64],
    ends: npt.NDArray[np.int64],
    offset: int,
) -> None:
    """windows_kernel.raise_maxima in terms of numpy; tests compare the two."""
    if energies.shape[1] < first_end:
        return
    windows = np.lib.stride_tricks.sliding_window_view(energies[:, first_end - length :], length, axis=1)
    powers = groups @ windows.sum(axis=2)
    best = powers.argmax(axis=1)
    for g, at in enumerate(best):
        if powers[g, at] > maxima[g]:
            maxima[g] = powers[g, at]
            ends[g] = offset + first_end + at
