"""Stretches of a stem that are not found again as they were: faded, turned down, muted, or something else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
import numpy.typing as npt

from audit.measure.sketch_delta import WHOLE, Overlap
from audit.measure.sketch_fit import clear
from audit.results import AudioChange, ChangeKind, Sketch

GAP_CHUNKS = 4
"""Between two stretches; fewer and it is one."""

KNOWN, FOLLOWING = 0.5, 0.8
"""Of a stretch's chunks that sound, so many must tell their gain; and of these so many follow one another."""

LEAST_CHUNKS = 3
"""Fewer say nothing of how a gain changes."""

FADED, FROM_FULL = 0.5, 0.7
"""A fade begins above FROM_FULL of the whole's gain and ends below FADED (−6 dB); else it was turned down."""

FALLING = 0.02
"""By so much of the whole's gain a fade may turn back: rounding."""

GONE = 0.003
"""−50 dB: what is left behind a fade's end."""

RIDDEN_DB, ALL_ALONG_DB, HALF = 0.3, 2.0, 0.5
"""A level that is ridden all along goes up and down by ALL_ALONG_DB at least: filters move notes by less."""


def stretches(old: Sketch, overlap: Overlap, new: Sketch) -> Iterator[AudioChange]:
    """Those of the old audio that are not found again, in the new audio's time."""
    if overlap.share >= WHOLE and not overlap.before.sure:
        return
    inside = _inside(old, overlap, new)
    places = np.flatnonzero(~overlap.found & inside)
    if not len(places):
        return
    ends = np.flatnonzero(np.diff(places) > GAP_CHUNKS)
    firsts = places[np.concatenate([[0], ends + 1])]
    lasts = places[np.concatenate([ends, [-1]])]
    loud = np.flatnonzero(overlap.sounding & inside)
    asked = partial(_kind, overlap, clear(old), (int(loud[0]), int(loud[-1])))
    held = np.concatenate([[0], np.cumsum(overlap.found & overlap.sounding)])
    for first, last in _faded_together(list(zip(firsts.tolist(), lasts.tolist(), strict=True)), held, asked):
        kind, value, low, high = asked(first, last)
        moved = overlap.before.lag_frames
        if overlap.behind is not None and first >= overlap.split:
            moved = overlap.behind.lag_frames
        yield AudioChange(
            kind=kind,
            value=value,
            unit="dB" if value is not None else None,
            from_s=max(0, low * old.chunk_frames + moved) / old.rate_hz,
            to_s=min(new.frames, (high + 1) * old.chunk_frames + moved) / old.rate_hz,
        )


def _faded_together(
    runs: list[tuple[int, int]],
    held: npt.NDArray[np.int64],
    asked: Callable[[int, int], tuple[ChangeKind, float | None, int, int]],
) -> list[tuple[int, int]]:
    """The stretches, those at either end as one where they are a fade with silences in it, as of a voice.

    held: how many chunks before each sound as they did.
    """

    def near(one: tuple[int, int], other: tuple[int, int]) -> bool:
        return bool(held[other[0]] - held[one[1]] <= GAP_CHUNKS)

    first = len(runs) - 1
    while first > 0 and near(runs[first - 1], runs[first]):
        first -= 1
    for start in range(first, len(runs) - 1):
        whole = runs[start][0], runs[-1][1]
        if asked(*whole)[0] is ChangeKind.FADED_OUT:
            runs = [*runs[:start], whole]
            break
    last = 0
    while last < len(runs) - 1 and near(runs[last], runs[last + 1]):
        last += 1
    for end in range(last, 0, -1):
        whole = runs[0][0], runs[end][1]
        if asked(*whole)[0] is ChangeKind.FADED_IN:
            return [whole, *runs[end + 1 :]]
    return runs


def _inside(old: Sketch, overlap: Overlap, new: Sketch) -> npt.NDArray[np.bool_]:
    """Old chunks that lie within the new audio as a whole, and not at the seam of something put in.

    What lies before the new audio's first frame or behind its last was cut off, and is told as length.
    """
    starts = np.arange(len(overlap.sounding)) * old.chunk_frames
    lag = overlap.before.lag_frames
    inside = (starts + lag >= 0) & (starts + old.chunk_frames <= old.frames)
    if overlap.behind is None:
        inside &= starts + old.chunk_frames + lag <= new.frames
    elif overlap.split < len(inside):
        inside[max(0, overlap.split - 1) : overlap.split + overlap.gone + 1] = False
        inside &= (starts + old.chunk_frames + overlap.behind.lag_frames <= new.frames) | (
            np.arange(len(inside)) < overlap.split
        )
    return inside


def _kind(
    overlap: Overlap, telling: npt.NDArray[np.bool_], ends: tuple[int, int], first: int, last: int
) -> tuple[ChangeKind, float | None, int, int]:
    """What a stretch of old chunks is, by how much, and its first and last chunk.

    telling: chunks loud enough to tell a gain; ends: the first and last that sounds.
    """
    chunks = np.arange(first, last + 1)
    loud = chunks[overlap.sounding[chunks]]
    edited = ChangeKind.EDITED, None, first, last
    if not len(loud):
        return edited
    if overlap.silent[loud].all():
        return ChangeKind.MUTED, None, first, last
    gains = overlap.gains[loud]
    known = ~np.isnan(gains)
    if known.sum() < max(LEAST_CHUNKS, KNOWN * telling[loud].sum()):
        return edited
    at, gain = loud[known], gains[known]
    turning = _fade(gain[::-1]) if first <= ends[0] else None
    if turning is not None:
        quiet = at[gain <= GONE]
        return ChangeKind.FADED_IN, None, int(quiet[-1]) + 1 if len(quiet) > GAP_CHUNKS else first, last
    if last >= ends[1] and _fade(gain) is not None:
        quiet = at[gain <= GONE]
        return ChangeKind.FADED_OUT, None, first, int(quiet[0]) - 1 if len(quiet) > GAP_CHUNKS else last
    if (gain <= 0.0).any() or overlap.follows[at].mean() < FOLLOWING:
        return edited
    in_db = 20.0 * np.log10(gain)
    most = float(in_db[np.argmax(np.abs(in_db))])
    return (ChangeKind.RIDDEN, most, first, last) if abs(most) >= RIDDEN_DB else edited


def ridden(old: Sketch, overlap: Overlap) -> AudioChange | None:
    """The level of a whole stem that was changed along the way, from its lowest to its highest; None where
    most of it has one gain, or where its gain does not follow."""
    told = clear(old) & overlap.sounding & ~np.isnan(overlap.gains)
    at_one = overlap.found & told
    if not told.any() or at_one.sum() > HALF * told.sum() or overlap.follows[told].mean() < FOLLOWING:
        return None
    in_db = 20.0 * np.log10(np.abs(overlap.gains[told & overlap.follows] * overlap.before.gain))
    if overlap.before.gain < 0.0 or np.ptp(in_db) < ALL_ALONG_DB:
        return None
    low, high = (f"{db:+.1f}".replace("-", "−") for db in (in_db.min(), in_db.max()))
    return AudioChange(
        kind=ChangeKind.RIDDEN, value=float(in_db[np.argmax(np.abs(in_db))]), unit="dB", was=low, now=high
    )


def _fade(gain: npt.NDArray[np.float64]) -> float | None:
    """The last gain of one that only falls, from nearly full to nearly nothing; None for any other."""
    falls = (np.diff(gain) <= FALLING).all() and (gain > -FALLING).all()
    return float(gain[-1]) if falls and gain[0] >= FROM_FULL and gain[-1] <= FADED else None
