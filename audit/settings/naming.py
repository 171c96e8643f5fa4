"""What the settings say of a song or a stem on the disk, found by its names; which song a typed name means.

Set lists, --song and [[songs]] all find songs in here, so that a name means the same everywhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches

from audit.facts import CREW_ROLES, Role
from audit.settings.model import NO_SONG_SETTINGS, ShowSettings, SongSettings
from audit.settings.patterns import fits, fits_any, plain, stem_names


def song_names(name: str, title: str, settings: SongSettings = NO_SONG_SETTINGS) -> tuple[str, ...]:
    """The ways in which a song may be named. `title`: its name without the number that counts it."""
    last = name.rsplit("/", 1)[-1].strip()
    ways = (name, title, last, *settings.aliases)
    return tuple(dict.fromkeys(way for way in ways if way))


def all_names(
    name: str, title: str, unmarked: str, settings: SongSettings = NO_SONG_SETTINGS
) -> tuple[str, ...]:
    """The ways in which a pattern of the settings may name a song: also without its version mark, so that a
    patch made for "Night Ferry" goes on working for "Night Ferry v4"."""
    more = (unmarked,) if unmarked else ()
    return tuple(dict.fromkeys((*song_names(name, title, settings), *more)))


NEAR = 0.7
"""Likeness from which on a name may have been meant: one or two letters of a short one differ."""

_COUNT = re.compile(r"[\W_]*(?:\d{1,3}\s*[-–—._)\]:]+\s*|0\d{1,2}\s+)(?=.*[^\W\d_])")
"""What only counts a song where somebody numbered a list: "3. Night Ferry", "03 - Night Ferry", "03 Night
Ferry". The number of "99 Miles" is its name."""


class SongRegister:
    """Songs by all names that they may be called by."""

    def __init__(
        self, songs: Iterable[tuple[str, Sequence[str]]], unmarked: Mapping[str, str] | None = None
    ) -> None:
        """songs: each one's full name, and all its names (`song_names`); unmarked: their titles without a
        version mark ("Night Ferry" of "night_ferry_FINAL"), which count where no name fits."""
        self._full: dict[str, list[str]] = {}
        self._any: dict[str, list[str]] = {}
        self._unmarked: dict[str, list[str]] = {}
        for song, title in (unmarked or {}).items():
            self._unmarked.setdefault(plain(title), []).append(song)
        for song, names in songs:
            self._full.setdefault(plain(song), []).append(song)
            for name in {plain(each) for each in (song, *names)}:
                self._any.setdefault(name, []).append(song)

    def named(self, wanted: str) -> tuple[str, ...]:
        """The songs that a typed name means: one, or several that share it, or none.

        The full name goes before all others; a number in front that no song has only counts the list.
        """
        full = self._full.get(plain(wanted), [])
        if wanted in full:
            return (wanted,)
        bare = plain(_COUNT.sub("", wanted, count=1))
        ways = (plain(wanted), bare)
        signless = plain(bare.replace(" and ", " ")) if "&" in wanted else bare  # as titles without marks are
        asked = ((self._any, ways), (self._unmarked, (*ways, signless)))
        found = (known[way] for known, names in asked for way in names if way in known)
        return tuple(full or next(found, ()))

    def nearest(self, wanted: str) -> str | None:
        """The song that a name without one may mean: a letter or two differ, or the rest was left out."""
        known = {**self._unmarked, **self._any}
        near = get_close_matches(plain(wanted), known, n=1, cutoff=NEAR)
        if near:
            return known[near[0]][0]
        words = set(plain(wanted).split())
        whole = {songs[0] for name, songs in known.items() if words and words <= set(name.split())}
        return next(iter(whole)) if len(whole) == 1 else None

    def sharing(self, name: str) -> tuple[str, ...]:
        """All songs that go by this name, be it their full one or not."""
        return tuple(self._any.get(plain(name), ()))


class _Entries:
    """The entries under [[songs]] by their names; those of the last settings asked about are kept."""

    def __init__(self) -> None:
        self._of: tuple[SongSettings, ...] = ()
        self._by_name: dict[str, list[SongSettings]] = {}

    def named(self, settings: ShowSettings, name: str) -> SongSettings | None:
        if settings.songs is not self._of:
            self._of, self._by_name = settings.songs, {}
            for song in settings.songs:
                self._by_name.setdefault(plain(song.name), []).append(song)
        fitting = self._by_name.get(plain(name), [])
        return next((song for song in fitting if song.name == name), fitting[0] if fitting else None)


_entries = _Entries()


def settings_of_song(settings: ShowSettings, name: str, title: str, unmarked: str = "") -> SongSettings:
    """The entry under [[songs]] for a song: by its full name before its title; empty where there is none.

    unmarked: its title without version mark, which goes last: what is said of "Night Ferry" still holds for
    "Night Ferry v4".
    """
    if not settings.songs:
        return NO_SONG_SETTINGS
    ways = (name, title, name.rsplit("/", 1)[-1].strip(), *([unmarked] if unmarked else []))
    found = (_entries.named(settings, way) for way in ways)
    return next((song for song in found if song is not None), NO_SONG_SETTINGS)


def roles_of_stem(settings: ShowSettings, file: str) -> tuple[Role, ...]:
    """The role, or the roles by channel, that the first fitting pattern under [roles] gives a stem."""
    names = stem_names(file)
    return next((entry.roles for entry in settings.roles if fits(entry.pattern, names)), ())


def crew_roles(settings: ShowSettings) -> tuple[Role, ...]:
    """The roles that the audience does not hear."""
    heard: Mapping[Role, bool] = settings.audience
    return tuple(role for role in Role if not heard.get(role, role not in CREW_ROLES))


def fits_song(patterns: Iterable[str], names: Iterable[str]) -> bool:
    """Whether one of the patterns fits one of a song's names."""
    return fits_any(patterns, names)


def fits_stem(patterns: Iterable[str], file: str, roles: Iterable[Role]) -> bool:
    """Whether one of the patterns is one of the stem's roles, or fits its file's name."""
    known = {role.value for role in roles}
    names = stem_names(file)
    return any(plain(pattern) in known or fits(pattern, names) for pattern in patterns)
