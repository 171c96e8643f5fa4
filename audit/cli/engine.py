"""Options that say how the player streams, the same for every command that needs them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from audit.errors import UsageError

if TYPE_CHECKING:
    from audit.settings.model import Engine

BufferOption: TypeAlias = Annotated[
    "str | None",
    typer.Option("--buffer", metavar="FRAMES", help="The player's buffer (default: settings, else 256)."),
]
RateOption: TypeAlias = Annotated[
    "str | None",
    typer.Option("--rate", metavar="HZ", help="The player's sample rate (default: the show's)."),
]
RefillOption: TypeAlias = Annotated[
    "str | None",
    typer.Option("--refill", metavar="SECONDS", help="How much of a stem is read at a time (default: 0.5)."),
]


def read_engine(buffer: str | None, rate: str | None, refill: str | None) -> Engine:
    """Raises UsageError for what cannot be."""
    from audit.settings.model import Engine

    frames = _number("--buffer", buffer, 16, 8192, "frames")
    rate_hz = _number("--rate", rate, 8000, 384_000, "Hz")
    return Engine(
        frames=None if frames is None else round(frames),
        rate_hz=None if rate_hz is None else round(rate_hz),
        refill_s=_number("--refill", refill, 0.05, 60, "seconds"),
    )


def _number(option: str, typed: str | None, low: float, high: float, unit: str) -> float | None:
    if typed is None:
        return None
    try:
        value = float(typed)
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        shown = typed.strip() or '""'
        raise UsageError(f"{option} {shown}: it takes {low:g} to {high:g} {unit}")
    return value
