"""How the two sides of a pair belong together: correlation, difference, mid against side, balance.

    StereoMeter(rate_hz, channels)   .add(block), .result(channels) -> Stereo | None

Pairs are neighbours that begin with an even channel: (0, 1), (2, 3) … The difference is summed from (l − r)²
itself, in float64, so that sides alike to −140 dB are still told apart (from Σl² + Σr² − 2Σlr they are not).
"""

from __future__ import annotations

import math

from audit.measure.samples import Samples
from audit.measure.steps import StepSums, part_channels
from audit.results import Stereo
from audit.units import power_to_db


class StereoMeter:
    """sums: shared step sums; whoever shares them feeds them, and `add` does nothing."""

    def __init__(self, rate_hz: int, channels: int, *, sums: StepSums | None = None) -> None:
        self._own = sums is None
        self._sums = StepSums(rate_hz, channels) if sums is None else sums

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        if self._own:
            self._sums.add(block)

    def result(self, channels: tuple[int, ...] | None = None) -> Stereo | None:
        """The pair's picture; None for anything but one pair as above (in either order).

        Correlation is Σlr / √(Σl² Σr²), without removing the means; 0.0 where a side is silent. Both sides
        silent: difference −inf, mid against side +inf (the side is empty), imbalance 0.0.
        """
        part = part_channels(channels, self._sums.channels)
        if len(part) != 2 or abs(part[0] - part[1]) != 1 or min(part) % 2:
            return None
        squares = self._sums.squares
        left, right = float(squares[part[0]]), float(squares[part[1]])
        product, difference, together = (float(value) for value in self._sums.products[min(part) // 2])
        whole = left + right
        both = left > 0.0 and right > 0.0
        correlation = product / (math.sqrt(left) * math.sqrt(right)) if both else 0.0
        return Stereo(
            correlation=max(-1.0, min(1.0, correlation)),
            difference_db=power_to_db(difference / whole) if whole > 0.0 else -math.inf,
            mid_side_db=_level_over(together, difference, empty=math.inf),
            imbalance_db=_level_over(left, right, empty=0.0),
        )


def _level_over(energy: float, other: float, *, empty: float) -> float:
    """Ratio of two energies in dB: ±inf where one is zero, `empty` where both are."""
    if energy == 0.0 and other == 0.0:
        return empty
    return power_to_db(energy / other) if other > 0.0 else math.inf
