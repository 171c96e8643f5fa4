"""The nouns of a show: what lies in the folder, before anything was listened to. Frozen, no file access."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import Literal


class Role(str, Enum):
    """What a stem (or one channel of it) is for. The value is the word that reports and settings use."""

    CLICK = "click"
    GUIDE = "guide"
    TIMECODE = "timecode"
    DRUMS = "drums"
    PERCUSSION = "percussion"
    LOOP = "loop"
    BASS = "bass"
    GUITAR = "guitar"
    KEYS = "keys"
    PIANO = "piano"
    ORGAN = "organ"
    SYNTH = "synth"
    PAD = "pad"
    STRINGS = "strings"
    BRASS = "brass"
    WOODWIND = "woodwind"
    LEAD_VOCAL = "lead vocal"
    BACKING_VOCALS = "backing vocals"
    CHOIR = "choir"
    EFFECTS = "effects"
    FULL_MIX = "full mix"
    OTHER = "other"

    @property
    def audience(self) -> bool:
        """Whether the audience hears this role (unless the show's settings say otherwise)."""
        return self not in CREW_ROLES


CREW_ROLES = frozenset({Role.CLICK, Role.GUIDE, Role.TIMECODE})
"""Heard by the band and the crew only; never part of the song's mix."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StemFormat:
    """How a stem is stored, as its header says (frames: as many as are really there)."""

    container: str  # "WAV", "RF64", "BW64", "W64", "AIFF", "AIFC", "CAF", "FLAC", "OGG", "MP3"
    encoding: str  # libsndfile's subtype name: "PCM_24", "FLOAT", "VORBIS" …
    sample_rate_hz: int
    channels: int
    frames: int
    bits: int | None = None  # valid bits of a sample; None for lossy codecs
    is_float: bool = False
    lossy: bool = False
    time_reference_frames: int | None = None  # bext: frames since midnight, at the file's own rate
    data_offset_bytes: int | None = None  # where the samples begin, for uncompressed containers
    frame_bytes: int | None = None  # bytes of one frame, for uncompressed containers

    @property
    def duration_s(self) -> float:
        return self.frames / self.sample_rate_hz if self.sample_rate_hz else 0.0


def common_length_s(
    lengths_s: Sequence[float], within_s: float, *, like: float | None = None
) -> float | None:
    """The length that at least half of the stems share; of several the one that is `like`, else the longest.
    None where none is."""
    shared = [
        (
            sum(abs(other - length) <= within_s for other in lengths_s),
            like is not None and abs(length - like) <= within_s,
            length,
        )
        for length in lengths_s
    ]
    most, _, length = max(shared, default=(0, False, 0.0))
    return length if most and 2 * most >= len(lengths_s) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionMark:
    """What a version mark in a name says of the order; only marks of one kind and scheme can be compared."""

    kind: Literal["plain", "old", "counted", "copy", "number", "date", "final", "word"] = "plain"
    scheme: str = ""  # of a number: "v", "rev", "mix" …
    numbers: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stem:
    """One audio file of a song."""

    file: str  # relative to the song's folder, "/" between parts: "Bass.wav", "Audio/Bass.wav"
    path: Path
    role: Role
    role_is_guess: bool  # no word of the name named a role (role is then OTHER)
    channel_roles: tuple[Role, ...] = ()  # only where the name says more than one: ("click", "timecode")
    size_bytes: int = 0
    modified_ns: int = 0
    file_id: int = 0  # the file system's own number of it; 0 where listing a folder does not tell
    allocated_bytes: int | None = None  # what the disk really holds; None where the system does not tell
    elsewhere: bool = False  # the system says that its bytes are not on this disk: a cloud's placeholder
    version: str | None = None  # the version mark in the name: "v2", "FINAL", "(1)"
    mark: VersionMark = VersionMark()  # what `version` says
    version_key: str = ""  # the name without its version mark: stems that share it are versions of each other
    is_wanted: bool = False  # its version mark is the one that the settings call current
    crew_roles: tuple[Role, ...] = (
        Role.CLICK,
        Role.GUIDE,
        Role.TIMECODE,
    )  # the roles that this show's audience does not hear

    def is_heard(self, role: Role) -> bool:
        """Whether the audience hears what has this role in the stem."""
        return role not in self.crew_roles


@dataclass(frozen=True, slots=True, kw_only=True)
class PassedOver:
    """Something in the folder that was not audited, and why."""

    path: str  # relative to the show's folder
    reason: str
    song: str | None = None  # the song's name where it lies in a song's folder
    stray: bool = False  # somebody left it there (a document, a picture), as opposed to system litter
    unread: bool = False  # it should have been audited and could not be: a locked folder, a link to nowhere
    holds_audio: bool = False  # a folder that stems could lie in: whoever misses a song looks here
    stem: bool = False  # a stem's file that is not audited, as another set counts or it is in no song
    packed: bool = False  # an archive in no song's folder: a song may be in it


@dataclass(frozen=True, slots=True, kw_only=True)
class Song:
    """One song's folder and its current stems, in natural order of their names."""

    name: str  # unique within the show
    folder: str  # relative to the show's folder; "." for a song that is scanned on its own
    path: Path
    stems: tuple[Stem, ...]
    version: str | None = None  # the version folder the stems come from, where there is one
    older_versions: tuple[str, ...] = ()  # version folders that were passed over
    title_key: str = ""  # its name without number and version mark: songs that share it are versions of one
    title_mark: VersionMark = VersionMark()  # in its own name, or its shelf's: "Rain v2", "v2/Rain"
    archive: str | None = None  # the archive ("Old") all stems come from, where nothing else holds audio
    title: str = ""  # its name without the number that counts it: "Opener" of "07 - Opener"
    unmarked: str = ""  # the title without its version mark: "Opener" of "07 - Opener v2"
    version_folders: tuple[str, ...] = ()  # those the stems come from, one for each group of stems
    unfinished_version: str | None = None  # a newer version folder that lacks most of the stems
    dropped_stems: tuple[str, ...] = ()  # of the version before the current one, which has nothing for them
    wanted_version: str | None = None  # what the settings say is current


@dataclass(frozen=True, slots=True, kw_only=True)
class Show:
    """The whole folder: songs in natural order, and what was passed over."""

    name: str
    path: Path
    songs: tuple[Song, ...]
    passed_over: tuple[PassedOver, ...] = field(default=())
    clips: str = ""  # where `hear` may write, seen from the current folder; "": where it does by itself
    clips_from_it: str = "../stemaudit-out"  # the same, seen from the show's folder
