"""A folder made into a Show: its songs, their stems, and what was passed over and why.

Only names, sizes and dates are read (scandir and stat); no file is opened.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

from audit.errors import UsageError
from audit.facts import PassedOver, Show, Song
from audit.folder.clips import CLIPS
from audit.folder.kinds_of_file import AUDIO_EXTENSIONS
from audit.folder.kinds_of_folder import is_numbered
from audit.folder.near import nearest_folder, nearest_songs
from audit.folder.order import natural_key
from audit.folder.roles import without_track_number
from audit.folder.shape import Shape
from audit.folder.shown import shown
from audit.folder.songs import cut_short, folders_without_audio, gather_song, title_of, unmarked_title
from audit.folder.tokens import compose
from audit.folder.tree import Folder, scan
from audit.settings.beside import check_songs
from audit.settings.model import NO_SETTINGS, ShowSettings
from audit.settings.naming import SongRegister, settings_of_song, song_names

SETTINGS_FILE = "show.toml"
_SETTINGS = PassedOver(path=SETTINGS_FILE, reason="the show's settings")

PART_OF = " / "
"""Between a folder that stands among songs and the one of several in it: "06 - Jet / rehearsal"."""


def walk(path: Path, *, songs: tuple[str, ...] = (), settings: ShowSettings = NO_SETTINGS) -> Show:
    """The show, or the one song, in a folder; with `songs` only those.

    A song is named by its folder's name, with its act's before it where two songs share one; `songs` may
    name it as a set list does (audit.settings.naming). settings: own role names, current versions, aliases.
    Raises UsageError where there is no such folder, no audio in it, or no such song; SettingsError where
    the settings name one song twice.
    """
    root, everything = _scan(path)
    shape = Shape(everything)
    song_folders, passed_over = _find_songs(root, shape)
    names = _unique_names(song_folders)
    titles = {name: without_track_number(name) for name in names.values()}
    bare = {name: unmarked_title(title) for name, title in titles.items()}
    check_songs(settings, [(name, title, bare[name]) for name, title in titles.items()])
    called = {
        name: song_names(name, title, settings_of_song(settings, name, title, bare[name]))
        for name, title in titles.items()
    }
    unmarked = {name: title_of(folder)[0] for folder, name in names.items()} if songs else {}
    chosen = _choose(names, called, unmarked, songs, path) if songs else list(names)
    found: list[Song] = []
    for folder in chosen:
        song, beside = gather_song(folder, names[folder], settings)
        found.append(song)
        passed_over += beside
    return Show(
        name=root.name,
        path=path,
        songs=tuple(sorted(found, key=lambda song: natural_key(song.folder))),
        passed_over=tuple(
            _SETTINGS if entry.path == SETTINGS_FILE else entry
            for entry in sorted(passed_over, key=lambda entry: natural_key(entry.path))
        ),
    )


def _scan(path: Path) -> tuple[Folder, list[Folder]]:
    given = shown(str(path))
    if not os.path.exists(path):
        guess = nearest_folder(path) or "give the folder of a show or of one song"
        raise UsageError(f"{given}: there is no such folder; {guess}")
    if not os.path.isdir(path):
        raise UsageError(f"{given}: not a folder; give the folder of a show or of one song")
    full = os.path.abspath(path)
    root, everything = scan(full, os.path.basename(full) or full)
    if root.failure:
        raise UsageError(f"{given}: cannot be looked into ({root.failure}); check who may read it")
    if not root.has_audio:
        known = ", ".join(sorted(AUDIO_EXTENSIONS))
        raise UsageError(
            f"{given}: no audio in it or under it; a stem is a file that ends in one of: {known}"
        )
    return root, everything


def _find_songs(root: Folder, shape: Shape) -> tuple[dict[Folder, Folder | None], list[PassedOver]]:
    """The songs, each with the folder it is one part of: a numbered one that stands among songs."""
    songs: dict[Folder, Folder | None] = {}
    passed_over: list[PassedOver] = []
    among_songs: set[Folder] = set()
    waiting: list[tuple[Folder, Folder | None]] = [(root, None)]
    while waiting:
        shelf, part_of = waiting.pop()
        if not shape.holds_songs(shelf):
            songs[shelf] = part_of
            continue
        if shelf.failure:
            passed_over.append(cut_short(shelf, song=None))
        for file in shelf.audio:
            why = "lies beside the songs' folders, in no song"
            entry = PassedOver(path=shelf.relative(file.name), reason=why, stray=True, stem=True)
            passed_over.append(entry)
        for other, reason in shelf.others:
            entry = PassedOver(
                path=shelf.relative(other), reason=reason.text, stray=reason.stray, unread=reason.unread,
                packed=reason.packed,
            )  # fmt: skip
            passed_over.append(entry)
        inside: list[Folder] = []
        for child in shelf.folders:
            if not child.has_audio and shape.lacks_its_stems(child, shelf):
                songs[child] = None
            elif not child.has_audio:
                passed_over += folders_without_audio(child, song=None)
            elif child in shelf.clips:
                passed_over.append(PassedOver(path=child.inside, reason=CLIPS, holds_audio=True))
            elif reason_against := shape.why_no_song(child, shelf):
                passed_over.append(PassedOver(path=child.inside, reason=reason_against, holds_audio=True))
            else:
                inside.append(child)
        shelves = [child for child in inside if shape.holds_songs(child)]
        if 2 * len(shelves) < len(inside):
            among_songs |= {child for child in shelves if is_numbered(child.name)}
        waiting += [(child, shelf if shelf in among_songs else None) for child in inside]
    return songs, passed_over


def _unique_names(song_folders: dict[Folder, Folder | None]) -> dict[Folder, str]:
    """Each song's name: its folder's, or the way to it from the show's folder where two are alike.

    song_folders: song -> the song-like folder that it is one part of. "06 - Jet/rehearsal" and
    "06 - Jet/show" are the songs "06 - Jet / rehearsal" and "06 - Jet / show".
    """
    ordered = sorted(song_folders, key=lambda folder: natural_key(folder.inside))
    count = Counter(_plain(folder.name) for folder in ordered)

    def name(folder: Folder) -> str:
        parent = song_folders[folder]
        if parent is not None:
            return f"{parent.name}{PART_OF}{folder.name}"
        return folder.name if count[_plain(folder.name)] == 1 else folder.inside or folder.name

    names = {folder: name(folder) for folder in ordered}
    twice = Counter(map(_plain, names.values()))
    return {folder: told if twice[_plain(told)] == 1 else folder.inside for folder, told in names.items()}


def _plain(name: str) -> str:
    return compose(name).casefold()


Called = Mapping[str, Sequence[str]]
"""A song's name -> all names that it may be called by."""


def _choose(
    names: dict[Folder, str], called: Called, unmarked: Mapping[str, str], wanted: tuple[str, ...], path: Path
) -> list[Folder]:
    folders = {name: folder for folder, name in names.items()}
    chosen: dict[Folder, None] = {}
    for name in wanted:
        chosen |= dict.fromkeys(folders[song] for song in _songs_called(called, unmarked, name, path))
    return list(chosen)


def _songs_called(called: Called, unmarked: Mapping[str, str], wanted: str, path: Path) -> list[str]:
    """The song of that name, or all that are parts of what bears it."""
    found = SongRegister(called.items(), unmarked).named(wanted)
    if len(found) == 1:
        return [found[0]]
    if found:
        several = ", ".join(map(shown, found))
        raise UsageError(f"{shown(wanted)}: several songs have that name; say which: {several}")
    wholes: dict[str, list[str]] = {}
    for name in called:
        if PART_OF in name:
            wholes.setdefault(name.split(PART_OF)[0], []).append(name)
    of_whole = SongRegister((whole, (without_track_number(whole),)) for whole in wholes).named(wanted)
    if of_whole:
        return [name for whole in of_whole for name in wholes[whole]]
    raise UsageError(f"{shown(wanted)}: no such song in {shown(str(path))}; {nearest_songs(called, wanted)}")
