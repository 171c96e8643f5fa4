"""The length of a bar in a song that was not scanned: its click alone is heard."""

from __future__ import annotations

from dataclasses import replace

from audit.facts import Role, Song
from audit.results import ClickTrack


def bar_of(click: ClickTrack | None) -> float | None:
    """Seconds; None without a click, or where its metre is not told."""
    if click is None or not click.bpm or not click.beats_a_bar:
        return None
    return 60.0 / click.bpm * click.beats_a_bar


def click_bar_s(song: Song) -> float | None:
    """Of the song as it lies on disk. Hears the stems that its names call a click, and no other."""
    clicks = tuple(stem for stem in song.stems if stem.role is Role.CLICK or Role.CLICK in stem.channel_roles)
    if not clicks:
        return None
    from audit.pipeline.song.listen import listen

    return bar_of(listen(replace(song, stems=clicks), lambda stem, done: None).click)
