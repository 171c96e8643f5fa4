"""A song or several of a sealed show, checked by themselves: nobody misses the others."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from pathlib import Path

from audit.errors import UsageError
from audit.facts import Show
from audit.folder.roles import without_track_number
from audit.folder.walk import walk
from audit.pipeline.sealed.show_copies import Copy, copies_of_seal
from audit.pipeline.sealed.verifying import Differences
from audit.results import DeltaState, StemDelta
from audit.seal.levels import levels_apart
from audit.seal.model import Seal, SealedSong
from audit.seal.names import loose, path_of
from audit.settings.model import ShowSettings
from audit.settings.patterns import plain


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOfShow:
    """The songs that are asked for: those on disk, and those of the seal."""

    show: Show  # those asked for, and those unknown to the seal that one of them may have become
    sealed: frozenset[str]  # names in the seal
    elsewhere: frozenset[str]  # names in the seal of songs without a folder: one may be asked for, renamed
    unknown: frozenset[str] = frozenset()  # songs on disk that nobody asked for by the names they have

    def copies(self, seal: Seal) -> Iterator[Copy]:
        """What the seal has of them, and of what may be one of them."""
        wanted = self.sealed | self.elsewhere
        return (copy for copy in copies_of_seal(seal) if copy.song in wanted)

    def kept(self, found: Differences, seal: Seal) -> Differences:
        """Without what is said of other songs. Raises UsageError where the seal knows nothing of these."""
        homes = {stem.path: song.name for song in seal.songs for stem in song.stems}
        ours = self.sealed | {
            homes[delta.was]
            for delta in found.deltas
            if delta.was is not None and delta.was_song is None and delta.song not in self.unknown
        }
        deltas = tuple(delta for delta in found.deltas if self._is_ours(delta, homes, ours))
        stems = sum(len(song.stems) for song in seal.songs if song.name in ours)
        if not stems:
            names = ", ".join(song.name for song in self.show.songs)
            raise UsageError(f"{names}: the seal knows no such song: seal the show again to have it known")
        here = {delta.path.rpartition("/")[0] for delta in deltas}
        return replace(
            found,
            deltas=deltas,
            stems=stems,
            songs_gone=tuple(entry for entry in found.songs_gone if entry[0] in ours),
            songs_moved=tuple(entry for entry in found.songs_moved if entry[1] in here),
        )

    def _is_ours(self, delta: StemDelta, homes: Mapping[str, str], ours: Set[str]) -> bool:
        """homes: by path in the seal, the song; ours: names in the seal of those that are asked for."""
        asked = delta.song not in self.unknown or homes.get(delta.was or "") in ours
        return asked and (delta.state is not DeltaState.MISSING or delta.song in ours)

    def checked(self, found: Differences) -> Show:
        """The songs on disk that were asked for, under whatever name; found: what was kept."""
        homes = {delta.song for delta in found.deltas}
        songs = tuple(s for s in self.show.songs if s.name not in self.unknown or s.name in homes)
        return replace(self.show, songs=songs)


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
    known = {loose(song.folder) for song in seal.songs}
    unknown = [song.name for song in whole.songs if gone and loose(song.folder) not in known]
    unknown = [name for name in unknown if name not in here]
    asked = (*here, *unknown)
    show = walk(whole.path, songs=asked, settings=settings) if asked else _without_songs(whole)
    return _part(whole, show, seal, gone, unknown)


def part_given(show: Show, seal: Seal, place: Path) -> PartOfShow | None:
    """A folder anywhere that is one song of the seal, or an act; None where it is not.

    Its songs are taken to lie where the seal has them, so that the stems meet by their paths. A single song
    of whose names the seal knows none may still be one of its songs by content.
    """
    sealed = {stem.path: stem.size_bytes for song in seal.songs for stem in song.stems}
    found = {path_of(song.folder, stem.file): stem.size_bytes for song in show.songs for stem in song.stems}
    level = levels_apart(sealed, found, (seal.show, place.name))
    if level is None and len(seal.songs) > 1 and [song.folder for song in show.songs] == ["."]:
        return _one_of_them(show, seal, place)
    if level is None or not level.of_old:
        return None
    home = _home(seal, place) or level.folder
    above, _, name = home.rpartition("/")
    now = path_of(above, name if loose(name) == loose(place.name) else place.name)
    songs = tuple(
        replace(song, folder=now if song.folder == "." else path_of(now, song.folder)) for song in show.songs
    )
    names = {song.name for song in seal.songs if loose(f"{song.folder}/").startswith(loose(f"{home}/"))}
    return PartOfShow(show=replace(show, songs=songs), sealed=frozenset(names), elsewhere=frozenset())


def _one_of_them(show: Show, seal: Seal, place: Path) -> PartOfShow:
    """A single song under a name that the seal does not know: any of its songs may be the one."""
    alone = replace(show.songs[0], folder=place.name)
    everywhere = frozenset(song.name for song in seal.songs)
    return PartOfShow(show=replace(show, songs=(alone,)), sealed=frozenset(), elsewhere=everywhere)


def _home(seal: Seal, place: Path) -> str | None:
    """The only folder of the seal, a song's or above one, that has the place's name; None where there is
    none, or more than one."""
    namesakes = {
        "/".join(parts[:depth])
        for parts in (song.folder.split("/") for song in seal.songs)
        for depth in range(1, len(parts) + 1)
        if loose(parts[depth - 1]) == loose(place.name)
    }
    return next(iter(namesakes)) if len(namesakes) == 1 else None


def _part(
    whole: Show, show: Show, seal: Seal, gone: Sequence[str], unknown: Sequence[str] = ()
) -> PartOfShow:
    folders = {loose(song.folder) for song in show.songs}
    there = {loose(song.folder) for song in whole.songs}
    sealed = {song.name for song in seal.songs if loose(song.folder) in folders or song.name in gone}
    absent = {song.name for song in seal.songs if loose(song.folder) not in there}
    return PartOfShow(
        show=show, sealed=frozenset(sealed), elsewhere=frozenset(absent - sealed), unknown=frozenset(unknown)
    )


def _is_called(song: SealedSong, name: str) -> bool:
    return plain(name) in {plain(song.name), plain(without_track_number(song.name))}


def _without_songs(show: Show) -> Show:
    return replace(show, songs=(), passed_over=())
