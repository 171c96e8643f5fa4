"""Which songs on the disk a line of a set list means, and which one it may mean.

songs_called(entry, register, set_list) -> the songs of that name
nearest_song(entry, register, set_list) -> the one with a name like it
"""

from __future__ import annotations

from audit.settings.model import SetEntry, SetList
from audit.settings.naming import SongRegister
from audit.settings.set_words import LONGEST, first_words, part_words, shorter_names


def songs_called(entry: SetEntry, register: SongRegister, set_list: SetList) -> tuple[str, ...]:
    """The songs that a line means: what it says in full goes before what it says without count or remark."""
    if len(entry.name) > LONGEST:
        return ()
    ways = (entry.name, *_shorter(entry, set_list))
    return next((songs for way in ways if (songs := register.named(way))), ())


def _shorter(entry: SetEntry, set_list: SetList) -> tuple[str, ...]:
    return (
        (part_words(entry.name),) if entry.heading else shorter_names(entry.name, songs=len(set_list.entries))
    )


def nearest_song(entry: SetEntry, register: SongRegister, set_list: SetList) -> str | None:
    """The song that a line which means none may mean."""
    if len(entry.name) > LONGEST:
        return None  # likenesses of long texts take long, and no song is called so
    ways = (entry.name, *_shorter(entry, set_list), *first_words(entry.name))
    return next((near for way in ways if (near := register.nearest(way)) is not None), None)
