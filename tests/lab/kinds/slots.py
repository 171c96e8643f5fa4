"""Whole beats and bars, planted by moving the slots under what was heard, not the audio: by the hundred."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from audit.evidence import SongEvidence
from audit.facts import Role
from audit.measure.beat_pairs import compare
from audit.measure.beat_shift import shift_by_beats
from audit.measure.beat_slots import BeatSlots, Motion
from audit.measure.harmony import TONAL
from audit.measure.rearranged import rearranged
from audit.results import Alignment
from tests.lab.hearing import Bench, runs_of
from tests.lab.human import human_show
from tests.lab.kind import wilson
from tests.lab.kinds.beat import CHORDS, beat_s
from tests.lab.provoking import provoking
from tests.lab.songs import LabShow, LabSong, corpus, demo, long_show
from tests.lab.tables import OwnTable
from tests.shared import shared_folder

RULE = "shifted-by-beats"


def shows(seed: int) -> Iterator[LabShow]:
    yield demo()
    yield corpus(shared_folder("corpus"))
    yield long_show(seed, songs=8, seconds=100.0)
    yield provoking(seed)
    yield human_show(seed)


class Laid:
    """A song whose stems can be laid beats beside where they were heard."""

    def __init__(self, bench: Bench, lab_song: LabSong) -> None:
        self._song, self._heard = lab_song, bench.heard[lab_song.name]
        self._before: SongEvidence = bench.evidence[lab_song.name]
        self._slots = BeatSlots(np.array(lab_song.beats_s), runs_of(lab_song.beats_s))
        self._asked = [
            stem.name
            for stem in lab_song.stems
            if stem.role is not Role.FULL_MIX and self._heard[stem.name].chroma.tonal >= TONAL
        ]
        self._motions = [Motion(self._heard[name].chroma, self._slots) for name in self._asked]

    def moved(self, name: str, beats: float) -> SongEvidence:
        """Its evidence with one stem that many beats late."""
        slots = copy(self._slots)
        late_s = beats * beat_s(self._song)
        slots.starts_s, slots.ends_s = slots.starts_s - late_s, slots.ends_s - late_s
        motions = list(self._motions)
        motions[self._asked.index(name)] = Motion(self._heard[name].chroma, slots)
        pairs = compare(self._slots, motions)
        a_bar = self._song.beats_a_bar
        found = zip(
            self._asked,
            shift_by_beats(self._slots, motions, pairs, self._asked, a_bar),
            rearranged(self._slots, motions, pairs, self._asked, a_bar),
            strict=True,
        )
        laid = {one: (beats, change) for one, beats, change in found}
        return replace(
            self._before,
            stems=tuple(
                replace(
                    stem,
                    alignment=Alignment(
                        phase=None, drift=None, wrong_rate=None, beats=laid[stem.name][0],
                        rearranged=laid[stem.name][1],
                    ),
                )
                if stem.name in laid
                else stem
                for stem in self._before.stems
            ),
        )  # fmt: skip


@dataclass(kw_only=True)
class Cell:
    planted: int = 0
    found: int = 0
    right: int = 0  # with its size
    warnings: int = 0  # of those found
    blamed_others: int = 0

    def line(self, label: str) -> str:
        low, high = wilson(self.found, self.planted)
        share = f"{self.found:4}/{self.planted:<4} [{100 * low:3.0f}–{100 * high:3.0f}]"
        return (
            f"{label:44} {share}  size right {self.right}, warnings {self.warnings}, "
            f"others blamed {self.blamed_others}"
        )


def lines(seed: int, most: int | None) -> Iterator[str]:
    cells: dict[str, Cell] = defaultdict(Cell)
    for lab_show in shows(seed):
        bench = Bench(lab_show)
        alarms = bench.clean((RULE,))
        yield f"clean {lab_show.name}: {len(lab_show.songs)} songs, {len(alarms)} false alarms"
        yield from (f"  {alarm.songs} {alarm.stem}: {alarm.message}" for alarm in alarms)
        for lab_song in lab_show.songs:
            told = [
                stem
                for stem in bench.evidence[lab_song.name].stems
                if stem.role in CHORDS and stem.alignment is not None and stem.alignment.beats is not None
            ]
            laid = Laid(bench, lab_song) if told else None
            for stem in told:
                for name, size in (("one beat", 1.0), ("one bar", float(lab_song.beats_a_bar))):
                    cell = cells[f"{lab_show.name}: {name}"]
                    for sign in (1.0, -1.0):
                        if laid is None or (most is not None and cell.planted >= most):
                            continue
                        found = bench.said(lab_song, laid.moved(stem.name, sign * size), (RULE,))
                        mine = [one for one in found if one.stem == stem.name]
                        cell.planted += 1
                        cell.found += bool(mine)
                        cell.right += any(one.value == sign * size for one in mine)
                        cell.warnings += any(one.severity.value == "warning" for one in mine)
                        cell.blamed_others += len(found) - len(mine)
    for name, cell in cells.items():
        yield cell.line(name)


KIND = OwnTable(name="slots", lines=lines)
