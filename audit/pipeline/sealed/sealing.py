"""A scanned show made into a seal: every file is read once more, hashed and sketched."""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from audit.cache.identity import hash_file, look_at
from audit.cache.keys import absent
from audit.errors import UsageError
from audit.evidence import SongEvidence, StemEvidence
from audit.findings import Severity, ShowAudit
from audit.pipeline.sealed.show_copies import copies_of_seal
from audit.pipeline.sealed.sketching import packed, sketch_file
from audit.pipeline.sealed.verifying import Differences, differences
from audit.pipeline.song.click_bar import bar_of
from audit.results import DeltaState, PartMeasures
from audit.seal.model import SCHEMA, Seal, SealedMeasures, SealedSong, SealedStem
from audit.seal.names import exact, loose, path_of, shown

Told = Callable[[str, str, int], object]
"""Told (song, stem, bytes done)."""


def make_seal(
    audit: ShowAudit, *, sealed_at: str, jobs: int, told: Told = lambda song, stem, done: None
) -> Seal:
    """The seal of a show as it was just scanned. sealed_at: ISO 8601, UTC.

    Raises UsageError where a file has changed since the scan: a seal must not vouch for what nobody heard.
    """
    with ThreadPoolExecutor(max_workers=jobs) as pool:
        work = [
            (song, [pool.submit(_sealed, song.evidence, stem, told) for stem in song.evidence.stems])
            for song in audit.songs
        ]
        songs = tuple(
            SealedSong(
                name=song.evidence.name,
                folder=exact(song.evidence.song.folder),
                verdict=audit.verdict(song).value,
                stems=tuple(one.result() for one in stems),
                bar_s=bar_of(song.evidence.click),
            )
            for song, stems in work
        )
    return Seal(
        schema=SCHEMA, made_by=f"stemaudit {audit.version}", sealed_at=sealed_at,
        show=audit.evidence.show.name, songs=songs, sample_rate_hz=audit.sample_rate_hz, bits=audit.bits,
        errors=audit.total(Severity.ERROR), warnings=audit.total(Severity.WARNING),
    )  # fmt: skip


def sealed_anew(before: Seal, songs: Seal, show: Path) -> tuple[Seal, Differences]:
    """A show's seal in which some songs are as they are now, and how these differ from before.

    before: the whole show's; songs: theirs, by the same paths; show: its folder. A song that has lost its
    folder, and whose stems these are, has been renamed: it is not kept beside its new name.
    """
    here = {loose(song.folder) for song in songs.songs}
    asked = {song.name for song in before.songs if loose(song.folder) in here}
    lost = {song.name for song in before.songs if not (show / song.folder).is_dir()}
    olds = (copy for copy in copies_of_seal(before) if copy.song in asked | lost)
    found = differences(olds, copies_of_seal(songs))
    homes = {stem.path: song.name for song in before.songs for stem in song.stems}
    renamed = {homes[one.was] for one in found.deltas if one.was is not None and one.was_song is None}
    ours = asked | renamed
    deltas = tuple(one for one in found.deltas if one.state is not DeltaState.MISSING or one.song in ours)
    kept = _with_those_made(before.songs, songs, without=renamed - asked)
    return replace(before, made_by=songs.made_by, songs=kept), replace(found, deltas=deltas)


def _with_those_made(
    before: Sequence[SealedSong], made: Seal, *, without: Set[str]
) -> tuple[SealedSong, ...]:
    """The songs of before, each that was made anew in its old place, new ones last. without: names of those
    that have another name now."""
    anew = {loose(song.folder): replace(song, sealed_at=made.sealed_at) for song in made.songs}
    kept = [anew.pop(loose(song.folder), song) for song in before if song.name not in without]
    return (*kept, *anew.values())


def _sealed(song: SongEvidence, stem: StemEvidence, told: Told) -> SealedStem:
    told(song.name, stem.name, 0)
    file = stem.stem
    plain = SealedStem(
        path=path_of(song.song.folder, file.file), file=exact(file.file), role=stem.role.value,
        size_bytes=file.size_bytes, modified_ns=file.modified_ns, file_hash=None, audio_hash=None,
        format=stem.format, failure=stem.failure,
    )  # fmt: skip
    if absent(file) is not None:
        return replace(plain, failure=stem.failure or "not on this disk")
    file_hash = _hash(file.path)
    sketched = sketch_file(file.path) if stem.audio is not None else None
    heard = stem.audio.content_hash if stem.audio is not None else None
    if not _unchanged(stem) or (sketched is not None and sketched.audio_hash != heard):
        raise UsageError(
            f"{shown(song.name)}, {shown(stem.name)}: changed while the show was being sealed; seal it again"
        )
    told(song.name, stem.name, file.size_bytes)
    part = stem.main_part  # its measures and its fingerprint are the stem's
    return replace(
        plain,
        file_hash=file_hash,
        audio_hash=heard,
        measures=_measures(part.measures) if part is not None else None,
        sketch=sketched.sketch if sketched is not None else None,
        fingerprint=packed(part.measures.fingerprint) if part is not None else b"",
    )


def _hash(path: Path) -> str | None:
    try:
        return hash_file(path)
    except (OSError, ValueError):
        return None  # its own finding tells


def _unchanged(stem: StemEvidence) -> bool:
    try:
        now = look_at(stem.stem.path)
    except (OSError, ValueError):
        return stem.audio is None
    return (now.size_bytes, now.modified_ns) == (stem.stem.size_bytes, stem.stem.modified_ns)


def _measures(part: PartMeasures) -> SealedMeasures:
    def known(value: float | None) -> float | None:
        return None if value is None or value == float("-inf") else value

    return SealedMeasures(
        integrated_lufs=known(part.loudness.integrated_lufs), loudness_range_lu=known(part.loudness.range_lu),
        true_peak_dbtp=known(part.peaks.true_dbtp), sample_peak_dbfs=known(part.peaks.sample_dbfs),
    )  # fmt: skip
