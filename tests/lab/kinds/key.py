"""A part whose player reads it in another key: the notes are transposed before they are played."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from audit.facts import Role
from tests.lab.company import Company, hear
from tests.lab.human import human_show
from tests.lab.provoking import provoking
from tests.lab.songs import LabShow
from tests.lab.tables import Count, OwnTable
from tests.lab.varied import BANDS, composition, misleading_show, played, stem

SEMITONES = (-5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 6)
LINES = frozenset({Role.LEAD_VOCAL, Role.SYNTH})
SECONDS = 40.0


def group(role: Role) -> str:
    return "bass" if role is Role.BASS else "tunes" if role in LINES else "chords"


def lines(seed: int, most: int | None) -> Iterator[str]:
    for show in (misleading_show(seed), human_show(seed, seconds=80.0), provoking(seed)):
        yield from alarms(Company(show))
    cells: dict[tuple[str, int], Count] = defaultdict(Count)
    for number, band in enumerate(BANDS):
        song = composition(seed, number, SECONDS)
        one = played(song, (Role.DRUMS, *band))
        company = Company(LabShow(name=f"varied songs, seed {seed}", songs=(one,)))
        yield from alarms(company)
        for role in band:
            for semitones in SEMITONES:
                cell = cells[group(role), semitones]
                if most is not None and cell.planted >= most:
                    continue
                moved = stem(song, role, semitones=semitones)
                found = company.planted(one, {moved.name: hear(moved.samples, one.rate_hz)})
                cell.planted += 1
                cell.found += any(
                    hit.rule == "key-mismatch"
                    and hit.stem == moved.name
                    and hit.measured["semitones"] == semitones
                    for hit in found
                )
                cell.blamed_others += sum(hit.stem != moved.name for hit in found)
    for (name, semitones), cell in sorted(cells.items()):
        yield cell.line(f"{name}, {semitones:+d} semitones")


def alarms(company: Company) -> Iterator[str]:
    found = company.clean()
    yield f"clean {company.show.name}: {len(company.show.songs)} songs, {len(found)} false alarms"
    for hit in found:
        yield f"  {hit.songs} {hit.stem}: {hit.rule}, {hit.message}"


KIND = OwnTable(name="key", lines=lines)
