"""What only shows when the settings are looked at as a whole: names twice, frames that do not exist."""

from __future__ import annotations

from collections.abc import Sequence

from audit.settings.mistakes import Mistakes, offer, quoted
from audit.settings.model import Output, ShowSettings, SongSettings
from audit.settings.patterns import plain
from audit.timecode import index_of


def check_whole(settings: ShowSettings, mistakes: Mistakes) -> None:
    """Notes mistakes that no single key holds."""
    songs = [(name, song.line) for song in settings.songs for name in (song.name, *song.aliases)]
    _twice(songs, "songs", "a song is described once, under one name", mistakes)
    for table, named in (("sets", settings.sets), ("machines", settings.machines)):
        _twice([(each.name, each.line) for each in named], table, "each needs a name of its own", mistakes)
    for song in settings.songs:
        _check_labels(song, settings, mistakes)
    _check_listeners(settings.outputs, mistakes)
    if settings.true_bits and settings.bits == 16:
        mistakes.add(("show", "true_bits"), "asks for more than the 16 bits of `bits`: set one of them right")
    wanted = settings.default_set
    if wanted is not None and plain(wanted) not in {plain(each.name) for each in settings.sets}:
        near = offer(wanted, [each.name for each in settings.sets])
        mistakes.add(
            ("show", "set"), f"there is no set list called {quoted(wanted)}; {near}add it under [[sets]]"
        )


def _twice(named: Sequence[tuple[str, int | None]], table: str, why: str, mistakes: Mistakes) -> None:
    seen: dict[str, int | None] = {}
    for name, line in named:
        if not plain(name):  # it is missing, which has been said
            continue
        if plain(name) not in seen:
            seen[plain(name)] = line
            continue
        first = seen[plain(name)]
        where = "twice" if first == line else f"in line {first} too"
        mistakes.add_at(line or 1, f"{table}: {quoted(name)} stands {where}: {why}")


def _check_labels(song: SongSettings, settings: ShowSettings, mistakes: Mistakes) -> None:
    rate = song.frame_rate or settings.frame_rate
    if rate is None:
        return
    for key, label in (
        ("timecode_start", song.timecode_start),
        ("timecode_at_beat_1", song.timecode_at_beat_1),
    ):
        if label is None:
            continue
        try:
            index_of(label, rate)
        except ValueError:
            mistakes.add_at(
                song.line or 1,
                f"songs.{key}: {quoted(label.text(rate))} does not exist at {rate.text} frames a second: "
                "give a frame that is counted",
            )


def _check_listeners(outputs: tuple[Output, ...], mistakes: Mistakes) -> None:
    """An output has one cable: who hears it cannot change from line to line."""
    heard: dict[int, Output] = {}
    for output in (each for each in outputs if each.heard_by):
        for number in output.out:
            first = heard.setdefault(number, output)
            if first.heard_by != output.heard_by:
                mistakes.add_at(
                    output.line or 1,
                    f"outputs.heard_by: output {number} is heard by the {first.heard_by} in line "
                    f"{first.line} and by the {output.heard_by} here: an output has one listener",
                )
