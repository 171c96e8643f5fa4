"""Machines and songs in numbers, for the tests of the load model."""

from __future__ import annotations

from dataclasses import replace

from audit.load.demand import SongLoad, StemLoad
from audit.load.figure import Figure, Provenance, estimate
from audit.load.profile import Profile


def measured(value: float, unit: str = "", *, sd: float | None = None) -> Figure:
    return Figure(value=value, unit=unit, provenance=Provenance.MEASURED, sd=sd)


def strong(name: str = "strong") -> Profile:
    """A machine with room everywhere, every number measured."""
    return Profile(
        name=name,
        cores=measured(4),
        speed=measured(1.0),
        memory_available=measured(8e9),
        latency=measured(1e-4, sd=2e-5),
        transfer=measured(5e8),
        throttle=measured(0.95),
        callback_base=measured(50e-6),
        callback_per_voice=measured(1e-6),
        lateness=measured(100e-6),
        outputs=8,
    )


def stems(number: int, codec: str = "pcm24", rate_hz: int = 48000, channels: int = 2) -> tuple[StemLoad, ...]:
    width = {"pcm16": 2, "float32": 4, "float64": 8}.get(codec, 3)
    one = StemLoad(
        name="",
        codec=codec,
        channels=channels,
        rate_hz=rate_hz,
        bytes_per_s=float(width * channels * rate_hz),
    )
    return tuple(replace(one, name=f"{codec} {place}") for place in range(number))


def song(*groups: tuple[StemLoad, ...], name: str = "Night Ferry") -> SongLoad:
    every = tuple(stem for group in groups for stem in group)
    return SongLoad(
        name=name, stems=tuple(replace(stem, name=f"{place} {stem.name}") for place, stem in enumerate(every))
    )


def guessed(profile: Profile, name: str, value: float) -> Profile:
    return replace(profile, **{name: estimate(value, "")})  # type: ignore[arg-type]
