"""Can these machines carry the show? Songs' formats and sizes laid beside each machine's numbers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from audit.evidence import ShowEvidence
from audit.facts import Show, Song, StemFormat
from audit.load.cures import with_cures
from audit.load.demand import InstrumentLoad, SongLoad, load_of_stem
from audit.load.forecast import forecast_song
from audit.pipeline.machines import UNSAID, KnownMachine
from audit.results.load import SongForecast
from audit.settings.model import Engine, ShowSettings
from audit.settings.naming import all_names, fits_song, fits_stem, settings_of_song


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowForecast:
    """Songs × machines. `songs`: in the show's order; each machine's forecasts in the same order."""

    songs: tuple[str, ...]
    machines: tuple[str, ...]
    forecasts: tuple[tuple[SongForecast, ...], ...]  # [machine][song]

    def every(self) -> Iterable[SongForecast]:
        """All of them, machine by machine."""
        return (forecast for column in self.forecasts for forecast in column)

    def heaviest(self, machine: int) -> SongForecast | None:
        """The song that comes nearest to this machine's limits, or furthest past them."""
        return max(self.forecasts[machine], key=lambda f: f.limiting.share, default=None)


def read_formats(show: Show) -> dict[str, dict[str, StemFormat | None]]:
    """Every stem's format by song and file, from its header alone; None where it cannot be read."""
    from audit.decode.header import read_header  # numpy: a scan that hears nothing does without

    return {
        song.name: {
            stem.file: read_header(
                stem.path,
                size_bytes=stem.size_bytes,
                allocated_bytes=stem.allocated_bytes,
                elsewhere=stem.elsewhere,
            ).format
            for stem in song.stems
        }
        for song in show.songs
    }


def load_of_song(song: Song, formats: Mapping[str, StemFormat | None], settings: ShowSettings) -> SongLoad:
    """All that sounds at once in the song: every current stem, and the settings' instruments."""
    entry = settings_of_song(settings, song.name, song.title, song.unmarked)
    names = all_names(song.name, song.title, song.unmarked, entry)
    readable = {
        stem: shape
        for stem in song.stems
        if (shape := formats.get(stem.file)) is not None and shape.frames and shape.sample_rate_hz
    }
    return SongLoad(
        name=song.name,
        stems=tuple(load_of_stem(stem.file, shape, stem.size_bytes) for stem, shape in readable.items()),
        instruments=tuple(
            InstrumentLoad(name=each.name, cores=each.cores, memory_bytes=each.memory_bytes)
            for each in settings.instruments
            if fits_song(each.songs, names)
        ),
        outputs=_outputs(song, names, settings),
        unread=tuple(stem.file for stem in song.stems if stem not in readable),
    )


def _outputs(song: Song, names: Sequence[str], settings: ShowSettings) -> int | None:
    """The highest output that the patch sends one of the song's stems to; None without a patch."""
    used = [
        number
        for line in settings.outputs
        if fits_song(line.songs, names)
        and any(fits_stem(line.stems, stem.file, (stem.role, *stem.channel_roles)) for stem in song.stems)
        for number in line.out
    ]
    return max(used, default=None)


def show_rate_hz(
    formats: Mapping[str, Mapping[str, StemFormat | None]], settings: ShowSettings
) -> int | None:
    """The show's sample rate: the settings', else that of most files."""
    if settings.sample_rate_hz is not None:
        return settings.sample_rate_hz
    rates = Counter(
        shape.sample_rate_hz for song in formats.values() for shape in song.values() if shape is not None
    )
    return max(rates, key=lambda rate: (rates[rate], rate), default=None)


def forecast_show(
    show: Show,
    formats: Mapping[str, Mapping[str, StemFormat | None]],
    machines: Sequence[KnownMachine],
    settings: ShowSettings,
    asked: Engine = UNSAID,
    *,
    cures: bool = True,
) -> ShowForecast:
    """Every song on every machine. Songs without a stem that can be read are left out.

    asked: what overrides the settings' player; cures: with what would bring a song inside.
    """
    rate = show_rate_hz(formats, settings)
    loads = [
        (song, load)
        for song in show.songs
        if (load := load_of_song(song, formats.get(song.name, {}), settings)).stems
    ]
    columns = []
    for machine in machines:
        setup = machine.setup(rate, settings, asked)
        column = []
        for song, load in loads:
            past = machine.past(song.name, song.title)
            made = forecast_song(load, machine.profile, setup, stale=machine.stale, rehearsed=past)
            column.append(with_cures(made, load, machine.profile, setup) if cures else made)
        columns.append(tuple(column))
    return ShowForecast(
        songs=tuple(load.name for _, load in loads),
        machines=tuple(machine.profile.name for machine in machines),
        forecasts=tuple(columns),
    )


def with_forecasts(
    show: ShowEvidence, machines: Sequence[KnownMachine], settings: ShowSettings
) -> ShowEvidence:
    """The show's songs with a forecast for each machine that the settings name."""
    if not machines:
        return show
    formats = {song.name: {stem.name: stem.format for stem in song.stems} for song in show.songs}
    facts = replace(show.show, songs=tuple(song.song for song in show.songs))
    made = forecast_show(facts, formats, machines, settings)
    by_song: dict[str, list[SongForecast]] = {}
    for forecast in made.every():
        by_song.setdefault(forecast.song, []).append(forecast)
    songs = tuple(replace(song, forecasts=tuple(by_song.get(song.name, ()))) for song in show.songs)
    return replace(show, songs=songs)
