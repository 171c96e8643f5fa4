"""What a kind of fault is to the lab, and the table it fills."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from statistics import median

import numpy as np

from audit.evidence import StemEvidence
from audit.results import Onsets
from tests.lab.hearing import Bench, Sound, hear_stem
from tests.lab.songs import LabShow, LabSong, LabStem

Samples = np.ndarray


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of fault in a stem.

    plant: (samples, rate, size) to samples, and plant_in the same for faults that are measured in the song's
    own beats: (song, samples, size). in_onsets: the same done to a list of onsets, where that comes to the
    same and saves hearing the stem anew (None: it does not); some plantings are
    done in the audio as well, and compared.
    estimate: what the evidence says the size is, against the clean stem's unless `absolute`. Sizes that
    differ in sign share a cell. fits: which (show, song, clean stem, size) may be asked. group: the cell.
    """

    name: str
    unit: str
    rules: tuple[str, ...]
    sizes: tuple[float, ...]
    plant: Callable[[Samples, int, float], Samples]
    in_onsets: Callable[[Onsets, float], Onsets | None] | None = None
    shows: Callable[[int], Iterable[LabShow]]
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
    by_people: int = 0  # of the plantings, and of those found: in songs that people play
    found_by_people: int = 0
    checked: int = 0  # planted in the audio as well, and told alike
    alike: int = 0

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
        if self.by_people:
            text += f"  of these played by people: {self.found_by_people}/{self.by_people}"
        return text + (f"  worst: {self.worst}" if self.worst else "")


def wilson(found: int, planted: int) -> tuple[float, float]:
    """95 % bounds of a share. Source: Wilson 1927, the score interval [memory]."""
    if planted == 0:
        return 0.0, 1.0
    z, share = 1.96, found / planted
    middle = (share + z * z / (2 * planted)) / (1 + z * z / planted)
    half = z / (1 + z * z / planted) * math.sqrt(share * (1 - share) / planted + z * z / (4 * planted**2))
    return max(0.0, middle - half), min(1.0, middle + half)


CHECKED = 30
"""Every so many-th planting in onsets is done in the audio as well."""

Cells = dict[tuple[str, float], Cell]


def run(
    kind: Kind, benches: Sequence[Bench], *, most: int | None = None, cells: Cells | None = None
) -> Cells:
    """Plant every size in every stem that fits; `most`: at most so many plantings a cell. cells: added to."""
    cells = {} if cells is None else cells
    for bench in benches:
        for song in bench.show.songs:
            clean = {stem.name: stem for stem in bench.evidence[song.name].stems}
            for stem in song.stems:
                for size in kind.sizes:
                    cell = cells.setdefault((kind.group(stem), abs(size)), Cell())
                    if not kind.fits(bench.show, song, stem, clean[stem.name], size):
                        continue
                    if most is not None and cell.planted >= most:
                        continue
                    _plant(kind, cell, bench, song, stem, size, clean[stem.name])
    return cells


def _plant(kind: Kind, cell: Cell, bench: Bench, song: LabSong, stem: LabStem, size: float,
           before: StemEvidence) -> None:  # fmt: skip
    heard = bench.heard[song.name][stem.name]
    quick = None
    if kind.in_onsets is not None:
        onsets = kind.in_onsets(heard.onsets, size)
        quick = None if onsets is None else replace(heard, onsets=onsets)
    changed, findings = bench.planted(song, stem.name, quick or _heard(kind, song, stem, size), kind.rules)
    after = next(one for one in changed.stems if one.name == stem.name)
    told = any(finding.stem == stem.name for finding in findings)
    if quick is not None and cell.planted % CHECKED == 0:
        _, others = bench.planted(song, stem.name, _heard(kind, song, stem, size), kind.rules)
        cell.checked += 1
        cell.alike += any(finding.stem == stem.name for finding in others) == told
    cell.planted += 1
    cell.found += told
    cell.blamed_others += sum(finding.stem != stem.name for finding in findings)
    if bench.show.by_people:
        cell.by_people += 1
        cell.found_by_people += told
    was, now = 0.0 if kind.absolute else kind.estimate(before), kind.estimate(after)
    if was is not None and now is not None:
        error = now - was - size
        if not cell.errors or abs(error) > max(abs(one) for one in cell.errors):
            cell.worst = f"{error:+.1f} {kind.unit} in {song.name}/{stem.name}"
        cell.errors.append(error)


def _heard(kind: Kind, song: LabSong, stem: LabStem, size: float) -> Sound:
    if kind.plant_in is not None:
        return hear_stem(kind.plant_in(song, stem.samples, size), song.rate_hz)
    return hear_stem(kind.plant(stem.samples, song.rate_hz, size), song.rate_hz)


def table(kind: Kind, cells: Cells) -> list[str]:
    """A line a cell, and one that says how often planting in onsets came to the same as in audio."""
    signed = any(size < 0.0 for size in kind.sizes)
    lines = []
    for (group, size), cell in sorted(cells.items()):
        if cell.planted:
            said = "said (no fault)" if size <= kind.silent_below else "found"
            text = f"{'±' if signed else ''}{size:.4g} {kind.unit}"
            lines.append(f"{group:26}{text:>10} {said:>15} {cell.line(kind.unit)}")
    checked, alike = (sum(getattr(cell, name) for cell in cells.values()) for name in ("checked", "alike"))
    if checked:
        lines.append(f"planted in the audio as well as in its onsets: {checked}, told alike: {alike}")
    return lines
