"""The first sound cut from the front."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from audit.measure.head import HeadMeter
from audit.measure.onsets import OnsetMeter
from audit.results import Head
from tests.evidence import findings, show, song, stem
from tests.lab.human import human_show
from tests.lab.kinds.beat import CHORDS
from tests.lab.provoking import provoking
from tests.lab.songs import MARKING, LabShow, LabStem, Samples, corpus, demo, long_show
from tests.lab.tables import Count, OwnTable
from tests.lab.varied import varied_show
from tests.shared import shared_folder

CUTS_MS = (10, 20, 40, 80)
KEPT_S = 45
"""What follows the cut: the measure reads 40 s of it."""


def shows(seed: int) -> Iterator[LabShow]:
    yield demo()
    yield corpus(shared_folder("corpus"))
    yield long_show(seed, songs=4, seconds=60.0)
    yield provoking(seed)
    yield varied_show(seed)
    yield human_show(seed, seconds=60.0)
    yield human_show(seed + 100, seconds=60.0)


def head_of(samples: Samples, rate_hz: int) -> Head | None:
    kept: list[HeadMeter] = []
    onsets = OnsetMeter(rate_hz, samples.shape[1], also=lambda levels: kept[0].add(levels))
    kept.append(HeadMeter(onsets.hop_s, samples.shape[1]))
    onsets.add(samples)
    every = tuple(range(samples.shape[1]))
    return kept[0].result(onsets.result(every), every)


def said(one: LabStem, head: Head | None) -> Head | None:
    told = findings("cut-head", show(song("Lab", stem(one.name, role=one.role, head=head))))
    return head if told else None


def group(one: LabStem) -> str:
    if one.role in MARKING:
        return "drums, percussion"
    return "chords and basses" if one.role in CHORDS else "tunes and others"


def lines(seed: int, most: int | None) -> Iterator[str]:
    cells: dict[str, Count] = defaultdict(Count)
    off_ms: list[float] = []
    for lab_show in shows(seed):
        false, clean = [], 0
        for one in lab_show.songs:
            for part in one.stems:
                head = head_of(part.samples, one.rate_hz)
                clean += 1
                if said(part, head):
                    false.append(f"{one.name}/{part.name}: {head}")
                for cut_ms in CUTS_MS if head is not None and part.role.value != "loop" else ():
                    cell = cells[f"{group(part)}, {cut_ms} ms"]
                    if most is not None and cell.planted >= most:
                        continue
                    first = round((head.at_s + cut_ms / 1000.0) * one.rate_hz)
                    cut = part.samples[first : first + KEPT_S * one.rate_hz]
                    found = said(part, head_of(cut, one.rate_hz))
                    cell.planted += 1
                    cell.found += found is not None
                    off_ms += [abs(found.missing_ms - cut_ms)] if found is not None else []
        yield f"clean {lab_show.name}: {clean} stems, {len(false)} false alarms"
        yield from (f"  {line}" for line in false)
    for name, cell in sorted(cells.items()):
        yield cell.line(name)
    if off_ms:
        near = sum(off <= 3.0 for off in off_ms)
        yield f"what is missing told to 3 ms: {near}/{len(off_ms)}"


KIND = OwnTable(name="head", lines=lines)
