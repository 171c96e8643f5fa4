"""What was learned about stems, songs and the show. Rules read this and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from audit.facts import PassedOver, Role, Show, Song, Stem, StemFormat
from audit.results import (
    Alignment,
    Cause,
    ClickTrack,
    CommonSource,
    ContainerFault,
    Elsewhere,
    KeyFit,
    Leak,
    MixMeasures,
    OutputSum,
    PartMeasures,
    PartsFit,
    RhythmFit,
    SameAudio,
    SealCheck,
    StemMeasures,
    TimecodeTrack,
)
from audit.results.load import SongForecast
from audit.settings.model import NO_SETTINGS, NO_SONG_SETTINGS, ShowSettings, SongSettings, Waiver
from audit.settings.naming import all_names, song_names
from audit.settings.order import RunningOrder

Need = Literal["format", "audio"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SilenceBounds:
    """A part below both of these holds nothing. Rule silent-stem says where they come from."""

    peak_dbfs: float = -80.0
    loudness_lufs: float = -70.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PartEvidence:
    """The channels of a stem that share a role, and what was measured of them."""

    role: Role
    role_is_guess: bool
    audience: bool
    measures: PartMeasures
    silence: SilenceBounds = SilenceBounds()  # those in force
    click_leak: Leak | None = None  # None: not found, or not looked for (crew, no click in the song)
    timecode_leak: Leak | None = None

    @property
    def silent(self) -> bool:
        """Nothing in it: below both bounds of `silence`. A part without loudness is judged by its peak."""
        lufs = self.measures.loudness.integrated_lufs
        quiet = lufs is None or lufs < self.silence.loudness_lufs
        return quiet and self.measures.peaks.sample_dbfs < self.silence.peak_dbfs


@dataclass(frozen=True, slots=True, kw_only=True)
class StemEvidence:
    """One stem: its facts, its container, and its audio where it could be decoded."""

    stem: Stem
    format: StemFormat | None  # None: the header could not be read
    faults: tuple[ContainerFault, ...]
    audio: StemMeasures | None  # None: nothing could be decoded; `failure` says why
    parts: tuple[PartEvidence, ...] = ()
    failure: str | None = None
    failure_cause: Cause = Cause.FILE
    alignment: Alignment | None = None  # None: no click to tell by, or no music in it
    key: KeyFit | None = None  # None: no harmony in it, or none beside it
    rhythm: RhythmFit | None = None  # on the song's click; None: no click, or too few onsets under it
    elsewhere: tuple[Elsewhere, ...] = ()  # the show's other songs, where it fits badly at home

    @property
    def name(self) -> str:
        return self.stem.file

    @property
    def roles(self) -> tuple[Role, ...]:
        """The roles of its parts; the name's role where the audio could not be read."""
        return tuple(part.role for part in self.parts) or (self.stem.role,)

    @property
    def main_part(self) -> PartEvidence | None:
        """What stands for the whole stem where one part has to: the first that the audience hears, else the
        first; None where the audio could not be read."""
        return next((part for part in self.parts if part.audience), self.parts[0] if self.parts else None)

    @property
    def role(self) -> Role:
        """The main part's role; the name's where the audio could not be read."""
        return self.main_part.role if self.main_part is not None else self.stem.role

    @property
    def audience(self) -> bool:
        return any(self.stem.is_heard(role) for role in self.roles)

    @property
    def channel_roles(self) -> tuple[Role, ...]:
        """One role a channel, in channel order; empty where the audio could not be read."""
        by_channel = {channel: part.role for part in self.parts for channel in part.measures.channels}
        return tuple(by_channel[channel] for channel in sorted(by_channel))

    @property
    def silent(self) -> bool:
        """Every part of it is silent. False where the audio could not be read."""
        return bool(self.parts) and all(part.silent for part in self.parts)

    def missing(self, need: Need) -> str | None:
        """Why this stem cannot answer a rule that needs `need`; None where it can."""
        if need == "format" and self.format is None:
            return self.failure or "its header cannot be read"
        if need == "audio" and self.audio is None:
            return self.failure or "its audio cannot be decoded"
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class SongEvidence:
    """One song: its stems, and what only shows when they are heard together."""

    song: Song
    stems: tuple[StemEvidence, ...]
    mix: MixMeasures | None = None
    outputs: tuple[OutputSum, ...] | None = None  # None: no patch in the settings, or as mix_failure says
    mix_failure: str | None = None  # why the stems were not summed, nor a full mix compared with them
    parts_fits: tuple[PartsFit, ...] = ()
    common_sources: tuple[CommonSource, ...] | None = None  # None: no two stems were heard together
    passed_over: tuple[PassedOver, ...] = ()
    click: ClickTrack | None = None  # None: no part that is a click, or no click found in it
    click_stem: str | None = None  # the stem whose click that is, or would be
    settings: SongSettings = NO_SONG_SETTINGS  # what the show's settings say of this song
    forecasts: tuple[SongForecast, ...] = ()  # one for each machine that the settings name

    @property
    def name(self) -> str:
        return self.song.name

    @property
    def names(self) -> tuple[str, ...]:
        """All names that the settings' patterns may call it by."""
        return all_names(self.song.name, self.song.title, self.song.unmarked, self.settings)

    @property
    def listed_names(self) -> tuple[str, ...]:
        """Those that a set list may call it by, before any other song of that name."""
        return song_names(self.song.name, self.song.title, self.settings)

    @property
    def duration_s(self) -> float:
        """Length of the longest stem; 0.0 where none could be read."""
        return max((stem.format.duration_s for stem in self.stems if stem.format), default=0.0)

    @property
    def timecode_parts(self) -> tuple[tuple[StemEvidence, PartEvidence], ...]:
        """The parts that are timecode and not silent, with their stems."""
        return tuple(
            (stem, part)
            for stem in self.stems
            for part in stem.parts
            if part.role is Role.TIMECODE and not part.silent
        )

    @property
    def timecode(self) -> TimecodeTrack | None:
        """The song's timecode: what the first of those parts that can be read says; None without any."""
        tracks = (part.measures.timecode for _, part in self.timecode_parts)
        return next((track for track in tracks if track is not None), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class IdleWaiver:
    """A waiver that marked no finding; `over`: its last day has gone by; `needed`: and its fault is still
    there, and counts again."""

    waiver: Waiver
    over: bool
    needed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowEvidence:
    """All songs of the show."""

    show: Show
    songs: tuple[SongEvidence, ...]
    copies: tuple[SameAudio, ...] = ()  # pairs that are one recording though their samples differ
    loops: frozenset[tuple[str, str]] = frozenset()  # (song, stem) of those found in two songs that are loops
    settings: ShowSettings = NO_SETTINGS
    partial: bool = False  # only some of its songs were asked for
    order: RunningOrder | None = None  # the set list that the scan is for
    orders: tuple[RunningOrder, ...] = ()  # all of the settings
    seal: SealCheck | None = None  # None: there is no seal, or it was not asked
    idle_waivers: tuple[IdleWaiver, ...] = ()  # known once all rules have spoken
