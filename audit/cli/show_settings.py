"""The settings and the set list a scan goes by: those that were named, or the show's own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from audit.errors import UsageError

if TYPE_CHECKING:
    from audit.facts import Show
    from audit.settings.model import SetList, ShowSettings
    from audit.settings.order import RunningOrder

SET_SUFFIXES = (".txt", ".md", ".text", ".toml")

HIGHEST = 2
"""A song that is scanned by itself lies so many folders below its show's at most: Show/Act/Song."""


def settings_for(folder: Path, given: str | None) -> ShowSettings:
    """The settings in `given`; else show.toml in the folder, or above it for a song that is scanned alone.

    Without any there are none. Raises SettingsError with all mistakes in them, UsageError for an empty name.
    """
    from audit.pipeline.settled import known_names
    from audit.settings.model import NO_SETTINGS
    from audit.settings.read import FILE, read_settings

    if given is not None:
        if not given.strip():
            raise UsageError("--settings: no file is named: give a settings file, or leave --settings out")
        return read_settings(Path(given), known_names(), shown=given)
    full = folder.absolute()
    for place in (full, *full.parents[:HIGHEST]):
        if (place / FILE).is_file():
            return read_settings(place / FILE, known_names(), shown=FILE)
    return NO_SETTINGS


def set_for(settings: ShowSettings, given: str | None) -> SetList | None:
    """The set list that `--set` names: one of the settings, or a text file; without it the settings' own.

    Raises UsageError, or SettingsError for a file that names no song.
    """
    from audit.settings.choice import choose_set
    from audit.settings.setlist import read_set_file

    if given is not None and not given.strip():
        raise UsageError("--set: no set list is named: give its name or a text file, or leave --set out")
    try:
        return choose_set(settings, given)
    except UsageError:
        if given is None or not (Path(given).is_file() or given.casefold().endswith(SET_SUFFIXES)):
            raise
        return read_set_file(Path(given), shown=given)


def laid_over(night: SetList, show: Show, settings: ShowSettings) -> RunningOrder:
    """Tonight's songs on the disk. Raises UsageError where none of them is."""
    from audit.pipeline.settled import set_order
    from audit.settings.mistakes import clean

    if [song.folder for song in show.songs] == ["."]:
        raise UsageError("--set: this is one song's folder: give the show's")
    order = set_order(night, show, settings)
    if not order.songs:
        raise UsageError(f"--set {clean(night.name)}: none of its songs is in this folder")
    return order


def songs_of(order: RunningOrder, show: Show) -> Show:
    """The show with tonight's songs alone, in their order; all songs of a name that several have."""
    named = dict.fromkeys(
        name for place in order.places if place.song is not None for name in (place.song, *place.several)
    )
    by_name = {song.name: song for song in show.songs}
    return replace(show, songs=tuple(by_name[name] for name in named))
