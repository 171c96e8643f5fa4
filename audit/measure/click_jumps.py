"""Places where a click goes on beside its old beats, and what the song's stems do there.

    find_jumps(beats_s, accents, bar)              -> the jumps
    with_stems(beats_s, jumps, onsets, names, bar) -> who plays on, and who goes with the click
    repaired(beats_s, runs, jumps)                 -> the beats as they were before the first of them, all on

A band that waits goes on with its click: its strokes keep their place in the new beats. Where they keep it in
the old ones instead, as if nothing had happened, it is the click that was moved. Both are told by laying the
strokes after the place over those before it, beat over beat, and after whole beats bar over bar. After half a
beat eighths fall on eighths either way: then how hard each is struck tells.

Pure: arrays in, results out.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.click_grid import Flags
from audit.results import ClickJump, Onsets

Numbers = npt.NDArray[np.float64]

SIDE, COUNT_IN = 4, 3
"""Steps of one tempo on either side, without which nothing tells where the next beat should have been. Where
the click begins three will do: they are a count-in of four."""

EVEN, EVEN_S, SAME_TEMPO = 0.005, 0.0015, 0.003
"""Half a per cent, or 1.5 ms, a programmed click may sway by; and 0.3 % its tempo from side to side."""

LEAST_S, WHOLE = 0.010, 0.03
"""A jump moves the beats by 10 ms and more. This near to whole beats it moves the count alone."""

NEAR_BARS = 4
"""So many bars on either side tell whether the bar counts on: a bar of two beats later in the song turns all
accents after it."""

LONGEST_BARS, BAR = 1.0, 4
"""What rests longer than a bar is a free section, whoever plays in it. Four beats where no accents tell."""

BEND = 0.02
"""As far as the tempo is the jump's own, to two per cent, its strokes are laid over one another."""

STROKES, ALONE_STROKES = 12, 40
"""Fewer on either side tell nothing; a stem that tells by itself needs more."""

BIN_S, SPREAD_S = 0.002, 0.012
LIKE, LIKER = 0.7, 0.25
"""Strokes, smeared by how widely people play, keep to a grid where their places before and after correlate by
0.7, and by 0.25 more than on the other grid. Own measurement, on 8 songs whose click jumps by 40 ms to half a
beat: 0.74 to 1.00 on the grid that they keep to; on the other one −0.6 to 0.6 but for even eighths."""

MANY_TO_ONE, ASKED_TO_ONE = 3, 3
"""Stems that play on against each that goes along: the click leaks into a stem here and there. And a third of
those with strokes enough: what one or two play by chance shifts by half a beat from a chorus to the next."""


@dataclass(frozen=True, slots=True)
class Jump:
    """After the beat in row `after` the others come `by_s` later (negative: earlier) than they should."""

    after: int
    by_s: float
    beat_s: float


def find_jumps(beats_s: Numbers, accents: Flags, bar: int | None) -> list[Jump]:
    """Where an even click goes on evenly beside its old beats, up to a bar later."""
    steps = np.diff(beats_s)
    found = []
    for row in range(COUNT_IN, len(steps) - SIDE):
        before, after = steps[max(0, row - SIDE) : row], steps[row + 1 : row + 1 + SIDE]
        left, right = float(np.median(before)), float(np.median(after))
        beat_s = 0.5 * (left + right)
        if abs(left - right) > SAME_TEMPO * beat_s or not (is_even(before) and is_even(after)):
            continue
        by_s = float(steps[row]) - beat_s
        if abs(by_s) < LEAST_S or by_s > LONGEST_BARS * (bar or BAR) * beat_s:
            continue
        by_s = _but_for_missing_beats(by_s, beat_s, accents, row, bar)
        if abs(by_s) >= LEAST_S:
            found.append(Jump(row, by_s, beat_s))
    return found


def is_even(steps: Numbers) -> bool:
    """Whether steps are those of a programmed click in one tempo."""
    middle = float(np.median(steps))
    return bool(np.max(np.abs(steps - middle)) <= max(EVEN * middle, EVEN_S))


def _but_for_missing_beats(by_s: float, beat_s: float, accents: Flags, row: int, bar: int | None) -> float:
    """The jump without whole beats in it, unless the bar counts on across it: then none is missing, and all
    of it is too late."""
    whole = round(by_s / beat_s)
    if whole < 1 or abs(by_s) < (1.0 - WHOLE) * beat_s:
        return by_s
    counts_on = bar is not None and whole % bar != 0 and _counts_on(accents, row, bar)
    return by_s if counts_on else by_s - whole * beat_s


def _counts_on(accents: Flags, row: int, bar: int) -> bool:
    """Whether the bars next to a row, before and after it, are the same, beat by beat."""
    at = np.flatnonzero(accents)
    near = at[np.abs(at - row) <= NEAR_BARS * bar]
    sides = [near[near <= row] % bar, near[near > row] % bar]
    if any(len(side) < 2 for side in sides):
        return False
    return len({*sides[0].tolist(), *sides[1].tolist()}) == 1


def with_stems(
    beats_s: Numbers,
    jumps: Sequence[Jump],
    onsets: Sequence[Onsets],
    names: Sequence[str],
    bar: int | None,
    *,
    drums: Collection[str] = (),
) -> tuple[ClickJump, ...]:
    """The jumps, with the stems that keep to the old beats after each, and those that go with the click.

    drums: the names of those that mark the beat. From a verse to a chorus keys and guitars go from the beats
    to the off-beats: of half a beat some of these have to tell it too."""
    told = []
    for jump in jumps:
        laid = [(name, *_laid(beats_s, jump, one, bar)) for one, name in zip(onsets, names, strict=True)]
        asked = [(name, strokes, better) for name, strokes, better in laid if strokes >= STROKES]
        kept = [name for name, _, better in asked if better > 0.0]
        went = [name for name, _, better in asked if better < 0.0]
        enough = len(kept) >= max(2, len(asked) / ASKED_TO_ONE)
        if len(asked) == 1 and kept:
            enough = asked[0][1] >= ALONE_STROKES and not _is_half(jump)
        if _is_half(jump) and not _is_whole(jump):
            enough = enough and any(name in drums for name in kept)
        told.append(
            ClickJump(
                last_s=float(beats_s[jump.after]),
                at_s=float(beats_s[jump.after + 1]),
                by_s=jump.by_s,
                beat_s=jump.beat_s,
                kept=tuple(kept),
                went=tuple(went),
                click_alone=enough and len(kept) >= MANY_TO_ONE * len(went),
            )
        )
    return tuple(told)


def _is_half(jump: Jump) -> bool:
    """Whether a jump is one of whole or half beats: one stem may play the other eighths from there on."""
    halves = 2.0 * jump.by_s / jump.beat_s
    return abs(halves - round(halves)) <= 2.0 * WHOLE


def _is_whole(jump: Jump) -> bool:
    return abs(jump.by_s / jump.beat_s - round(jump.by_s / jump.beat_s)) <= WHOLE


def _laid(beats_s: Numbers, jump: Jump, onsets: Onsets, bar: int | None) -> tuple[int, float]:
    """A stem's strokes, on the side that has fewer, and how much better those after the jump fit those before
    it by the old beats than by the new ones; 0.0 where neither is sure."""
    beats = bar if _is_whole(jump) and bar is not None else 1
    first, last = _reach(beats_s, jump)
    stretch = Stretch(first, jump.after, last, jump.beat_s)
    return old_or_new(beats_s, stretch, onsets, beats, jump.by_s / jump.beat_s, 0.0)


def _reach(beats_s: Numbers, jump: Jump) -> tuple[int, int]:
    """First and last row of the beats around a jump that keep its tempo."""
    kept = np.abs(np.diff(beats_s) - jump.beat_s) <= BEND * jump.beat_s
    first, last = jump.after, jump.after + 1
    while first > 0 and kept[first - 1]:
        first -= 1
    while last < len(kept) and kept[last]:
        last += 1
    return first, last


@dataclass(frozen=True, slots=True)
class Stretch:
    """Rows of beats in one tempo: the first, the last before a place, and the last after it."""

    first: int
    before: int
    last: int
    beat_s: float


def old_or_new(
    beats_s: Numbers, stretch: Stretch, onsets: Onsets, beats: int, old_beats: float, new_beats: float
) -> tuple[int, float]:
    """A stem's strokes around a place, on the side that has fewer, and by how much those after it, moved by
    `old_beats`, are more like those before it than moved by `new_beats`; 0.0 where neither is sure.

    They are laid over one another in rounds of so many beats."""
    times_s = np.array(onsets.times_s, dtype=np.float64)
    strengths = np.array(onsets.strengths_db, dtype=np.float64)
    gone_s, back_s = float(beats_s[stretch.before]), float(beats_s[stretch.before + 1])
    half_s = 0.5 * stretch.beat_s
    before = (times_s > beats_s[stretch.first] - half_s) & (times_s < gone_s + half_s)
    after = (times_s > max(back_s - half_s, gone_s + half_s)) & (times_s < beats_s[stretch.last] + half_s)
    fewer = int(min(before.sum(), after.sum()))
    if fewer < STROKES:
        return fewer, 0.0
    bins = max(8, round(beats * stretch.beat_s / BIN_S))
    rows = np.arange(len(beats_s), dtype=np.float64)
    places = []
    for there, (begin, end) in (
        (before, (stretch.first, stretch.before)),
        (after, (stretch.before + 1, stretch.last)),
    ):
        at = _rows_at(times_s[there], beats_s[begin : end + 1], rows[begin : end + 1], stretch.beat_s)
        index = np.floor(at / beats % 1.0 * bins).astype(np.int64) % bins
        places.append(_smeared(np.bincount(index, strengths[there], minlength=bins).astype(np.float64)))
    old, new = (
        _likeness(places[0], np.roll(places[1], round(moved / beats * bins)))
        for moved in (old_beats, new_beats)
    )
    if max(old, new) < LIKE or abs(old - new) < LIKER:
        return fewer, 0.0
    return fewer, old - new


def _rows_at(times_s: Numbers, beats_s: Numbers, rows: Numbers, beat_s: float) -> Numbers:
    """Times as rows of the beats, parts of them too; beyond the ends by the usual beat."""
    at = np.interp(times_s, beats_s, rows)
    at = np.where(times_s < beats_s[0], rows[0] + (times_s - beats_s[0]) / beat_s, at)
    return np.asarray(np.where(times_s > beats_s[-1], rows[-1] + (times_s - beats_s[-1]) / beat_s, at))


def _smeared(places: Numbers) -> Numbers:
    """A ring of places, each widened to a bell."""
    bins = len(places)
    apart = np.minimum(np.arange(bins), bins - np.arange(bins)) * BIN_S
    bell = np.exp(-0.5 * (apart / SPREAD_S) ** 2)
    return np.real(np.fft.ifft(np.fft.fft(places) * np.fft.fft(bell)))


def _likeness(one: Numbers, other: Numbers) -> float:
    one, other = one - one.mean(), other - other.mean()
    size = float(np.sqrt(np.sum(one**2) * np.sum(other**2)))
    return float(np.sum(one * other)) / size if size > 0.0 else 0.0


def repaired(
    beats_s: Numbers, runs: Sequence[tuple[int, int]], jumps: Sequence[ClickJump]
) -> tuple[Numbers, list[tuple[int, int]]]:
    """The beats as they would be had the click not been moved where it alone jumps, and their runs: what
    follows without a break then is one."""
    moved_s = beats_s.copy()
    joined = list(runs)
    for jump in (one for one in jumps if one.click_alone):
        row = int(np.searchsorted(beats_s, jump.at_s - 1e-6))
        moved_s[row:] -= jump.by_s
        step_s = moved_s[row] - moved_s[row - 1]
        if abs(step_s - jump.beat_s) <= BEND * jump.beat_s:
            joined = _joined(joined, row)
    return moved_s, joined


def _joined(runs: Sequence[tuple[int, int]], row: int) -> list[tuple[int, int]]:
    """The runs, with the one that begins in a row put to the one before it."""
    out: list[tuple[int, int]] = []
    for first, count in runs:
        if first == row and out and sum(out[-1]) == first:
            out[-1] = (out[-1][0], out[-1][1] + count)
        else:
            out.append((first, count))
    return out
