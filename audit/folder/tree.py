"""The folders and files under a path, as scandir and stat tell them; no file is opened."""

from __future__ import annotations

import os
import stat
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

from audit.folder.clips import is_of_clips
from audit.folder.elsewhere import is_elsewhere
from audit.folder.kinds_of_file import (
    UNFINISHED,
    Reason,
    awaited_name,
    is_audio,
    litter,
    not_audio,
    package,
    unfinished_name,
)
from audit.folder.order import natural_key

SEEN = Reason("a link to a folder that is part of this scan already")
SEEN_BEHIND = Reason("part of this scan already, and here behind a link")
HOLDS_THIS = Reason("a link to a folder that this one lies in")


@dataclass(slots=True)
class AudioFile:
    """A file with an audio extension, or the placeholder of one that a sync service keeps elsewhere."""

    name: str
    stands_for: str  # the name to read the role from: the placeholder's file, else its own
    size_bytes: int
    modified_ns: int
    file_id: int  # the file system's own number of it; 0 where listing a folder does not tell
    allocated_bytes: int | None
    elsewhere: bool  # its bytes are not on this disk, as the system says


@dataclass(slots=True, eq=False)
class Folder:
    """A folder and what lies in it. Sub-folders and files are in natural order."""

    name: str
    path: str
    inside: str  # relative to the scanned root, "" for the root itself
    audio: list[AudioFile] = field(default_factory=list)
    folders: list[Folder] = field(default_factory=list)
    others: list[tuple[str, Reason]] = field(default_factory=list)
    failure: str | None = None  # why it could not be looked into
    audio_folders: list[Folder] = field(default_factory=list)  # those of `folders` that hold a show's audio
    clips: list[Folder] = field(default_factory=list)  # those that hold what `hear` wrote

    @property
    def has_audio(self) -> bool:
        """Whether audio lies in it or in a sub-folder; known once the scan is finished."""
        return bool(self.audio or self.audio_folders)

    def relative(self, name: str) -> str:
        return f"{self.inside}/{name}" if self.inside else name


def scan(path: str, name: str) -> tuple[Folder, list[Folder]]:
    """The folder at `path`, and all folders under it, each after the one it lies in.

    A folder is entered once: links to folders are followed after everything else. One that leads to a folder
    already seen is passed over, and so is such a folder further down behind one; so is a link to a folder in
    which the root lies: the whole show would come along again. So loops end. Works on a list instead of
    recursion: depth is free.
    """
    root = Folder(name, path, "")
    everything: list[Folder] = []
    seen: set[tuple[int, int]] = set()
    above: set[tuple[int, int]] | None = None  # asked only where there is a link
    waiting, links = [root], deque[tuple[Folder, Folder]]()
    behind_link: dict[Folder, Folder] = {}  # a folder behind a link, and the one that it lies in
    while waiting or links:
        if waiting:
            folder = waiting.pop()
        else:
            parent, folder = links.popleft()
            above = _above(path) if above is None else above
            if _identity(folder.path) in above:
                parent.others.append((folder.name, HOLDS_THIS))
                continue
            parent.folders.append(folder)
            behind_link[folder] = parent
        identity = _identity(folder.path)
        # Without a link a folder cannot come twice, and some servers' numbers are not to be believed.
        if folder in behind_link and identity in seen:
            behind_link[folder].folders.remove(folder)
            behind_link[folder].others.append(
                (folder.name, SEEN if os.path.islink(folder.path) else SEEN_BEHIND)
            )
            continue
        if identity:
            seen.add(identity)
        everything.append(folder)
        _fill(folder, links)
        waiting += reversed(folder.folders)
        if folder in behind_link:
            behind_link |= dict.fromkeys(folder.folders, folder)
    _finish(everything)
    return root, everything


def walk_down(folder: Folder) -> Iterator[Folder]:
    """The folder and everything under it."""
    waiting = [folder]
    while waiting:
        here = waiting.pop()
        yield here
        waiting += here.folders


def _identity(path: str) -> tuple[int, int] | None:
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _above(path: str) -> set[tuple[int, int]]:
    """The identities of the folders that this one lies in."""
    here = os.path.realpath(path)
    found = set()
    while (parent := os.path.dirname(here)) != here:
        here = parent
        if identity := _identity(here):
            found.add(identity)
    return found


def _fill(folder: Folder, links: deque[tuple[Folder, Folder]]) -> None:
    try:
        with os.scandir(folder.path) as entries:
            for entry in entries:
                _sort_in(folder, entry, links)
    except OSError as error:
        folder.failure = _cause(error)
    # Beside the whole file its unfinished copy is litter; in its place it is a stem that is not there yet.
    here = {file.name.casefold() for file in folder.audio}
    folder.others = [
        (name, UNFINISHED if awaited and awaited.casefold() not in here else reason)
        for name, reason in folder.others
        for awaited in (unfinished_name(name),)
    ]


def _cause(error: OSError) -> str:
    return (error.strerror or type(error).__name__).lower()


def _sort_in(folder: Folder, entry: os.DirEntry[str], links: deque[tuple[Folder, Folder]]) -> None:
    name = entry.name
    awaited = awaited_name(name)
    trash = litter(name)
    if awaited and is_audio(awaited):
        _add_audio(folder, entry, awaited, elsewhere=True)
    elif trash:
        folder.others.append((name, trash))
    elif _is_dir(entry):
        program = package(name) or (UNFINISHED if unfinished_name(name) else None)
        if program:
            folder.others.append((name, program))
            return
        child = Folder(name, entry.path, folder.relative(name))
        if entry.is_symlink():
            links.append((folder, child))
        else:
            folder.folders.append(child)
    elif is_audio(name):
        _add_audio(folder, entry, name)
    else:
        folder.others.append((name, _kind_of_special(entry) or not_audio(name)))


def _is_dir(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:
        return False


def _kind_of_special(entry: os.DirEntry[str]) -> Reason | None:
    """Why something that is neither a file nor a folder, or a link to neither, is passed over."""
    try:
        mode = entry.stat().st_mode
    except FileNotFoundError:
        lost = "a link to nowhere" if entry.is_symlink() else "vanished during the scan"
        return Reason(lost, unread=is_audio(entry.name))
    except OSError as error:
        return Reason(f"cannot be looked at: {_cause(error)}", unread=is_audio(entry.name))
    if stat.S_ISREG(mode):
        return None
    return Reason("not a file: a pipe, a socket or a device")


def _add_audio(folder: Folder, entry: os.DirEntry[str], stands_for: str, *, elsewhere: bool = False) -> None:
    special = _kind_of_special(entry)
    if special:
        folder.others.append((entry.name, special))
        return
    found = entry.stat()
    blocks = getattr(found, "st_blocks", None)
    allocated = (
        None if blocks is None else blocks * 512
    )  # POSIX: st_blocks counts 512 bytes, whatever the disk
    folder.audio.append(
        AudioFile(
            name=entry.name,
            stands_for=stands_for,
            size_bytes=found.st_size,
            modified_ns=found.st_mtime_ns,
            file_id=found.st_ino,
            allocated_bytes=0 if elsewhere else allocated,
            elsewhere=elsewhere or is_elsewhere(found),
        )
    )


def _finish(everything: list[Folder]) -> None:
    for folder in reversed(everything):
        folder.audio.sort(key=lambda file: natural_key(file.stands_for))
        folder.folders.sort(key=lambda child: natural_key(child.name))
        folder.others.sort(key=lambda other: natural_key(other[0]))
        for child in folder.folders:
            if child.has_audio:
                (folder.clips if _is_of_clips(child) else folder.audio_folders).append(child)


def _is_of_clips(folder: Folder) -> bool:
    return not folder.audio_folders and is_of_clips(folder.name, [file.name for file in folder.audio])
