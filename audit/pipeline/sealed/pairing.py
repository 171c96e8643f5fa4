"""Which stem of one copy of a show is which of the other: by name, by content, by name and sound."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Generic

from audit.pipeline.sealed.renamed import New, OneStem, renamed_stems
from audit.pipeline.sealed.show_copies import Copy
from audit.seal.matching import moved_folders
from audit.seal.names import exact, folded, paired


@dataclass(slots=True, kw_only=True)
class Pairing(Generic[New]):
    """Two copies laid against each other. Begins with `paired_by_path`; `follow` then takes out of `missing`
    and `added` what is known again elsewhere."""

    olds: Sequence[Copy]
    same: list[tuple[Copy, New]]  # where they were, whatever is in them
    missing: dict[str, Copy]  # by path
    added: dict[str, New]  # by path
    moved: list[tuple[Copy, New]] = field(default_factory=list)  # elsewhere, with the same audio
    renamed: list[tuple[Copy, New]] = field(default_factory=list)  # elsewhere, with other audio

    def follow(self, moved: list[tuple[Copy, New]]) -> None:
        """moved: those of the missing that lie elsewhere with the same audio. They show which folders are the
        same song, and so what else may be the same stem."""
        self.moved = moved
        self._take(moved)
        songs = {(folded(one.folder), folded(other.folder)) for one, other in moved if one.is_music}
        self.renamed = renamed_stems(self.missing, self.added, songs)
        self._take(self.renamed)

    def _take(self, known: list[tuple[Copy, New]]) -> None:
        for one, other in known:
            del self.missing[one.path], self.added[other.path]

    def folders(self) -> dict[str, str]:
        """Folders that were renamed as a whole: was -> is."""
        return moved_folders(
            [(one.path, other.path) for one, other in [*self.moved, *self.renamed]],
            {folder_of(one.path) for one, _ in self.same},
            {folder_of(one.path) for one in self.olds},
        )

    def songs_gone(self) -> tuple[tuple[str, int], ...]:
        """Songs of which every stem is missing, with how many that are."""
        stems = Counter(one.song for one in self.olds)
        left_out = Counter(one.song for one in self.missing.values())
        return tuple((song, number) for song, number in stems.items() if left_out[song] == number)


def paired_by_path(olds: Sequence[Copy], news: Sequence[New]) -> Pairing[New]:
    """Those that lie where they lay, as far as drives and systems keep a name."""
    same = paired(olds, news, lambda one: one.path)
    known_old, known_new = {id(one) for one, _ in same}, {id(other) for _, other in same}
    return Pairing(
        olds=olds,
        same=same,
        missing={one.path: one for one in olds if id(one) not in known_old},
        added={one.path: one for one in news if id(one) not in known_new},
    )


def left_its_song(old: OneStem, new: OneStem, folders: Mapping[str, str]) -> bool:
    """Whether a stem that has moved lies in another song now, and not only because its own was renamed.

    folders: those that were renamed as a whole, was -> is.
    """
    home = folders.get(folder_of(old.path))
    return folded(old.folder) != folded(new.folder) and home != folder_of(new.path)


def folder_of(path: str) -> str:
    """The folder that a stem itself lies in, which may be one inside the song's."""
    return exact(path).rpartition("/")[0]
