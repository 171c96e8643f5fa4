"""What a show's settings say, frozen. A show without settings has `NO_SETTINGS`.

None, or empty, always means that the settings do not speak of it. Fields bear the names of their keys in
show.toml, unless said here; audit/settings/keys.py documents those.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from audit.facts import Role
from audit.timecode import FrameRate, Label

AUDIENCE, CREW = "audience", "crew"


@dataclass(frozen=True, slots=True, kw_only=True)
class RolePattern:
    """Own names: stems that `pattern` fits have this role, or one a channel."""

    pattern: str
    roles: tuple[Role, ...]  # one for the whole stem, or one a channel, in their order
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSetting:
    """A rule's number moved by the settings; `more`: its further bounds, by name."""

    value: float | None = None
    more: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class SongSettings:
    """What is said of one song. `name`: its folder's name, with or without its number, in any letter case."""

    name: str = ""
    aliases: tuple[str, ...] = ()  # other names it goes by in set lists
    version: str | None = None  # the version folder, or mark, that is current
    bpm: float | None = None
    metre: str | None = None  # "4/4"
    count_in_beats: int | None = None
    timecode_start: Label | None = None  # the first frame's label
    timecode_at_beat_1: Label | None = None
    frame_rate: FrameRate | None = None
    preroll_s: float | None = None  # timecode before beat 1, at least
    loudness_lufs: float | None = None
    required_roles: tuple[Role, ...] = ()  # beside the show's
    segue: bool = False  # it runs straight on from the song before: its first sound may lack its attack
    line: int | None = None


NO_SONG_SETTINGS = SongSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class SetEntry:
    """One song of a set list, as it was written. heading: a line such as "Encore", a song only where one is
    called so."""

    name: str
    line: int | None = None
    heading: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SetList:
    """One night's order. `halves`: one tuple where there is no interval."""

    name: str
    halves: tuple[tuple[SetEntry, ...], ...]
    source: str = "show.toml"  # the file it was read from, as shown to people
    changeover_s: float = 0.0  # between two songs of a half
    interval_s: float = 0.0  # between two halves
    starts: int | None = None  # minutes after midnight
    ends: int | None = None  # minutes after midnight; before `starts` is the next day
    line: int | None = None

    @property
    def entries(self) -> tuple[SetEntry, ...]:
        """All songs in their order."""
        return tuple(entry for half in self.halves for entry in half)


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One line of the patch: what goes to an output, or to a pair of them, and who hears it."""

    out: tuple[int, ...]  # one number: mono; two: left and right. 1 is the first
    stems: tuple[str, ...]  # roles ("drums") or patterns of file names ("Pad *")
    heard_by: str = AUDIENCE  # AUDIENCE or CREW
    name: str = ""
    gain_db: float = 0.0
    songs: tuple[str, ...] = ("*",)  # patterns of the songs it is for
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """A fader: how much louder or quieter the player plays some stems, before the outputs' own gain."""

    gain_db: float
    stems: tuple[str, ...] = ("*",)  # roles or patterns of file names
    songs: tuple[str, ...] = ("*",)  # patterns of songs
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """How the player streams, the same on every machine unless the machine says otherwise."""

    frames: int | None = None  # of one callback
    rate_hz: int | None = None
    refill_s: float | None = None
    prebuffer_s: float | None = None
    refill_threads: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A computer that may have to carry the show: a measured profile, or a built-in class."""

    name: str
    profile: Path | None = None  # absolute; show.toml may give it relative to itself
    machine_class: str | None = None  # key `class`
    outputs: int | None = None  # of its interface; None: the show's `interface.outputs`
    engine: Engine = Engine()
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """A software instrument or effect that runs on the machine beside the stems."""

    name: str
    cores: float = 0.0  # cores' worth of a processor whose speed is 1.0
    memory_bytes: int = 0  # key `memory_gb`
    songs: tuple[str, ...] = ("*",)  # patterns of the songs it is loaded for
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    """A known fault that somebody has looked at: findings it fits stay visible and count for nothing."""

    rule: str
    reason: str
    song: str = "*"  # pattern
    stem: str = "*"  # pattern; "*" also fits findings that name no stem
    until: date | None = None  # the last day it holds
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowSettings:
    """Everything show.toml says."""

    source: str | None = None  # the file, as shown to people; None: there are no settings
    name: str | None = None
    sample_rate_hz: int | None = None
    bits: int | None = None
    true_bits: bool = False  # 16-bit audio in a 24-bit file is a warning
    frame_rate: FrameRate | None = None
    required_roles: tuple[Role, ...] = ()
    count_in_beats: int | None = None
    preroll_s: float | None = None
    loudness_lufs: float | None = None
    loudness_tolerance_lu: float | None = None
    default_set: str | None = None  # key `set`: the set list that a scan is for
    roles: tuple[RolePattern, ...] = ()
    audience: Mapping[Role, bool] = field(
        default_factory=dict
    )  # roles whose listeners are not the usual ones
    limits: Mapping[str, LimitSetting] = field(default_factory=dict)  # by rule id
    songs: tuple[SongSettings, ...] = ()
    sets: tuple[SetList, ...] = ()
    outputs: tuple[Output, ...] = ()
    gains: tuple[Gain, ...] = ()
    interface_outputs: int | None = None  # key `interface.outputs`
    engine: Engine = Engine()
    machines: tuple[Machine, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    waivers: tuple[Waiver, ...] = ()

    def __bool__(self) -> bool:
        """Whether there are settings at all."""
        return self.source is not None


NO_SETTINGS = ShowSettings()
