"""What a stem's harmony does in time against that of the others: changes, thirds, and tones over their roots.

    changes_fit(mine, theirs) -> (12,)   thirds_fit(mine, theirs, turn) -> float
    over_roots(mine, theirs) -> (12,)

All take chroma of two at the same times, shape (frames, 12), C first: square roots, each row of length 1.

Two keys a fifth apart share six of their seven tones, so what a stem plays over a whole song says little of
which of them it is in. When its tones come and go says more: each class's mean over the song is taken off,
and the changes of chords are compared. A part of another song moves at other times and fits after no turn.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.float64]

TRIADS: Numbers = np.zeros((24, 12))
"""Major and minor on every root, each of length 1: row 2 · root + (1 for minor)."""
for _root in range(12):
    for _minor in range(2):
        TRIADS[2 * _root + _minor, [(_root + step) % 12 for step in (0, 4 - _minor, 7)]] = 3.0**-0.5

STILL = 1e-6
"""Less deviation than this is none: nothing to correlate."""


def changes_fit(mine: Numbers, theirs: Numbers) -> Numbers:
    """Correlation of the changes over all classes and frames together; [k]: mine k semitones higher.

    0 for what stands still. Each class weighs by how much it comes and goes.
    """
    own, other = mine - mine.mean(axis=0), theirs - theirs.mean(axis=0)
    size = float(np.sqrt((own**2).sum() * (other**2).sum()))
    if size < STILL:
        return np.zeros(12)
    return np.array([(np.roll(own, turn, axis=1) * other).sum() for turn in range(12)]) / size


def thirds_fit(mine: Numbers, theirs: Numbers, turn: int) -> float:
    """Whether mine, `turn` semitones higher, has major thirds where theirs has them, and minor ones likewise.

    Pearson's r of major less minor third over the root that their chord has; 0 where either never changes.
    A part that plays one shape over every root (fifths, stacked fourths, major triads) follows no thirds.
    """
    at = np.arange(len(theirs))
    roots = _roots_of(theirs)
    own, other = (
        rows[at, (roots + 4) % 12] - rows[at, (roots + 3) % 12]
        for rows in (np.roll(mine, turn, axis=1), theirs)
    )
    if len(at) == 0 or min(own.std(), other.std()) < STILL:
        return 0.0
    return float(np.corrcoef(own, other)[0, 1])


def over_roots(mine: Numbers, theirs: Numbers) -> Numbers:
    """Mean share of each interval of mine over the root of their chord; [7]: its fifth. Sums to 1."""
    if len(mine) == 0:
        return np.zeros(12)
    at = np.arange(len(theirs))
    roots = _roots_of(theirs)
    return np.array([(mine[at, (roots + step) % 12] ** 2).mean() for step in range(12)])


def _roots_of(rows: Numbers) -> npt.NDArray[np.int64]:
    return np.asarray((rows @ TRIADS.T).argmax(axis=1) // 2, dtype=np.int64)
