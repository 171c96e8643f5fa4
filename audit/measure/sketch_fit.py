"""An old sketch against the new audio at one lag, chunk by chunk: the same to the bit, the same at one gain,
or at a gain that changes slowly.

    fit_at(old, new, lag, at_hand, coarser) -> Fit

Best where the new audio is at hand: it is sketched once more on the grid that the lag asks for, and its
samples are read where the old one's highest lay. Else the new sketch has to do; where the lag is no whole
number of chunks, highest samples that are found again speak for the chunks around them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from audit.measure.samples import Samples
from audit.measure.sketch import crest_frames, crests_of, hashes_of, levels_dbfs, wave_weights
from audit.results import Sketch

Flags = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

SOUNDS_DBFS = -80.0
"""Chunks below say nothing of what was done."""

QUIET_DB, LEVEL_DB = 6.0, 1.0
"""By so much the level of a quiet chunk, and of one that sounds, may be off what a gain makes of it."""

WITHIN = 1
"""Frames by which a highest sample may stand beside: of two that are nearly as high dither decides."""

RATIO, NEAR_RATIO, STEP = 0.004, 0.02, 4.0 / 32768.0
"""A sample is the same at some gain within 0.4 % (0.03 dB), or within four steps of 16 bits; a highest sample
that may lie beside the old one, within 2 %. Filters move them by more."""

FOUND_AGAIN, NEAR = 0.3, 2
"""Share of the highest samples that has to be found again, and for how many chunks either way one speaks."""

SMOOTH, NEIGHBOURS = 0.015, 3
"""A gain that changes slowly lies within 1.5 % of what those before and behind foretell, so many chunks away
at most."""

LEAST_GAIN = 1e-3
"""−60 dB: below, nothing is left to be compared."""

CLEAR = 20.0
"""A highest sample has to stand so many times above STEP to tell a gain that changes."""


class AtHand(Protocol):
    """The new audio, where it can be read again."""

    def sketch_from(self, first_frame: int) -> Sketch:
        """Its sketch on a grid that begins there."""

    def samples_at(self, frames: Sequence[int]) -> Samples:
        """Its samples at these frames, ascending; shape (frames, channels), zeros outside of it."""

    def chunk(self, first_frame: int, frames: int) -> Samples:
        """A piece of it, shape (frames, channels), zeros outside of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The old chunks against the new audio at one lag (+ = the new one plays later)."""

    lag_frames: int
    same: Flags  # shape (chunks of the old one,): the same to the bit
    alike: Flags  # the same but for one gain, or the same
    exact: Flags  # of those: the same, or with the highest sample in the very frame
    gain: float  # 1.0: none; below zero: upside down
    gains: Floats  # of each chunk, over `gain`; NaN where nothing tells
    follows: Flags  # at a gain that changes slowly
    silent: Flags  # sounded, and does no longer
    sure: bool  # chunk by chunk; False: by landmarks

    @property
    def explained(self) -> Flags:
        return self.alike | self.follows


def sounding(sketch: Sketch) -> Flags:
    return np.asarray(levels_dbfs(sketch) > SOUNDS_DBFS)


def clear(sketch: Sketch) -> Flags:
    """Chunks whose highest sample tells a gain."""
    return np.asarray(np.abs(crests_of(sketch)) > CLEAR * STEP)


def fit_at(old: Sketch, new: Sketch, lag: int, at_hand: AtHand | None, *, coarser: bool = False) -> Fit:
    """coarser: one of the two has fewer bits, so that of equally high samples another may be the highest."""
    if lag == 0:
        return _by_place(old, new, lag, at_hand, coarser)
    if at_hand is not None:
        return _by_place(old, at_hand.sketch_from(lag), lag, at_hand, coarser)
    chunks, rest = divmod(lag, old.chunk_frames)
    if rest == 0:
        return _by_place(old, moved_grid(new, chunks), lag, None, coarser)
    return _by_landmarks(old, new, lag)


def moved_grid(sketch: Sketch, chunks: int) -> Sketch:
    """The sketch on a grid that begins so many whole chunks later (or earlier)."""

    def cut(data: bytes, size: int) -> bytes:
        return data[chunks * size :] if chunks >= 0 else bytes(-chunks * size) + data

    sides = tuple(
        type(side)(crest_at=cut(side.crest_at, 2), crests=cut(side.crests, 2)) for side in sketch.sides
    )
    return Sketch(
        rate_hz=sketch.rate_hz, channels=sketch.channels, frames=sketch.frames,
        chunk_frames=sketch.chunk_frames, hashes=cut(sketch.hashes, 4), crest_at=cut(sketch.crest_at, 4),
        crests=cut(sketch.crests, 4), levels=cut(sketch.levels, 1), sides=sides,
    )  # fmt: skip


def commonest(ratios: Floats, within: float = NEAR_RATIO) -> float:
    """The ratio that most of them have, within that share of it; 1.0 for none. Nothing is no gain."""
    ranked = np.sort(ratios[np.abs(ratios) > LEAST_GAIN])
    if not len(ranked):
        return 1.0
    width = within * np.abs(ranked)
    around = np.searchsorted(ranked, ranked + width, side="right") - np.searchsorted(ranked, ranked - width)
    # Of several as common ones (all equal but for rounding) the middle.
    best = np.flatnonzero(around == around.max())
    return float(ranked[best[len(best) // 2]])


def _by_place(old: Sketch, grid: Sketch, lag: int, at_hand: AtHand | None, coarser: bool) -> Fit:
    count = len(hashes_of(old))
    common = min(count, len(hashes_of(grid)))
    was, now = crests_of(old)[:common], crests_of(grid)[:common]
    loud = levels_dbfs(old)[:common] > SOUNDS_DBFS
    same = hashes_of(old)[:common] == hashes_of(grid)[:common]
    here = np.abs(crest_frames(old)[:common] - crest_frames(grid)[:common]) <= WITHIN
    known = loud & here
    there, within = now, NEAR_RATIO
    if at_hand is not None:
        places = crest_frames(old)[:common] + lag
        there = (at_hand.samples_at(places.tolist()) @ wave_weights(grid.channels)).astype(np.float64)
        known, within = loud, RATIO
    ratios = there / np.where(loud, was, 1.0)
    # Nothing is the same to the bit at another gain.
    gain = 1.0 if (same & loud).any() else commonest(ratios[known], within)
    if at_hand is None and coarser:  # another peak may be the highest, above or below
        known, there = loud, np.where(here, there, np.copysign(there, gain * was))
    allowed = np.maximum(within * np.abs(gain * was), STEP)
    expected_db = levels_dbfs(old)[:common] + 20.0 * np.log10(max(abs(gain), 1e-9))
    level_db = levels_dbfs(grid)[:common]
    as_loud = np.abs(level_db - expected_db) <= LEVEL_DB
    as_high = np.abs(np.abs(now) - np.abs(gain * was)) <= np.maximum(NEAR_RATIO * np.abs(gain * was), STEP)
    alike = same | (known & (np.abs(there - gain * was) <= allowed) & as_high & as_loud)
    # Of silence, and of the noise under it, a highest sample says nothing: its level does.
    alike |= ~loud & ((level_db <= SOUNDS_DBFS) | (np.abs(level_db - expected_db) <= QUIET_DB))
    exact = same | (alike & (crest_frames(old)[:common] == crest_frames(grid)[:common]))
    silent = loud & (level_db <= SOUNDS_DBFS)
    gains = np.where(silent, 0.0, np.where(known, ratios / gain, np.nan))
    gains[~clear(old)[:common]] = np.nan
    follows = _follows(crest_frames(old)[:common] / old.chunk_frames, gains)

    def whole(flags: Flags) -> Flags:
        return np.concatenate([flags, np.zeros(count - common, dtype=np.bool_)])

    return Fit(
        lag_frames=lag, same=whole(same), alike=whole(alike), exact=whole(exact), gain=gain,
        gains=np.concatenate([gains, np.full(count - common, np.nan)]), follows=whole(follows),
        silent=whole(silent), sure=True,
    )  # fmt: skip


def _follows(at_chunks: Floats, gains: Floats) -> Flags:
    """Where the gain lies between those before and behind it, as in a fade: straight, or straight in dB."""
    flags = np.zeros(len(gains), dtype=np.bool_)
    known = np.flatnonzero(gains > 0.0)
    if len(known) < NEIGHBOURS:
        return flags
    at, ratio = at_chunks[known], gains[known]
    before, here, behind = ratio[:-2], ratio[1:-1], ratio[2:]
    near = at[2:] - at[:-2] <= 2 * NEIGHBOURS
    part = (at[1:-1] - at[:-2]) / np.maximum(at[2:] - at[:-2], 1e-9)
    straight = before + part * (behind - before)
    in_db = before ** (1.0 - part) * behind**part
    slack = SMOOTH * np.maximum(before, behind)
    smooth = near & (here >= np.minimum(straight, in_db) - slack)
    smooth &= here <= np.maximum(straight, in_db) + slack
    # By chance one in thirty does; two neighbours hardly.
    twice = smooth[:-1] & smooth[1:]
    pairs = np.concatenate([twice, [False]]) | np.concatenate([[False], twice])
    for offset in range(3):
        flags[known[offset : offset + len(pairs)][pairs]] = True
    return flags


def _by_landmarks(old: Sketch, new: Sketch, lag: int) -> Fit:
    """Where no grid is at hand: the highest sample of a chunk often lies beside that of the one over it.

    So a chunk counts as alike where a highest sample near it is found again, at the gain of the others.
    """
    loud = sounding(old)
    places, there = crest_frames(old) + lag, crest_frames(new)
    at = (
        np.clip(np.searchsorted(there, places), 1, len(there) - 1)
        if len(there) > 1
        else np.zeros_like(places)
    )
    at -= (np.abs(there[at - 1] - places) < np.abs(there[at] - places)) & (at > 0)
    found = (np.abs(there[at] - places) <= WITHIN) & loud
    ratios = crests_of(new)[at] / np.where(found, crests_of(old), 1.0)
    gain = float(np.median(ratios[found])) if found.any() else 1.0
    found &= np.abs(ratios - gain) <= NEAR_RATIO * abs(gain)
    alike = np.zeros(len(found), dtype=np.bool_)
    if found.sum() >= FOUND_AGAIN * max(1, int(loud.sum())):
        alike = np.convolve(found, np.ones(2 * NEAR + 1), mode="same") > 0.0
    none, exact = np.zeros(len(found), dtype=np.bool_), found & (there[at] == places)
    return Fit(
        lag_frames=lag, same=none, alike=alike, exact=exact, gain=gain, gains=np.full(len(found), np.nan),
        follows=none, silent=none, sure=False,
    )  # fmt: skip
