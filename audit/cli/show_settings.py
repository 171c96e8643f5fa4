"""The settings a scan goes by: a file that was named, or the show's own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.errors import UsageError

if TYPE_CHECKING:
    from audit.settings.model import ShowSettings

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
