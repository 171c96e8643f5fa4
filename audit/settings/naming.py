"""What the settings say of a song or a stem on the disk, found by its names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from audit.facts import CREW_ROLES, Role
from audit.settings.model import NO_SONG_SETTINGS, ShowSettings, SongSettings
from audit.settings.patterns import fits, fits_any, plain, stem_names


def song_names(name: str, title: str, settings: SongSettings = NO_SONG_SETTINGS) -> tuple[str, ...]:
    """The ways in which a song may be named. `title`: its name without the number that counts it."""
    last = name.rsplit("/", 1)[-1].strip()
    ways = (name, title, last, settings.name, *settings.aliases)
    return tuple(dict.fromkeys(way for way in ways if way))


def settings_of_song(settings: ShowSettings, name: str, title: str) -> SongSettings:
    """The entry under [[songs]] for a song: by its full name before its title; empty where there is none."""
    for way in (name, title, name.rsplit("/", 1)[-1].strip()):
        for song in settings.songs:
            if plain(song.name) == plain(way):
                return song
    return NO_SONG_SETTINGS


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
