"""What a kind of fault is to the lab, and the table it fills."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from statistics import median

import numpy as np

from audit.evidence import StemEvidence
from audit.findings import Finding
from tests.lab.hearing import Bench, hear_stem
from tests.lab.songs import LabShow, LabSong, LabStem

Samples = np.ndarray


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of fault in a stem.

    plant: (samples, rate, size) to samples, and plant_in the same for faults that are measured in the song's
    own beats: (song, samples, size). estimate: what the evidence says the size is, against the clean stem's
    unless `absolute`. fits: which (show, song, clean stem, size) may be asked. group: the cell.
    """

    name: str
    unit: str
    rules: tuple[str, ...]
    sizes: tuple[float, ...]
    plant: Callable[[Samples, int, float], Samples]
    shows: Callable[[int], Sequence[LabShow]]
    fits: Callable[[LabShow, LabSong, LabStem, StemEvidence, float], bool]
    estimate: Callable[[StemEvidence], float | None]
    group: Callable[[LabStem], str]
    plant_in: Callable[[LabSong, Samples, float], Samples] | None = None
    absolute: bool = False
    silent_below: float = 0.0  # sizes at and under this are no fault: whatever is found is a false alarm


@dataclass(kw_only=True)
class Cell:
    """Plantings of one size and group."""

    found: int = 0
    planted: int = 0
    blamed_others: int = 0  # findings that name another stem
    errors: list[float] = field(default_factory=list)
    worst: str = ""

    def line(self, unit: str) -> str:
        low, high = wilson(self.found, self.planted)
        text = f"{self.found:4}/{self.planted:<4} {100 * self.found / max(1, self.planted):5.1f} % "
        text += f"[{100 * low:3.0f}–{100 * high:3.0f}]"
        if self.errors:
            sizes = sorted(abs(error) for error in self.errors)
            text += (
                f"  error: median {median(sizes):.2f} {unit}, 90 % within {sizes[int(0.9 * len(sizes))]:.2f}"
            )
        text += f"  others blamed: {self.blamed_others}"
        return text + (f"  worst: {self.worst}" if self.worst else "")


def wilson(found: int, planted: int) -> tuple[float, float]:
    """95 % bounds of a share. Source: Wilson 1927, the score interval [memory]."""
    if planted == 0:
        return 0.0, 1.0
    z, share = 1.96, found / planted
    middle = (share + z * z / (2 * planted)) / (1 + z * z / planted)
    half = z / (1 + z * z / planted) * math.sqrt(share * (1 - share) / planted + z * z / (4 * planted**2))
    return max(0.0, middle - half), min(1.0, middle + half)


def run(kind: Kind, benches: Sequence[Bench], *, most: int | None = None) -> dict[tuple[str, float], Cell]:
    """Plant every size in every stem that fits; `most`: at most so many plantings a cell."""
    cells: dict[tuple[str, float], Cell] = {}
    for bench in benches:
        for song in bench.show.songs:
            clean = {stem.name: stem for stem in bench.evidence[song.name].stems}
            for stem in song.stems:
                for size in kind.sizes:
                    cell = cells.setdefault((kind.group(stem), size), Cell())
                    if not kind.fits(bench.show, song, stem, clean[stem.name], size):
                        continue
                    if most is not None and cell.planted >= most:
                        continue
                    if kind.plant_in is not None:
                        broken = kind.plant_in(song, stem.samples, size)
                    else:
                        broken = kind.plant(stem.samples, song.rate_hz, size)
                    sound = hear_stem(broken, song.rate_hz)
                    changed, findings = bench.planted(song, stem.name, sound, kind.rules)
                    after = next(one for one in changed.stems if one.name == stem.name)
                    _count(kind, cell, size, song, stem, clean[stem.name], after, findings)
    return cells


def _count(kind: Kind, cell: Cell, size: float, song: LabSong, stem: LabStem, before: StemEvidence,
           after: StemEvidence, findings: list[Finding]) -> None:  # fmt: skip
    cell.planted += 1
    cell.found += any(finding.stem == stem.name for finding in findings)
    cell.blamed_others += sum(finding.stem != stem.name for finding in findings)
    was, now = 0.0 if kind.absolute else kind.estimate(before), kind.estimate(after)
    if was is not None and now is not None:
        error = now - was - size
        if not cell.errors or abs(error) > max(abs(one) for one in cell.errors):
            cell.worst = f"{error:+.1f} {kind.unit} in {song.name}/{stem.name}"
        cell.errors.append(error)


def table(kind: Kind, cells: dict[tuple[str, float], Cell]) -> list[str]:
    lines = []
    for (group, size), cell in sorted(
        cells.items(), key=lambda item: (item[0][0], abs(item[0][1]), item[0][1])
    ):
        if cell.planted:
            said = "said (no fault)" if abs(size) <= kind.silent_below else "found"
            lines.append(f"{group:28}{size:+9g} {kind.unit:4}{said:>16} {cell.line(kind.unit)}")
    return lines
