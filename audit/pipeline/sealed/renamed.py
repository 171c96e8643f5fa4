"""Stems that are known again though their name and their audio are other ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from typing import Protocol, TypeVar

from audit.pipeline.sealed.sketching import heard_alike
from audit.seal.matching import find_renamed
from audit.seal.names import folded

MOST_TRIED = 400
"""New stems of one song whose fingerprints are laid over that of a missing one; no song has more."""


class OneStem(Protocol):
    """A stem of a copy, or one that a scan has heard."""

    @property
    def path(self) -> str:
        """From the show's folder, "/" between parts."""
        ...

    @property
    def folder(self) -> str:
        """The song's folder, "" where the show is one song."""
        ...

    @property
    def is_music(self) -> bool:
        """Neither click nor timecode, which sound alike in many songs."""
        ...

    @property
    def why_unread(self) -> str | None:
        """Why nothing can be said of its content; None where it can be read."""
        ...

    @property
    def fingerprint(self) -> bytes:
        """The words of its fingerprint; empty where nothing can be decoded."""
        ...


Old = TypeVar("Old", bound=OneStem)
New = TypeVar("New", bound=OneStem)


def renamed_stems(
    missing: Mapping[str, Old], added: Mapping[str, New], moved: Set[tuple[str, str]]
) -> list[tuple[Old, New]]:
    """Other audio under another name, and yet the same stem: by its name, else by how it sounds.

    moved: folders, was and is, between which stems went as they were. Two folders with the same names in them
    are one song only where such a stem, or one that sounds alike, says so: every song has a Bass.wav.
    """
    named = [(missing[was], added[now]) for was, now in find_renamed(list(missing), list(added))]
    songs = _same_songs(named, moved)
    found = [pair for pair in named if _folders(*pair) in songs]
    return [*found, *_by_sound(found, missing, added)]


def _same_songs(
    named: Sequence[tuple[OneStem, OneStem]], moved: Set[tuple[str, str]]
) -> set[tuple[str, str]]:
    """The folders, was and is, that are one song's: those that are known to be, and what the pairs show."""
    songs = set(moved)
    for one, other in named:
        was, now = _folders(one, other)
        if (was, now) in songs:
            continue  # to hear whether two are alike both files have to be read
        if was == now or (one.is_music and other.is_music and _alike(one, other)):
            songs.add((was, now))
    return songs


def _by_sound(
    found: Sequence[tuple[Old, New]], missing: Mapping[str, Old], added: Mapping[str, New]
) -> Iterator[tuple[Old, New]]:
    """Of what names did not find, that which one new stem of its song sounds like, and no other."""
    done = {id(copy) for pair in found for copy in pair}
    homes = dict(_folders(*pair) for pair in found)
    for one in missing.values():
        if id(one) in done or one.why_unread is not None:
            continue
        home = homes.get(folded(one.folder), folded(one.folder))
        here = [copy for copy in added.values() if id(copy) not in done and folded(copy.folder) == home]
        alike = [copy for copy in here if _alike(one, copy)] if len(here) <= MOST_TRIED else []
        if len(alike) == 1:
            yield one, alike[0]
            done.add(id(alike[0]))


def _folders(one: OneStem, other: OneStem) -> tuple[str, str]:
    return folded(one.folder), folded(other.folder)


def _alike(one: OneStem, other: OneStem) -> bool:
    if one.why_unread is not None or other.why_unread is not None:
        return False
    return heard_alike(one.fingerprint, other.fingerprint)
