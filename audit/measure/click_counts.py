"""Places where a click's accents count on from another beat than before, while its beats are even.

    find_odd_bars(beats_s, accents, bar)                          -> the bars of another length
    miscounts(beats_s, odd, onsets, names, bar)      -> those that the song's stems do not play

A bar of two or five is music where the stems turn with it. Where they go on in the old bars, a beat of the
click was doubled or cut out, and everybody counts wrong from there on. Told by laying the strokes after the
bar over those before it, bar over bar.

Pure: arrays in, results out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.click_grid import Flags
from audit.measure.click_jumps import MANY_TO_ONE, SAME_TEMPO, STROKES, Stretch, is_even, old_or_new
from audit.results import ClickMiscount, Onsets

Numbers = npt.NDArray[np.float64]

REGULAR = 4
"""So many bars of the usual length on either side: where metres change all the time, no count is the old
one."""

SURE_STEMS = 3
"""So many that go on in the old bars leave no doubt. One or two turn by a beat from a verse to a chorus as
they please, and drums of even strokes turn without anybody noticing."""


def find_odd_bars(beats_s: Numbers, accents: Flags, bar: int | None) -> list[tuple[Stretch, int]]:
    """Bars of another length among regular ones, of an even click: the beats around each, up to the next odd
    bar on either side, and how many beats it has too many (negative: too few), by the nearer count."""
    if bar is None or bar < 2:
        return []
    at = np.flatnonzero(accents)
    lengths = np.diff(at)
    odd = np.flatnonzero(lengths != bar).tolist()
    found = []
    for number, which in enumerate(odd):
        first = odd[number - 1] + 1 if number else 0
        last = odd[number + 1] if number + 1 < len(odd) else len(lengths)
        by = _nearer(int(lengths[which]) % bar, bar)
        if by == 0 or min(which - first, last - 1 - which) < REGULAR:
            continue
        begin, end = int(at[first]), int(at[last])
        steps = np.diff(beats_s[begin : end + 1])
        turn = int(at[which + 1])
        sides = float(np.median(steps[: turn - begin])), float(np.median(steps[turn - begin :]))
        if is_even(steps) and abs(sides[0] - sides[1]) <= SAME_TEMPO * sides[0]:
            found.append((Stretch(begin, turn - 1, end, float(np.median(steps))), by))
    return found


def _nearer(more: int, bar: int) -> int:
    """Beats too many, or those that are missing of another bar, whichever are fewer."""
    return more if 2 * more < bar else more - bar


def miscounts(
    beats_s: Numbers,
    odd: Sequence[tuple[Stretch, int]],
    onsets: Sequence[Onsets],
    names: Sequence[str],
    bar: int,
) -> tuple[ClickMiscount, ...]:
    """The odd bars that the song's stems do not play: they go on in the bars from before."""
    told = []
    for stretch, by in odd:
        laid = [
            (name, *old_or_new(beats_s, stretch, one, bar, 0.0, -float(by)))
            for one, name in zip(onsets, names, strict=True)
        ]
        asked = [(name, better) for name, strokes, better in laid if strokes >= STROKES]
        kept = [name for name, better in asked if better > 0.0]
        went = [name for name, better in asked if better < 0.0]
        if len(kept) < max(SURE_STEMS, MANY_TO_ONE * len(went)):
            continue
        told.append(
            ClickMiscount(
                at_s=float(beats_s[stretch.before + 1 - (bar + by)]),
                next_bar_s=float(beats_s[stretch.before + 1]),
                beats=by,
                bar=bar,
                kept=tuple(kept),
            )
        )
    return tuple(told)
