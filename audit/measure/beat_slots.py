"""A song's time in slots of its beats, and what each stem's harmony does in them.

    BeatSlots(beats_s, runs)   .edges_s  .per_beat  .beat_of(slot)
    Motion(chroma, slots)      .changes  .state  .live

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


class BeatSlots:
    """beats_s: ascending, shape (n,); runs: (first beat, beats) of each stretch without a break."""

    def __init__(self, beats_s: Numbers, runs: Sequence[tuple[int, int]]) -> None:
        joined = np.zeros(max(0, len(beats_s) - 1), dtype=bool)
        for first, count in runs:
            joined[first : first + count - 1] = True
        index = np.flatnonzero(joined)
        self.usual_s = float(np.median(np.diff(beats_s)[index])) if len(index) else 0.0
        self.per_beat = max(2, 2 * round(self.usual_s / SLOT_PAIR_S))
        starts, ends = self._beats(beats_s, index)
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

    changes: tones that begin, shape (slots, 12). state: classes that sound, from their mean, shape (slots,
    12). live: whether a slot sounds, shape (slots,).
    """

    def __init__(self, chroma: Chroma, slots: BeatSlots) -> None:
        classes = np.frombuffer(chroma.classes, dtype=np.uint8).reshape(-1, 12).astype(np.float64)
        levels = unpacked(np.frombuffer(chroma.levels, dtype=np.uint8)).astype(np.float64)
        sounding = classes * (levels / np.maximum(classes.sum(axis=1), 1.0))[:, None]
        loud = float(np.percentile(levels, 90)) if len(levels) else 0.0
        self.live = np.zeros(len(slots), dtype=bool)
        self.changes: Numbers = np.zeros((len(slots), 12))
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
        changes = np.sqrt(_summed(begun, chroma.hop_s, slots))
        self.changes = _to_one(changes - changes.mean(axis=0))

    @property
    def told(self) -> bool:
        return bool(self.live.any())


def added(motions: Sequence[Motion], weights: Numbers) -> Motion:
    """Several stems as one; its tables have whatever energy that gives."""
    total = copy(motions[0])
    total.live = np.any([one.live for one in motions], axis=0)
    total.changes = np.tensordot(weights, np.stack([one.changes for one in motions]), axes=1)
    total.state = np.tensordot(weights, np.stack([one.state for one in motions]), axes=1)
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


def _to_one(table: Numbers) -> Numbers:
    energy = float(np.sqrt((table**2).sum()))
    scaled: Numbers = table / energy if energy > 1e-9 else np.zeros_like(table)
    return scaled
