"""Two copies of a stem of which one has rotted: which one, as far as the two can tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from audit.errors import UnreadableAudioError
from audit.measure.samples import Samples
from audit.pipeline.sealed.show_copies import Copy
from audit.results import AudioChange, ChangeKind, Suspect
from audit.units import clock

MOST_STRETCHES, LONGEST_S = 6, 4.0
"""More is no rot that a few places could tell of."""

ROUGHER = 8.0
"""So many times farther from a smooth curve than the same recording is damage: 18 dB. Own judgement."""

SECTOR_FRAMES = 4096
"""What differs for longer in a file of another time was perhaps edited."""

CLICK_FRAMES = 32
"""What differs for longer is heard as noise."""

NOT_AS_SEALED = "it is not what was sealed"

ZEROS = 32
"""Zeros in a row where the other one sounds; disks lose blocks of 512 bytes and more."""

MARGIN, REACH = 64, 4
"""Frames that are read before and after a place, and those of them that it is judged by."""

ROTTEN = frozenset({ChangeKind.SAMPLE, ChangeKind.DIFFERS, ChangeKind.EDITED, ChangeKind.MUTED})
"""Changes with places to look at."""


def damaged_side(old: Copy, new: Copy, changes: Sequence[AudioChange], *, saved: bool) -> Suspect:
    """Which of the two is damaged, and by what it is known. Only for stems whose audio differs.

    saved: their times differ, so that somebody may have edited one.
    """
    by_itself = _known_by_itself(old, new, of_old=True) or _known_by_itself(new, old, of_old=False)
    if by_itself is not None:
        return by_itself
    if any(change.kind not in ROTTEN for change in changes):
        return Suspect(of_old=None)
    found = _signs_at(old, new, changes, saved=saved)
    if len({of_old for of_old, _ in found}) != 1:
        return Suspect(of_old=None)
    return Suspect(of_old=found[0][0], why=found[0][1])


def _known_by_itself(this: Copy, other: Copy, *, of_old: bool) -> Suspect | None:
    """Whether this one is known to be damaged without a look at its audio; of_old: it is the old one."""
    if other.sealed is not None and this.sealed is None:
        return Suspect(of_old=of_old, why=NOT_AS_SEALED)
    if this.damaged is not None and other.damaged is None:
        return Suspect(of_old=of_old, why=this.damaged)
    if this.audio is None and other.audio is not None:
        return Suspect(of_old=of_old, why=this.failure or "it cannot be decoded")
    return None


def _signs_at(old: Copy, new: Copy, changes: Sequence[AudioChange], *, saved: bool) -> list[tuple[bool, str]]:
    """The signs at all places that differ, as `signs` gives them; none where one of them cannot be read."""
    if old.at_hand is None or new.at_hand is None or old.format is None or old.format.frames < 1:
        return []
    rate_hz = old.format.sample_rate_hz
    found: list[tuple[bool, str]] = []
    for first_s, last_s in _stretches(changes):
        first, end = round(first_s * rate_hz), round(last_s * rate_hz)
        begin = max(0, first - MARGIN)
        try:
            was, now = (copy.chunk(begin, end + 1 + MARGIN - begin) for copy in (old, new))
        except UnreadableAudioError:
            return []
        if was.shape == now.shape:
            most = SECTOR_FRAMES if saved else end - begin + 2 * MARGIN
            found += signs(was, now, begin, rate_hz, most)
    return found


def _stretches(changes: Sequence[AudioChange]) -> Iterator[tuple[float, float]]:
    for change in changes[:MOST_STRETCHES]:
        first_s = change.from_s or 0.0
        last_s = change.to_s if change.to_s is not None else first_s
        yield first_s, min(last_s, first_s + LONGEST_S)


def signs(
    old: Samples, new: Samples, begin: int, rate_hz: int, most_frames: int
) -> Iterator[tuple[bool, str]]:
    """Whether the old one looks damaged, and by what, for every channel that tells.

    old, new: the same stretch of both, shape (frames, channels); begin: its first frame in the stem;
    most_frames: where more differ, nothing is told.
    """
    for one, other in zip(old.T, new.T, strict=True):
        apart = np.flatnonzero(one != other)
        if not len(apart):
            continue
        first, last = int(apart[0]), int(apart[-1])
        if last - first >= most_frames:
            continue
        at = clock((begin + first) / rate_hz)
        zeros = [_longest_zeros(side[first : last + 1]) >= ZEROS for side in (one, other)]
        if zeros[0] != zeros[1]:
            yield zeros[0], f"nothing but zeros from {at} on"
            continue
        rough = [_roughness(side[max(0, first - REACH) : last + 1 + REACH]) for side in (one, other)]
        if max(rough) > ROUGHER * min(rough):
            what = "a click at" if last - first < CLICK_FRAMES else "noise from"
            yield rough[0] > rough[1], f"{what} {at}" + ("" if last - first < CLICK_FRAMES else " on")


def _roughness(wave: Samples) -> float:
    """How far it goes from a smooth curve at most: its fourth difference."""
    return float(np.abs(np.diff(wave.astype(np.float64), 4)).max(initial=0.0))


def _longest_zeros(wave: Samples) -> int:
    """Frames of its longest run of zeros."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], (wave == 0.0).astype(np.int8), [0]))))
    return int((edges[1::2] - edges[::2]).max(initial=0))
