"""A stem of another song of the show in the place of this song's own, in another tempo or in the same."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from tests.lab.company import Company
from tests.lab.kinds.key import alarms, group
from tests.lab.songs import MARKING, LabShow
from tests.lab.tables import Count, OwnTable
from tests.lab.varied import BANDS, Role, composition, played

SECONDS = 40.0
TOGETHER_BPM = 104.0


def shows(seed: int) -> Iterator[LabShow]:
    for tempo, bpm in (("own tempi", None), ("one tempo", TOGETHER_BPM), ("one tempo and key", TOGETHER_BPM)):
        key = 4 if tempo.endswith("key") else None
        songs = (
            played(composition(seed, 20 + number, SECONDS, bpm=bpm, key=key), (Role.DRUMS, *band))
            for number, band in enumerate(BANDS)
        )
        yield LabShow(name=f"{tempo}, seed {seed}", songs=tuple(songs))


def lines(seed: int, most: int | None) -> Iterator[str]:
    for show in shows(seed):
        company = Company(show)
        yield from alarms(company)
        cells: dict[str, Count] = defaultdict(Count)
        for song in show.songs:
            for own in song.stems:
                for other in show.songs:
                    alike = next((one for one in other.stems if one.role is own.role), None)
                    cell = cells["drums" if own.role in MARKING else group(own.role)]
                    if other is song or alike is None or (most is not None and cell.planted >= most):
                        continue
                    found = company.planted(song, {own.name: company.heard[other.name][alike.name]})
                    cell.planted += 1
                    cell.found += any(
                        hit.rule == "foreign-stem"
                        and hit.stem == own.name
                        and hit.measured["other"] == other.name
                        for hit in found
                    )
                    cell.blamed_others += sum(hit.stem != own.name for hit in found)
        for name, cell in sorted(cells.items()):
            yield cell.line(f"{show.name}: {name}")


KIND = OwnTable(name="foreign", lines=lines)
