"""Shows with settings, built by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from audit.evidence import ShowEvidence, SongEvidence
from audit.settings.model import ShowSettings, SongSettings
from tests.evidence import show


def of_song(song: SongEvidence, **said: Any) -> SongEvidence:
    """The song with an entry of its own in the settings."""
    return replace(song, settings=SongSettings(name=song.name, **said))


def asked(*songs: SongEvidence, **said: Any) -> ShowEvidence:
    """A show whose settings say this."""
    said.setdefault("songs", tuple(song.settings for song in songs if song.settings.name))
    return replace(show(*songs), settings=ShowSettings(source="show.toml", **said))
