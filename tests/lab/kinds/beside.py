"""The whole stem early or late in small shows, most of whose songs lie beside their click as a whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from audit.evidence import StemEvidence
from tests.lab.human import human_show
from tests.lab.kinds import offset
from tests.lab.songs import LabShow, LabSong, LabStem, corpus, long_show
from tests.shared import shared_folder

TENTH = 0.1
"""Of a beat: as far as music that was cut out of something longer often lies off the click of its tempo."""


def beside_its_click(show: LabShow, every: int = 2) -> LabShow:
    """The clicks of all songs but every so many-th a tenth of a beat earlier: the music is late by that."""
    songs = tuple(
        replace(
            song, beats_s=tuple(at_s - TENTH * (song.beats_s[1] - song.beats_s[0]) for at_s in song.beats_s)
        )
        if len(song.beats_s) > 1 and number % every
        else song
        for number, song in enumerate(show.songs)
    )
    return replace(show, name=f"{show.name}, beside the click", songs=songs)


def shows(seed: int) -> Iterator[LabShow]:
    """The corpus, of whose songs two are so; a few songs of our own, and of people's."""
    yield corpus(shared_folder("corpus"))
    for more in (0, 100, 200):
        yield beside_its_click(long_show(seed + more, songs=5, seconds=60.0))
    yield beside_its_click(human_show(seed, songs=6, seconds=60.0))


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    """30 onsets and three other songs with such a role, however many stems share its strokes."""
    phase = clean.alignment.phase if clean.alignment else None
    return phase is not None and phase.onsets >= 30 and offset.known(show, song, stem)


KIND = replace(
    offset.KIND,
    name="beside",
    shows=shows,
    fits=fits,
    sizes=(10.0, -10.0, 20.0, -20.0, 35.0, -35.0, 50.0, -50.0),
)
