"""One source in a second stem: later by 0.1 to 10 ms at three levels, or upside down."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from audit.measure.common_source import CommonSourceMeter
from audit.units import from_db
from tests.evidence import findings, show, song, stem
from tests.lab.kinds.offset import moved
from tests.lab.songs import LabShow, LabSong, LabStem, demo
from tests.lab.tables import Count, OwnTable
from tests.lab.varied import misleading_show, varied_show

LAGS_MS, LEVELS_DB = (0.1, 0.5, 2.0, 5.0, 10.0), (0.0, -6.0, -12.0)
BLOCK = 65_536


def said(one: LabSong, *more: LabStem) -> list[tuple[str | None, object]]:
    """Stem and its other, for each pair that the rule tells of."""
    stems = (*one.stems, *more)
    meter = CommonSourceMeter(tuple(one.name for one in stems), one.rate_hz)
    for at in range(0, max(len(one.samples) for one in stems), BLOCK):
        blocks = {one.name: one.samples[at : at + BLOCK] for one in stems if len(one.samples) > at}
        for name, block in blocks.items():
            meter.hear(name, block)
        meter.step(max(map(len, blocks.values())))
    made = song(one.name, *[stem(one.name, role=one.role) for one in stems])
    found = findings("comb-pair", show(replace(made, common_sources=meter.result())))
    return [(hit.stem, hit.measured["other"]) for hit in found]


def lines(seed: int, most: int | None) -> Iterator[str]:
    cells: dict[str, Count] = defaultdict(Count)
    for lab_show in (demo(), varied_show(seed, songs=5), misleading_show(seed)):
        false = {one.name: found for one in lab_show.songs if (found := said(one))}
        yield f"clean {lab_show.name}: {len(lab_show.songs)} songs, {len(false)} false alarms {false or ''}"
        _plant(lab_show, cells, most)
    for name, cell in cells.items():
        yield cell.line(name)


def _plant(lab_show: LabShow, cells: dict[str, Count], most: int | None) -> None:
    cases = [(lag, level, 1.0) for lag in LAGS_MS for level in LEVELS_DB] + [
        (0.0, level, -1.0) for level in LEVELS_DB
    ]
    for one in lab_show.songs:
        for source in one.stems:
            for lag_ms, level_db, sign in cases:
                name = "upside down" if sign < 0 else f"{lag_ms:4.1f} ms"
                cell = cells[f"{name}, {level_db:+.0f} dB"]
                if most is not None and cell.planted >= most:
                    continue
                late = moved(source.samples, one.rate_hz, lag_ms) * np.float32(sign * from_db(level_db))
                copy = LabStem(name="Copy.wav", role=source.role, samples=late)
                found = said(replace(one, stems=(source,)), copy)
                cell.planted += 1
                cell.found += any("Copy.wav" in pair for pair in found)


KIND = OwnTable(name="comb", lines=lines)
