"""Which folders are songs. Names and their neighbours decide; the rules stand at `holds_songs`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from audit.facts import CREW_ROLES, Role
from audit.folder.kinds_of_file import split_extension
from audit.folder.kinds_of_folder import (
    FolderKind,
    could_be_a_title,
    is_numbered,
    kind_of_folder,
    says_no_song,
)
from audit.folder.roles import read_name
from audit.folder.tree import Folder, walk_down

_ASIDE = (FolderKind.ARCHIVE, FolderKind.WORKING)
_PARTS = (FolderKind.HOLDER, FolderKind.VERSION, FolderKind.GROUP)


class Shape:
    """For every folder of a scan that holds audio: is it a song, or a folder of songs?"""

    def __init__(self, everything: Iterable[Folder]) -> None:
        """`everything`: each folder after the one it lies in, as `tree.scan` gives them."""
        folders = list(everything)
        self._songs_below: dict[Folder, int] = {}  # 0 for a song itself
        for folder in reversed(folders):  # from the leaves up, so that depth costs no recursion
            if folder.has_audio:
                self._songs_below[folder] = self._count_songs(folder, is_root=folder is folders[0])

    def holds_songs(self, folder: Folder) -> bool:
        """Whether the folder is a show, an act or another shelf of songs; else it is a song or part of one.

        - A folder whose sub-folders are holders ("Stems"), versions ("v2") or groups is a song. A group is a
          folder named by role words alone ("Drums", "02 Lead Vox"), and only among its like: beside titles
          ("Guide Me Home", "Bass Culture") it is a song called "Drums". A "group" that holds a click, guide
          or timecode its name does not speak of is a song too: a song has a click of its own.
        - A folder with titled sub-folders holds songs, unless most of its sub-folders are parts of a song.
        - A folder with audio of its own beside titled ones is a song if it holds more files named for a
          role than there are titled folders with such files. A tie means songs in the show's own folder,
          and where a titled folder holds a click, guide or timecode.
        - A folder that holds songs in any sub-folder that is not set aside holds songs itself.
        - Archives ("old", "Backup") and working folders of recording programs are no songs, but two and more
          that are numbered, in a folder without files of its own ("01 Demo", "02 Trash"). Beside songs
          `why_no_song` looks at them once more.
        """
        return self._songs_below[folder] > 0

    def why_no_song(self, child: Folder, shelf: Folder) -> str | None:
        """Why a folder beside songs is not one; None for a song and for a shelf of songs.

        A song that is lost is worse than an archive that is audited. So a folder called like an archive is a
        song where its name is numbered as songs are; or where that name is one bare word ("Demo"), no other
        song is numbered, and stems of a song lie in it. One that holds songs of its own is their archive.
        """
        if self._is_title(child, shelf) or self._is_song_called_like_an_archive(child, shelf):
            return None
        kind = kind_of_folder(child.name, shelf.name)
        if kind is FolderKind.ARCHIVE:
            return "put aside beside the songs, as its name says"
        if kind is FolderKind.WORKING:
            return "a working folder of a recording program beside the songs"
        return None

    def lacks_its_stems(self, child: Folder, shelf: Folder) -> bool:
        """Whether a folder without audio, beside songs, is a song whose stems are not there.

        Where most songs are numbered, a numbered one; else one that is empty, or holds but empty folders. A
        name that says what else it is for ("Docs", "Old", "Stems", "00 - Artwork") is no song's, unless it is
        numbered and empty: "07 - Lights" beside "06 - Ebb".
        """
        songs = [other for other in self.titled(shelf) if not self.holds_songs(other)]
        if not songs or child.failure:
            return False
        kind = kind_of_folder(child.name, shelf.name)
        holds_nothing = not any(reason.stray for folder in walk_down(child) for _, reason in folder.others)
        if 2 * sum(is_numbered(song.name) for song in songs) > len(songs):
            is_song = is_numbered(child.name) and kind in (FolderKind.TITLE, FolderKind.GROUP)
            return is_song and (holds_nothing or not says_no_song(child.name))
        return kind is FolderKind.TITLE and holds_nothing and not says_no_song(child.name)

    def titled(self, folder: Folder) -> list[Folder]:
        """Its sub-folders with audio that are neither part of a song nor set aside."""
        return [child for child in folder.audio_folders if self._is_title(child, folder)]

    def _is_title(self, child: Folder, parent: Folder) -> bool:
        kind = kind_of_folder(child.name, parent.name)
        alone = len(parent.audio_folders) + bool(parent.audio) == 1
        if kind in _ASIDE and _all_numbered(parent):
            return not self.holds_songs(child)
        if kind is FolderKind.ARCHIVE:
            return alone and self.holds_songs(child)
        if self.holds_songs(child):
            return True
        if kind is FolderKind.WORKING:
            return False
        return kind is FolderKind.TITLE or (kind is FolderKind.GROUP and _has_crew_of_its_own(child))

    def _is_song_called_like_an_archive(self, child: Folder, shelf: Folder) -> bool:
        if kind_of_folder(child.name, shelf.name) not in _ASIDE or self.holds_songs(child):
            return False
        if is_numbered(child.name):
            return True
        others_are_numbered = any(is_numbered(other.name) for other in self.titled(shelf))
        return could_be_a_title(child.name) and not others_are_numbered and _holds_a_songs_stems(child)

    def _count_songs(self, folder: Folder, *, is_root: bool) -> int:
        titled = self.titled(folder)
        if not titled:
            return 0
        if folder.audio:
            holds_songs = self._outweigh_its_files(titled, folder, is_root=is_root)
        else:
            holds_songs = any(map(self.holds_songs, titled)) or not _has_a_songs_parts(
                folder, titled, is_root=is_root
            )
        return self._songs_in(titled) if holds_songs else 0

    def _songs_in(self, titled: Sequence[Folder]) -> int:
        return sum(max(1, self._songs_below[child]) for child in titled)

    def _outweigh_its_files(self, titled: Sequence[Folder], folder: Folder, *, is_root: bool) -> bool:
        """Whether titled folders with stems are more than the folder's own files with a role's name."""
        named = [child for child in titled if _holds_named_stems(child)]
        own = sum(_names_a_role(file.stands_for) for file in folder.audio)
        if not own and not named:  # no name helps: the many win over the few
            return self._songs_in(titled) >= len(folder.audio)
        others = self._songs_in(named)
        return others > own or (others == own and (is_root or any(map(_holds_crew, named))))


def _has_a_songs_parts(folder: Folder, titled: Sequence[Folder], *, is_root: bool) -> bool:
    """Whether more of its folders are parts of a song than are titled; in the show's own folder not a tie."""
    rest = set(folder.audio_folders) - set(titled)
    parts = sum(_is_part(child, folder) for child in rest)
    return parts > len(titled) or (parts == len(titled) and not is_root)


def _all_numbered(folder: Folder) -> bool:
    """Whether it is nothing but numbered folders, two and more."""
    inside = folder.audio_folders
    return len(inside) > 1 and not folder.audio and all(is_numbered(child.name) for child in inside)


def _holds_a_songs_stems(folder: Folder) -> bool:
    """A click, guide or timecode, or two files named for a part: an archive's "Mix.wav" is neither."""
    named = sum(_names_a_role(file.stands_for) for here in walk_down(folder) for file in here.audio)
    return named > 1 or _holds_crew(folder)


def _is_part(child: Folder, parent: Folder) -> bool:
    return kind_of_folder(child.name, parent.name) in _PARTS


def _names_a_role(file_name: str) -> bool:
    return not read_name(split_extension(file_name)[0]).is_guess


def _holds_named_stems(folder: Folder) -> bool:
    return any(_names_a_role(file.stands_for) for here in walk_down(folder) for file in here.audio)


def _has_crew_of_its_own(group: Folder) -> bool:
    of_name = read_name(group.name)
    if of_name.role in CREW_ROLES | {Role.FULL_MIX} or set(of_name.channel_roles) & CREW_ROLES:
        return False
    return _holds_crew(group)


def _holds_crew(folder: Folder) -> bool:
    return any(
        read_name(split_extension(file.stands_for)[0]).role in CREW_ROLES
        for here in walk_down(folder)
        for file in here.audio
    )
