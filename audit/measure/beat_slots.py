"""A song's time in slots of its beats, and what each stem's harmony does in them.

    BeatSlots(beats_s, runs)   .edges_s  .per_beat  .beat_of(slot)
    Motion(chroma, slots)      .changes  .turns  .state  .live

A beat has as many slots as fit at about an eighth of a second each. Beats go on at the pace of the first and
the last one for EXTRA_BEATS before and after the click. Between runs of the click there are no slots: what
plays there is compared with nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy

import numpy as np
import numpy.typing as npt

from audit.measure.chroma import unpacked
from audit.results import Chroma

Numbers = npt.NDArray[np.float64]

SLOT_PAIR_S = 0.24
EXTRA_BEATS = 8

STEP_HOPS = 1
"""Tones that begin at a hop are seen in the difference of the hop after it and the hop before."""

COMPRESSION = 30.0
"""log(1 + 30 · a / a90): a tone 30 dB under the loud ones still counts for a fifth."""

LIVE = 10.0 ** (-30.0 / 20.0)
"""A slot sounds above −30 dB of the stem's loud slots (their 95th percentile)."""

FEWEST_LIVE = 16

TABLES = ("changes", "turns", "state")


class BeatSlots:
    """beats_s: ascending, shape (n,); runs: (first beat, beats) of each stretch without a break."""

    def __init__(self, beats_s: Numbers, runs: Sequence[tuple[int, int]]) -> None:
        joined = np.zeros(max(0, len(beats_s) - 1), dtype=bool)
        for first, count in runs:
            joined[first : first + count - 1] = True
        index = np.flatnonzero(joined)
        self.usual_s = float(np.median(np.diff(beats_s)[index])) if len(index) else 0.0
        self.per_beat = max(4, 2 * round(self.usual_s / SLOT_PAIR_S))
        starts, ends = self._beats(beats_s, index)
        aside = np.full(EXTRA_BEATS if len(index) else 0, -1, dtype=np.int64)
        self.beats = np.concatenate([aside, index, aside])
        """Which of the click's beats each beat of the slots is; −1: before and after the click."""
        parts = np.arange(self.per_beat) / self.per_beat
        lengths = ends - starts
        self.starts_s: Numbers = (starts[:, None] + parts * lengths[:, None]).ravel()
        self.ends_s: Numbers = (starts[:, None] + (parts + 1.0 / self.per_beat) * lengths[:, None]).ravel()

    def _beats(self, beats_s: Numbers, index: npt.NDArray[np.int64]) -> tuple[Numbers, Numbers]:
        if len(index) == 0:
            return np.zeros(0), np.zeros(0)
        starts, ends = beats_s[index], beats_s[index + 1]
        extra = np.arange(1, EXTRA_BEATS + 1)
        before = starts[0] - (ends[0] - starts[0]) * extra[::-1]
        after = ends[-1] + (ends[-1] - starts[-1]) * (extra - 1)
        step_before, step_after = ends[0] - starts[0], ends[-1] - starts[-1]
        return (
            np.concatenate([before, starts, after]),
            np.concatenate([before + step_before, ends, after + step_after]),
        )

    def __len__(self) -> int:
        return len(self.starts_s)


class Motion:
    """One stem's harmony over the slots; each of its tables has the energy 1, or 0 where nothing is told.

    changes: tones that begin, shape (slots, 12). turns: what sounds in the half beat from a slot on, less
    what sounded in the half beat before, shape (slots, 12): a chord played again is no turn. state: classes
    that sound, from their mean, shape (slots, 12). live: whether a slot sounds, shape (slots,).
    """

    def __init__(self, chroma: Chroma, slots: BeatSlots) -> None:
        classes = np.frombuffer(chroma.classes, dtype=np.uint8).reshape(-1, 12).astype(np.float64)
        levels = unpacked(np.frombuffer(chroma.levels, dtype=np.uint8)).astype(np.float64)
        sounding = classes * (levels / np.maximum(classes.sum(axis=1), 1.0))[:, None]
        loud = float(np.percentile(levels, 90)) if len(levels) else 0.0
        self.live = np.zeros(len(slots), dtype=bool)
        self.changes: Numbers = np.zeros((len(slots), 12))
        self.turns: Numbers = np.zeros((len(slots), 12))
        self.state: Numbers = np.zeros((len(slots), 12))
        if loud <= 0.0 or len(levels) < 3:
            return
        begun = np.zeros_like(sounding)
        compressed = np.log1p(COMPRESSION * sounding / loud)
        begun[STEP_HOPS:-STEP_HOPS] = np.maximum(
            0.0, compressed[2 * STEP_HOPS :] - compressed[: -2 * STEP_HOPS]
        )
        per_slot = _summed(sounding, chroma.hop_s, slots)
        size = np.linalg.norm(per_slot, axis=1)
        self.live = size > LIVE * max(float(np.percentile(size, 95)), 1e-12)
        if self.live.sum() < FEWEST_LIVE:
            self.live[:] = False
            return
        direction = per_slot[self.live] / size[self.live, None]
        self.state[self.live] = direction - direction.mean(axis=0)
        self.state = _to_one(self.state)
        self.turns = _to_one(_turns(per_slot, self.live, slots.per_beat // 2))
        changes = np.sqrt(_summed(begun, chroma.hop_s, slots))
        self.changes = _to_one(changes - changes.mean(axis=0))

    @property
    def told(self) -> bool:
        return bool(self.live.any())

    def earlier(self, by: int) -> Motion:
        """The same moved so many slots earlier; what falls off the front comes back at the end."""
        moved = copy(self)
        for table in TABLES:
            setattr(moved, table, np.roll(getattr(self, table), -by, axis=0))
        return moved


def added(motions: Sequence[Motion], weights: Numbers) -> Motion:
    """Several stems as one; its tables have whatever energy that gives."""
    total = copy(motions[0])
    total.live = np.any([one.live for one in motions], axis=0)
    for table in TABLES:
        setattr(
            total, table, np.tensordot(weights, np.stack([getattr(one, table) for one in motions]), axes=1)
        )
    return total


def _summed(table: Numbers, hop_s: float, slots: BeatSlots) -> Numbers:
    """What falls into each slot of what the hops hold; hop k reaches half a hop to either side."""
    sums = np.vstack([np.zeros(table.shape[1]), np.cumsum(table, axis=0)])
    at_s = (np.arange(len(sums)) - 0.5) * hop_s
    columns = [
        np.interp(slots.ends_s, at_s, column) - np.interp(slots.starts_s, at_s, column) for column in sums.T
    ]
    fallen: Numbers = np.maximum(np.stack(columns, axis=1), 0.0)
    return fallen


def _turns(per_slot: Numbers, live: npt.NDArray[np.bool_], width: int) -> Numbers:
    """What sounds in `width` slots from each slot on, less what sounded in as many before it; 0 where either
    is silent. Amplitudes count by their root: a loud root does not outweigh its chord."""
    roots = np.sqrt(np.where(live[:, None], per_slot, 0.0))
    roots /= np.maximum(np.linalg.norm(roots, axis=1, keepdims=True), 1e-9)
    sums = np.vstack([np.zeros(roots.shape[1]), np.cumsum(roots, axis=0)])
    counts = np.concatenate([[0], np.cumsum(live)])
    at = np.arange(len(roots))
    before, after = np.maximum(at - width, 0), np.minimum(at + width, len(roots))
    sounded, sounding = counts[at] - counts[before], counts[after] - counts[at]
    was = (sums[at] - sums[before]) / np.maximum(sounded, 1)[:, None]
    now = (sums[after] - sums[at]) / np.maximum(sounding, 1)[:, None]
    turns: Numbers = np.where(((sounded > 0) & (sounding > 0))[:, None], now - was, 0.0)
    return turns


def _to_one(table: Numbers) -> Numbers:
    energy = float(np.sqrt((table**2).sum()))
    scaled: Numbers = table / energy if energy > 1e-9 else np.zeros_like(table)
    return scaled
