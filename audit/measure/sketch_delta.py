"""What was done to a stem between two sketches of it: moved, turned up, turned over, cut, replaced.

    laid_over(old, new, resketch) -> Overlap   how the new one lies over the old one

A stem that was moved as a whole has one lag; one into which bars were put has two: one before the place, one
behind it. `resketch` gives the new audio's sketch on a grid that begins elsewhere; without it (the audio is
gone) highest samples that are found again speak for the chunks around them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.sketch import crest_frames, crests_of, hashes_of, levels_dbfs
from audit.results import Sketch

Flags = npt.NDArray[np.bool_]
Resketch = Callable[[int], Sketch]

SOUNDS_DBFS = -80.0
"""Chunks below say nothing of what was done."""

QUIET_DB = 6.0
"""By so much the level of a quiet chunk may be off what a gain makes of it."""

MOST_LAGS = 6
"""Lags that are tried, beside none and the difference of the lengths."""

MOST_LANDMARKS = 1500

WITHIN = 1
"""Frames by which a highest sample may stand beside: of two that are nearly as high dither decides."""

RATIO, STEP = 0.02, 4.0 / 32768.0
"""A highest sample is the same at some gain within 2 % (0.17 dB), or within two steps of 16 bits."""

FOUND_AGAIN, NEAR = 0.3, 2
"""Share of the highest samples that has to be found again, and for how many chunks either way one speaks."""

WHOLE = 0.97
"""Share of the sounding chunks from which on all of it counts as the same: the first and last may be cut."""

BETTER = 0.04
"""By which share two lags have to explain more than one."""

LEAST_SHARE = 0.25
"""Less in common than this is another recording."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The old chunks against the new audio at one lag (+ = the new one plays later)."""

    lag_frames: int
    same: Flags  # shape (chunks of the old one,): the same to the bit
    alike: Flags  # the same but for one gain, or the same
    exact: Flags  # of those: the same, or with the highest sample in the very frame
    gain: float  # 1.0: none; below zero: upside down
    sure: bool  # chunk by chunk; False: by landmarks


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """How the new audio lies over the old one."""

    before: Fit
    behind: Fit | None  # from chunk `split` on, where something was put in or taken out
    split: int
    sounding: Flags  # old chunks that count
    share: float  # 0 … 1: of those, what is alike

    @property
    def found(self) -> Flags:
        """The old chunks that are found again: to the bit where most of them are, else alike."""
        before = self._found_in(self.before)
        if self.behind is None:
            return before
        return np.concatenate([before[: self.split], self._found_in(self.behind)[self.split :]])

    def _found_in(self, fit: Fit) -> Flags:
        same = (fit.same & self.sounding).sum() * 2 > (fit.alike & self.sounding).sum()
        return fit.same if same else fit.alike


def laid_over(old: Sketch, new: Sketch, resketch: Resketch | None = None) -> Overlap | None:
    """None where the two have less than LEAST_SHARE in common. Both at one rate, and not silent."""
    sounding = levels_dbfs(old) > SOUNDS_DBFS
    fits = [_fit(old, new, lag, resketch) for lag in _lags(old, new)]
    total = max(1, int(sounding.sum()))

    def share(flags: Flags) -> float:
        return float((flags & sounding).sum()) / total

    one = max(
        fits, key=lambda fit: (round(share(fit.alike), 2), round(share(fit.exact), 2), -abs(fit.lag_frames))
    )
    best = Overlap(before=one, behind=None, split=len(sounding), sounding=sounding, share=share(one.alike))
    if best.share < WHOLE:
        for before in fits:
            for behind in fits:
                if behind is before:
                    continue
                split, in_all = _split(before.alike & sounding, behind.alike & sounding)
                if in_all / total > best.share + BETTER:
                    best = Overlap(
                        before=before, behind=behind, split=split, sounding=sounding, share=in_all / total
                    )
    return best if best.share >= LEAST_SHARE else None


def _lags(old: Sketch, new: Sketch) -> Sequence[int]:
    """None, the difference of the lengths, and those lags that most highest samples agree on."""
    first, second = _landmarks(old), _landmarks(new)
    found, votes = np.unique((second[None, :] - first[:, None]).ravel(), return_counts=True)
    ranked = np.lexsort((np.abs(found), -votes))[:MOST_LAGS]
    chosen = [int(found[at]) for at in ranked if votes[at] >= 2]
    return list(dict.fromkeys([0, new.frames - old.frames, *chosen]))


def _landmarks(sketch: Sketch) -> npt.NDArray[np.int64]:
    """Frames of the highest samples; of a long stem those that stand out, which a gain leaves as they are."""
    sounding = np.flatnonzero(levels_dbfs(sketch) > SOUNDS_DBFS)
    highest = sounding[np.argsort(-np.abs(crests_of(sketch)[sounding]), kind="stable")[:MOST_LANDMARKS]]
    return crest_frames(sketch)[np.sort(highest)]


def _fit(old: Sketch, new: Sketch, lag: int, resketch: Resketch | None) -> Fit:
    if lag == 0:
        return _by_place(old, new, lag)
    if resketch is not None:
        return _by_place(old, resketch(lag), lag)
    chunks, rest = divmod(lag, old.chunk_frames)
    if rest == 0:
        return _by_place(old, _moved(new, chunks), lag)
    return _by_landmarks(old, new, lag)


def _moved(sketch: Sketch, chunks: int) -> Sketch:
    """The sketch on a grid that begins so many whole chunks later (or earlier)."""

    def cut(data: bytes, size: int) -> bytes:
        return data[chunks * size :] if chunks >= 0 else bytes(-chunks * size) + data

    return Sketch(
        rate_hz=sketch.rate_hz, channels=sketch.channels, frames=sketch.frames,
        chunk_frames=sketch.chunk_frames, hashes=cut(sketch.hashes, 4), crest_at=cut(sketch.crest_at, 4),
        crests=cut(sketch.crests, 4), levels=cut(sketch.levels, 1),
    )  # fmt: skip


def _by_place(old: Sketch, new: Sketch, lag: int) -> Fit:
    count = len(hashes_of(old))
    common = min(count, len(hashes_of(new)))
    same, alike = np.zeros(count, dtype=np.bool_), np.zeros(count, dtype=np.bool_)
    same[:common] = hashes_of(old)[:common] == hashes_of(new)[:common]
    was, now = crests_of(old)[:common], crests_of(new)[:common]
    here = np.abs(crest_frames(old)[:common] - crest_frames(new)[:common]) <= WITHIN
    loud = levels_dbfs(old)[:common] > SOUNDS_DBFS
    ratios = now[here & loud] / was[here & loud]
    gain = float(np.median(ratios)) if len(ratios) else 1.0
    if (same[:common] & loud).sum() * 2 > len(ratios):
        gain = 1.0
    off = np.abs(now - gain * was)
    alike[:common] = same[:common] | (here & ((off <= RATIO * np.abs(gain * was)) | (off <= STEP)))
    # Of silence, and of the noise under it, a highest sample says nothing: its level does.
    expected = levels_dbfs(old)[:common] + 20.0 * np.log10(max(abs(gain), 1e-9))
    level = levels_dbfs(new)[:common]
    still_quiet = (level <= SOUNDS_DBFS) | (np.abs(level - expected) <= QUIET_DB)
    alike[:common] |= ~loud & still_quiet
    exact = same.copy()
    exact[:common] |= alike[:common] & (crest_frames(old)[:common] == crest_frames(new)[:common])
    return Fit(lag_frames=lag, same=same, alike=alike, exact=exact, gain=gain, sure=True)


def _by_landmarks(old: Sketch, new: Sketch, lag: int) -> Fit:
    """Where no grid is at hand: the highest sample of a chunk often lies beside that of the one over it.

    So a chunk counts as alike where a highest sample near it is found again, at the gain of the others.
    """
    sounding = levels_dbfs(old) > SOUNDS_DBFS
    places, there = crest_frames(old) + lag, crest_frames(new)
    at = (
        np.clip(np.searchsorted(there, places), 1, len(there) - 1)
        if len(there) > 1
        else np.zeros_like(places)
    )
    at -= (np.abs(there[at - 1] - places) < np.abs(there[at] - places)) & (at > 0)
    found = (np.abs(there[at] - places) <= WITHIN) & sounding
    ratios = crests_of(new)[at] / np.where(found, crests_of(old), 1.0)
    gain = float(np.median(ratios[found])) if found.any() else 1.0
    found &= np.abs(ratios - gain) <= RATIO * abs(gain)
    alike = np.zeros(len(found), dtype=np.bool_)
    if found.sum() >= FOUND_AGAIN * max(1, int(sounding.sum())):
        alike = np.convolve(found, np.ones(2 * NEAR + 1), mode="same") > 0.0
    none, exact = np.zeros(len(found), dtype=np.bool_), found & (there[at] == places)
    return Fit(lag_frames=lag, same=none, alike=alike, exact=exact, gain=gain, sure=False)


def _split(before: Flags, behind: Flags) -> tuple[int, int]:
    """The chunk from which on the second lag explains more, and how many both explain together."""
    sums = np.concatenate([[0], np.cumsum(before)]) + np.concatenate([np.cumsum(behind[::-1])[::-1], [0]])
    split = int(np.argmax(sums))
    return split, int(sums[split])
