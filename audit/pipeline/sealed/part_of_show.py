"""A song or several of a sealed show, checked by themselves: nobody misses the others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from audit.errors import UsageError
from audit.facts import Show
from audit.folder.roles import without_track_number
from audit.folder.walk import walk
from audit.pipeline.sealed.show_copies import Copy, copies_of_seal
from audit.pipeline.sealed.verifying import Differences
from audit.results import DeltaState
from audit.seal.model import Seal, SealedSong
from audit.seal.names import loose
from audit.settings.model import ShowSettings
from audit.settings.patterns import plain


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOfShow:
    """The songs that are asked for: those on disk, and those of the seal."""

    show: Show
    sealed: frozenset[str]  # names in the seal
    elsewhere: frozenset[
        str
    ]  # names in the seal of songs without a folder: one of them may have been renamed

    def copies(self, seal: Seal) -> Iterator[Copy]:
        """What the seal has of them, and of what may be one of them."""
        wanted = self.sealed | self.elsewhere
        return (copy for copy in copies_of_seal(seal) if copy.song in wanted)

    def kept(self, found: Differences, seal: Seal) -> Differences:
        """Without what is said of other songs. Raises UsageError where the seal knows nothing of these."""
        deltas = tuple(
            delta
            for delta in found.deltas
            if delta.state is not DeltaState.MISSING or delta.song not in self.elsewhere
        )
        followed = {delta.was for delta in deltas if delta.was is not None}
        stems = sum(
            song.name in self.sealed or stem.path in followed for song in seal.songs for stem in song.stems
        )
        if not stems:
            names = ", ".join(song.name for song in self.show.songs)
            raise UsageError(f"{names}: the seal knows no such song: seal the show again to have it known")
        gone = tuple(entry for entry in found.songs_gone if entry[0] not in self.elsewhere)
        return replace(found, deltas=deltas, stems=stems, songs_gone=gone)


def part_at(whole: Show, seal: Seal, place: Path, settings: ShowSettings) -> PartOfShow | None:
    """The songs in a folder of the show, or the one it lies in; None where it is no song's."""
    full = place.resolve()
    names = tuple(
        song.name
        for song in whole.songs
        if full in (song.path.resolve(), *song.path.resolve().parents) or song.path.resolve() in full.parents
    )
    return _part(whole, walk(whole.path, songs=names, settings=settings), seal, ()) if names else None


def part_named(whole: Show, seal: Seal, names: tuple[str, ...], settings: ShowSettings) -> PartOfShow:
    """The songs of these names. Raises UsageError where neither disk nor seal has one."""
    here: list[str] = []
    gone: list[str] = []
    for name in names:
        try:
            here += [song.name for song in walk(whole.path, songs=(name,), settings=settings).songs]
        except UsageError:
            sealed = [song.name for song in seal.songs if _is_called(song, name)]
            if not sealed:
                raise
            gone += sealed
    show = walk(whole.path, songs=tuple(here), settings=settings) if here else _without_songs(whole)
    return _part(whole, show, seal, gone)


def _part(whole: Show, show: Show, seal: Seal, gone: tuple[str, ...] | list[str]) -> PartOfShow:
    folders = {loose(song.folder) for song in show.songs}
    there = {loose(song.folder) for song in whole.songs}
    sealed = {song.name for song in seal.songs if loose(song.folder) in folders or song.name in gone}
    absent = {song.name for song in seal.songs if loose(song.folder) not in there}
    return PartOfShow(show=show, sealed=frozenset(sealed), elsewhere=frozenset(absent - sealed))


def _is_called(song: SealedSong, name: str) -> bool:
    return plain(name) in {plain(song.name), plain(without_track_number(song.name))}


def _without_songs(show: Show) -> Show:
    return replace(show, songs=(), passed_over=())
