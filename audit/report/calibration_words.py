"""How a profile's readings fit, on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from rich.console import Console

from audit.report.page import Cell, Page, right
from audit.report.words import signed
from audit.units import count


class Reading(Protocol):
    """A reading as a profile keeps it."""

    @property
    def song(self) -> str: ...
    @property
    def cpu_pct(self) -> float: ...
    @property
    def model_pct(self) -> float: ...
    @property
    def frames(self) -> int | None: ...
    @property
    def rate_hz(self) -> int | None: ...


class Fit(Protocol):
    """What the least squares gave."""

    @property
    def factor(self) -> float: ...
    @property
    def constant_pct(self) -> float: ...
    @property
    def residuals_pct(self) -> tuple[float, ...]: ...
    @property
    def rms_pct(self) -> float: ...


def print_calibration(machine: str, readings: Sequence[Reading], fit: Fit, console: Console) -> None:
    """One line a reading with what is left over of it, and the factor.

    The buffers stand beside the readings where they differ; the player's own load is that at the last one's.
    """
    page = Page(console)
    buffers = [_buffer(each) for each in readings]
    several = len(set(buffers)) > 1
    at = f" at {buffers[-1]}" if several else ""
    constant = (
        f", and {fit.constant_pct:.1f} % of a core whatever plays{at}, the player's own"
        if fit.constant_pct
        else ""
    )
    page.put(
        (f"{machine} is corrected by {count(len(readings), 'reading')}", "bold"),
        f": the load is {fit.factor:.2f} times what was forecast{constant}; rms {fit.rms_pct:.1f} %.",
    )
    page.blank()
    columns = [
        *([["Buffer", *buffers]] if several else []),
        right(["Read", *(f"{each.cpu_pct:.1f} %" for each in readings)]),
        right(["Forecast before", *(f"{each.model_pct:.1f} %" for each in readings)]),
        right(["Left over", *(f"{signed(left)} %" for left in fit.residuals_pct)]),
    ]
    rows = [
        [Cell(words=each.song), *(Cell(words=column[line]) for column in columns)]
        for line, each in enumerate(readings, start=1)
    ]
    page.table(["Song", *(column[0] for column in columns)], rows, shrink=(0,))
    page.print()


def _buffer(reading: Reading) -> str:
    return f"{reading.frames} frames, {(reading.rate_hz or 0) / 1000:g} kHz"
