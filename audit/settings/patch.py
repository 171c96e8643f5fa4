"""The patch of one song: which outputs its stems come out of, and how loud."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from audit.facts import Role
from audit.settings.model import Gain, Output, ShowSettings
from audit.settings.naming import fits_song, fits_stem

Parts = Sequence[tuple[Role, tuple[int, ...]]]
"""A stem's parts: their role and their channels, 0-based."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """The lines of the settings that are for one song."""

    outputs: tuple[Output, ...] = ()
    gains: tuple[Gain, ...] = ()

    @property
    def numbers(self) -> tuple[int, ...]:
        """The outputs in use, ascending."""
        return tuple(sorted({number for line in self.outputs for number in line.out}))

    def bare(self) -> Patch:
        """Without names and line numbers: what the sum of the outputs depends on."""
        outputs = tuple(replace(line, name="", songs=(), line=None) for line in self.outputs)
        return Patch(outputs=outputs, gains=tuple(replace(gain, songs=(), line=None) for gain in self.gains))


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Some channels of a stem on their way to a line of the patch."""

    line: Output
    role: Role
    channels: tuple[int, ...]


def patch_of(settings: ShowSettings, names: Iterable[str]) -> Patch:
    """The lines for a song with these names."""
    known = tuple(names)
    return Patch(
        outputs=tuple(line for line in settings.outputs if fits_song(line.songs, known)),
        gains=tuple(gain for gain in settings.gains if fits_song(gain.songs, known)),
    )


def routes(patch: Patch, file: str, parts: Parts) -> list[Route]:
    """Where a stem goes: every line that fits it, part by part. A role takes the channels of that role "
    "only."""
    return [
        Route(line=line, role=role, channels=channels)
        for line in patch.outputs
        for role, channels in parts
        if fits_stem(line.stems, file, (role,))
    ]


def gain_db(patch: Patch, file: str, role: Role) -> float:
    """The fader: of several lines that fit the last one counts; 0 dB without one."""
    fitting = [gain.gain_db for gain in patch.gains if fits_stem(gain.stems, file, (role,))]
    return fitting[-1] if fitting else 0.0
