"""What only shows beside the folders: two entries that describe one song, an alias that is another song."""

from __future__ import annotations

from collections.abc import Sequence

from audit.settings.mistakes import Mistakes, quoted
from audit.settings.model import ShowSettings
from audit.settings.naming import SongRegister, settings_of_song, song_names


def check_songs(settings: ShowSettings, songs: Sequence[tuple[str, str, str]]) -> None:
    """songs: name, title, and title without version mark, of all there are. Raises SettingsError where two
    entries describe one of them, or an alias of one is the name of another: what only shows beside the
    folders."""
    if not settings.songs:
        return
    mistakes = Mistakes(settings.source or "show.toml")
    register = SongRegister((name, song_names(name, title)) for name, title, _ in songs)
    entries = {name: settings_of_song(settings, name, title, bare) for name, title, bare in songs}
    in_use = {id(entry) for entry in entries.values()}
    for entry in settings.songs:
        fitting = register.sharing(entry.name)
        if fitting and id(entry) not in in_use:
            other = entries[fitting[0]]
            mistakes.add_at(
                entry.line or 1,
                f"songs.name: {quoted(entry.name)} is the song {quoted(fitting[0])}, which "
                f"{quoted(other.name)} in line {other.line} describes: keep one of them",
            )
        for alias in entry.aliases:
            others = [name for name in register.sharing(alias) if entries[name] is not entry]
            if others:
                mistakes.add_at(
                    entry.line or 1,
                    f"songs.aliases: {quoted(alias)} is another song, {quoted(others[0])}: a set list could "
                    "mean either; give this one another alias",
                )
    mistakes.tell()
