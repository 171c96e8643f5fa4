"""A stem early or late by about a quarter or half of a beat: is it found, its size told, or left open."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from audit.findings import Finding
from tests.lab.hearing import Bench, hear_stem
from tests.lab.human import human_show
from tests.lab.kind import wilson
from tests.lab.kinds.beat import beat_s
from tests.lab.kinds.offset import fits, moved
from tests.lab.songs import MARKING, LabShow, corpus, demo, long_show
from tests.lab.tables import OwnTable
from tests.shared import shared_folder

NEAR_MS = 8.0
"""A size is right to this: the habit that it is counted from is some milliseconds off itself."""

RULES = ("offset-from-click", "shifted-by-beats")


@dataclass(kw_only=True)
class Cell:
    planted: int = 0
    found: int = 0
    right: int = 0  # told as it is
    open: int = 0  # not told, and the right place named among those that look the same
    wrong: int = 0  # told otherwise, without a doubt

    def line(self, label: str) -> str:
        low, high = wilson(self.found, self.planted)
        share = f"{self.found:4}/{self.planted:<4} [{100 * low:3.0f}–{100 * high:3.0f}]"
        return f"{label:36} {share}  size right {self.right}, left open {self.open}, wrong {self.wrong}"


def shows(seed: int) -> Iterator[LabShow]:
    yield demo()
    yield corpus(shared_folder("corpus"))
    yield long_show(seed, songs=6, seconds=75.0)
    yield human_show(seed, seconds=80.0)


def lines(seed: int, most: int | None) -> Iterator[str]:
    cells: dict[str, Cell] = defaultdict(Cell)
    for lab_show in shows(seed):
        bench = Bench(lab_show)
        yield f"clean {lab_show.name}: {len(bench.clean(RULES))} false alarms"
        for song in lab_show.songs:
            clean = {one.name: one for one in bench.evidence[song.name].stems}
            for part in song.stems:
                for name, size_ms in (
                    ("80 ms", 80.0),
                    ("a quarter of a beat", 250.0 * beat_s(song) if song.beats_s else 0.0),
                    ("250 ms", 250.0),
                    ("half a beat", 500.0 * beat_s(song) if song.beats_s else 0.0),
                ):
                    for sign in (1.0, -1.0):
                        if not fits(lab_show, song, part, clean[part.name], size_ms):
                            continue
                        who = "drums, percussion, loops" if part.role in MARKING else "bass, guitars, keys"
                        cell = cells[f"{who} ±{name}"]
                        if most is not None and cell.planted >= most:
                            continue
                        late = moved(part.samples, song.rate_hz, sign * size_ms)
                        _, findings = bench.planted(song, part.name, hear_stem(late, song.rate_hz), RULES)
                        _count(cell, [one for one in findings if one.stem == part.name], sign * size_ms)
    for name, cell in sorted(cells.items()):
        yield cell.line(name)


def _count(cell: Cell, findings: Sequence[Finding], size_ms: float) -> None:
    cell.planted += 1
    if not findings:
        return
    cell.found += 1
    places = findings[0].measured.get("places_ms", ())
    near = [abs(float(place) - size_ms) <= NEAR_MS for place in places]  # type: ignore[union-attr]
    doubtful = len(near) > 1
    cell.right += bool(near and near[0])
    cell.open += doubtful and any(near[1:])
    cell.wrong += not any(near)


KIND = OwnTable(name="half", lines=lines)
