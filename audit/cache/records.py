"""Evidence as it is kept: without what the folder says (that is asked anew), and nothing twice.

A stem's record is kept under what it was made of, and again in no song: a song's record names the records of
its stems and holds only what came of hearing them together. Whatever fields evidence is given later are kept
with it; nothing here lists them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import PassedOver, Role, Song, Stem
from audit.results import (
    Activity,
    Clipping,
    Elsewhere,
    FlatTops,
    Levels,
    Loudness,
    Nature,
    PartMeasures,
    Peaks,
    SameAudio,
)
from audit.settings.model import NO_SONG_SETTINGS

NO_STEM = Stem(file="", path=Path(), role=Role.OTHER, role_is_guess=True)
NO_SONG = Song(name="", folder="", path=Path(), stems=())
NO_MEASURES = PartMeasures(
    channels=(),
    peaks=Peaks(sample_dbfs=0.0, sample_at_frame=0, true_dbtp=0.0, true_at_s=0.0, channel_dbfs=()),
    clipping=Clipping(
        runs=0, long_runs=0, longest_frames=0, longest_at_frame=None, first_at_frame=None, over_full_scale=0
    ),
    flat_tops=FlatTops(level_dbfs=0.0, plateaus=0, longest_frames=0, first_at_frame=None, share=0.0),
    loudness=Loudness(
        integrated_lufs=None, max_momentary_lufs=None, max_momentary_at_s=None, max_short_term_lufs=None,
        range_lu=None,
    ),
    levels=Levels(
        rms_dbfs=0.0, active_rms_dbfs=0.0, crest_db=None, dc_offset=0.0, dc_worst_window=0.0,
        dc_worst_at_s=0.0,
    ),
    activity=Activity(
        first_sound_frame=None, last_sound_frame=None, active_s=0.0, end_rms_dbfs=0.0, zero_tail_frames=0,
        before_tail_rms_dbfs=0.0,
    ),
    stereo=None,
    nature=Nature(timecode_share=0.0, tick_share=0.0),
)  # fmt: skip
"""Stand where the real ones are put in again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StemRecord:
    """One stem, heard by itself."""

    evidence: StemEvidence  # its parts without measures, which are those of its audio
    powers: bytes  # mean square of every 100 ms, float32, shape (steps, channels)
    channels: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SongRecord:
    """One song, heard together."""

    evidence: SongEvidence  # its stems without audio and measures
    stems: tuple[str | None, ...]  # the key of each stem's record; None: nothing of it could be decoded


@dataclass(frozen=True, slots=True, kw_only=True)
class BetweenRecord:
    """What showed when the songs were compared."""

    elsewhere: tuple[tuple[tuple[Elsewhere, ...], ...], ...]  # song by song, stem by stem
    copies: tuple[SameAudio, ...]
    loops: frozenset[tuple[str, str]]


@dataclass(slots=True, kw_only=True)
class PairRecord:
    """What showed when two songs were compared, or one with itself. Stems by name; None: not asked yet."""

    # Pairs of stems worth opening, with (lag_s, likeness) of the lags at which they are most alike.
    possible: tuple[tuple[str, str, tuple[tuple[float, float], ...]], ...] | None = None
    laid: tuple[tuple[str, str, SameAudio | None], ...] = ()  # of the possible ones, those that were opened
    forth: tuple[tuple[str, Elsewhere], ...] | None = None  # stems of the first that were tried on the second
    back: tuple[tuple[str, Elsewhere], ...] | None = None
    loops: tuple[tuple[str, bool], ...] = ()  # of one with itself


@dataclass(frozen=True, slots=True, kw_only=True)
class PairRow:
    """One song and others, by their keys."""

    pairs: dict[str, PairRecord]


def stem_record(stem: StemEvidence, powers: bytes, channels: int) -> StemRecord:
    """Of a stem that could be decoded."""
    return StemRecord(evidence=_without_measures(stem), powers=powers, channels=channels)


def stem_evidence(record: StemRecord, stem: Stem) -> StemEvidence:
    """As it was heard, as the stem that the folder now shows."""
    return _with_measures(record.evidence, stem, record.evidence)


def song_record(song: SongEvidence, stems: Sequence[str | None]) -> SongRecord:
    """stems: the keys of the stems' records, in the song's order."""
    bare = tuple(replace(_without_measures(stem), audio=None) for stem in song.stems)
    return SongRecord(
        evidence=replace(song, song=NO_SONG, stems=bare, passed_over=(), settings=NO_SONG_SETTINGS),
        stems=tuple(stems),
    )


def song_evidence(
    record: SongRecord, song: Song, stems: Mapping[str, StemRecord], passed_over: tuple[PassedOver, ...]
) -> SongEvidence | None:
    """As it was heard, as the song that the folder now shows; None where a stem's record is missing."""
    if any(key is not None and key not in stems for key in record.stems):
        return None
    whole = tuple(
        _with_measures(bare, stem, stems[key].evidence if key is not None else None)
        for bare, stem, key in zip(record.evidence.stems, song.stems, record.stems, strict=True)
    )
    return replace(record.evidence, song=song, stems=whole, passed_over=passed_over)


def between_record(show: ShowEvidence) -> BetweenRecord:
    """What the comparison of the songs added to their evidence."""
    return BetweenRecord(
        elsewhere=tuple(tuple(stem.elsewhere for stem in song.stems) for song in show.songs),
        copies=show.copies,
        loops=show.loops,
    )


def with_between(record: BetweenRecord, show: ShowEvidence) -> ShowEvidence:
    """The show with it."""
    songs = tuple(
        replace(
            song,
            stems=tuple(
                replace(stem, elsewhere=fits) if fits else stem
                for stem, fits in zip(song.stems, of_song, strict=True)
            ),
        )
        if any(of_song)
        else song
        for song, of_song in zip(show.songs, record.elsewhere, strict=True)
    )
    return replace(show, songs=songs, copies=record.copies, loops=record.loops)


def _without_measures(stem: StemEvidence) -> StemEvidence:
    parts = tuple(replace(part, measures=NO_MEASURES) for part in stem.parts)
    return replace(stem, stem=NO_STEM, parts=parts)


def _with_measures(bare: StemEvidence, stem: Stem, heard: StemEvidence | None) -> StemEvidence:
    audio = heard.audio if heard is not None else None
    measures = audio.parts if audio is not None else ()
    parts: tuple[PartEvidence, ...] = tuple(
        replace(part, measures=of_part) for part, of_part in zip(bare.parts, measures, strict=True)
    )
    return replace(bare, stem=stem, audio=audio, parts=parts)
