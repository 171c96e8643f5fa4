"""A number of a machine, and where it comes from: that decides how far it can be trusted."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Provenance(str, Enum):
    """Where a number comes from."""

    MEASURED = "measured"
    FITTED = "fitted"
    DATASHEET = "datasheet"
    ESTIMATE = "estimate"

    @property
    def factor(self) -> float:
        """How far the truth may lie to either side, as a factor. Own estimate.

        Support: 12 measured runs of a disk against its forecast, 11 of them clean at 0.7 of it and 9 at 0.8.
        """
        return {"measured": 1.10, "fitted": 1.15, "datasheet": 1.25, "estimate": 2.0}[self.value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One number of a machine's profile."""

    value: float
    unit: str
    provenance: Provenance
    sd: float | None = None  # standard deviation of one measurement, in the same unit
    source: str = ""  # how it was measured, or who says so

    def times(self, sign: int) -> float:
        """The number lifted (sign 1) or lowered (−1) by its provenance's factor; 0: as it is."""
        return self.value * float(self.provenance.factor) ** sign


def estimate(value: float, unit: str, source: str = "", *, sd: float | None = None) -> Figure:
    """A number that nobody measured."""
    return Figure(value=value, unit=unit, provenance=Provenance.ESTIMATE, source=source, sd=sd)
