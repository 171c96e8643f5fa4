"""A folder made into a Show: its songs, their stems, and what was passed over and why.

Only names, sizes and dates are read (scandir and stat); no file is opened.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable
from difflib import get_close_matches
from pathlib import Path

from audit.errors import UsageError
from audit.facts import PassedOver, Show, Song
from audit.folder.kinds_of_file import AUDIO_EXTENSIONS
from audit.folder.order import natural_key
from audit.folder.roles import without_track_number
from audit.folder.shape import Shape
from audit.folder.shown import shown
from audit.folder.songs import cut_short, folders_without_audio, gather_song
from audit.folder.tokens import compose
from audit.folder.tree import Folder, scan


def walk(path: Path, *, songs: tuple[str, ...] = ()) -> Show:
    """The show, or the one song, in a folder; with `songs` only those.

    A song is named by its folder's name, with its act's before it where two songs share one; `songs` may
    name it without its number and in any letter case.
    Raises UsageError where there is no such folder, no audio in it, or no such song.
    """
    root, everything = _scan(path)
    shape = Shape(everything)
    song_folders, passed_over = _find_songs(root, shape)
    names = _unique_names(song_folders)
    chosen = _choose(names, songs, path) if songs else list(names)
    found: list[Song] = []
    for folder in chosen:
        song, beside = gather_song(folder, names[folder])
        found.append(song)
        passed_over += beside
    return Show(
        name=root.name,
        path=path,
        songs=tuple(sorted(found, key=lambda song: natural_key(song.folder))),
        passed_over=tuple(sorted(passed_over, key=lambda entry: natural_key(entry.path))),
    )


def _scan(path: Path) -> tuple[Folder, list[Folder]]:
    given = shown(str(path))
    if not os.path.exists(path):
        raise UsageError(f"{given}: there is no such folder; give the folder of a show or of one song")
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


def _find_songs(root: Folder, shape: Shape) -> tuple[list[Folder], list[PassedOver]]:
    songs: list[Folder] = []
    passed_over: list[PassedOver] = []
    waiting = [root]
    while waiting:
        shelf = waiting.pop()
        if not shape.holds_songs(shelf):
            songs.append(shelf)
            continue
        if shelf.failure:
            passed_over.append(cut_short(shelf, song=None))
        for file in shelf.audio:
            why = "lies beside the songs' folders, in no song"
            passed_over.append(PassedOver(path=shelf.relative(file.name), reason=why, stray=True))
        for other, reason in shelf.others:
            entry = PassedOver(
                path=shelf.relative(other), reason=reason.text, stray=reason.stray, unread=reason.unread
            )
            passed_over.append(entry)
        for child in shelf.folders:
            if not child.has_audio and shape.lacks_its_stems(child, shelf):
                songs.append(child)
            elif not child.has_audio:
                passed_over += folders_without_audio(child, song=None)
            elif reason_against := shape.why_no_song(child, shelf):
                passed_over.append(PassedOver(path=child.inside, reason=reason_against, holds_audio=True))
            else:
                waiting.append(child)
    return songs, passed_over


def _unique_names(folders: Iterable[Folder]) -> dict[Folder, str]:
    """Each song's name: its folder's, or the way to it from the show's folder where two are alike."""
    ordered = sorted(folders, key=lambda folder: natural_key(folder.inside))
    count = Counter(_plain(folder.name) for folder in ordered)
    return {
        folder: folder.name if count[_plain(folder.name)] == 1 else folder.inside or folder.name
        for folder in ordered
    }


def _plain(name: str) -> str:
    return compose(name).casefold()


def _choose(names: dict[Folder, str], wanted: tuple[str, ...], path: Path) -> list[Folder]:
    chosen: dict[Folder, None] = {}
    for name in wanted:
        chosen[_one_song(names, name, path)] = None
    return list(chosen)


def _one_song(names: dict[Folder, str], wanted: str, path: Path) -> Folder:
    ways = (
        lambda name: name == wanted,
        lambda name: _plain(name) == _plain(wanted),
        lambda name: _plain(without_track_number(name)) == _plain(wanted),
        lambda name: _plain(name.rsplit("/", 1)[-1]) == _plain(wanted),
    )
    for way in ways:
        found = [folder for folder, name in names.items() if way(name)]
        if len(found) == 1:
            return found[0]
        if found:
            several = ", ".join(shown(names[folder]) for folder in found)
            raise UsageError(f"{shown(wanted)}: several songs have that name; say which: {several}")
    raise UsageError(
        f"{shown(wanted)}: no such song in {shown(str(path))}; {_nearest(names.values(), wanted)}"
    )


def _nearest(names: Iterable[str], wanted: str) -> str:
    by_plain = {_plain(way): name for name in names for way in (without_track_number(name), name)}
    near = get_close_matches(_plain(wanted), by_plain, n=3, cutoff=0.5)
    if not near:
        return "run the scan without --song to see the names of all"
    return "did you mean " + " or ".join(dict.fromkeys(shown(by_plain[way]) for way in near)) + "?"
