"""Accents and metre of a click, and its count-in: from the beats, their loudness and their sound.

find_accents(level_db, kind) -> accents     bar_length(accents) -> beats a bar
metre_words(beats_a_bar, bpm)               count_in(beats_s, accents, bar, music_s)
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.results.sound import AT_ONCE_S

Flags = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.float64]

LONGEST_BAR = 16
LEVEL_STEP_DB = 1.5
"""Two ticks of one sound this far apart in level are an accent and a plain beat."""

REPEATS = 0.85
"""Share of the accents that have another one exactly a bar later."""

CHANGING = 0.3
"""The same where bars of other lengths lie between."""

IN_STRETCHES = 0.9
"""So many of the distances between accents are as long as the one before: bars do not alternate."""

FAST_EIGHTHS = 130.0
FAST_FIVES = 200.0


def find_classes(level_db: Numbers, kind: npt.NDArray[np.int64], step_db: float) -> npt.NDArray[np.int64]:
    """A number for each tick: ticks of one kind whose levels lie together without a step of `step_db`.

    Kinds met fewer than three times count as one: a sound that never repeats has no wave to know it by.
    """
    names, sizes = np.unique(kind, return_counts=True)
    common = np.where(np.isin(kind, names[sizes >= 3]), kind, -1)
    classes = np.zeros(len(kind), dtype=np.int64)
    count = 0
    for name in np.unique(common):
        members = np.flatnonzero(common == name)
        members = members[np.argsort(level_db[members], kind="stable")]
        width = step_db if name >= 0 else 2 * step_db
        steps = np.concatenate(([0], np.cumsum(np.diff(level_db[members]) > width)))
        classes[members] = count + steps
        count += int(steps[-1]) + 1
    return classes


def find_accents(level_db: Numbers, kind: npt.NDArray[np.int64]) -> Flags:
    """Which beats are accented: the loudest sound that comes round evenly and is not the most frequent one.

    All False where the beats sound alike.
    """
    classes = find_classes(level_db, kind, LEVEL_STEP_DB)
    names, sizes = np.unique(classes, return_counts=True)
    none = np.zeros(len(classes), dtype=np.bool_)
    if len(names) < 2:
        return none
    best: tuple[bool, float, float] | None = None
    accents = none
    for name, size in zip(names.tolist(), sizes.tolist(), strict=True):
        flags = classes == name
        score = _repeats(flags)
        if size < max(2, 0.05 * len(classes)) or size > 0.55 * len(classes) or score < CHANGING:
            continue
        # Where two sounds are equally frequent (2/4) only the louder can be the accent.
        level = float(np.median(level_db[flags]))
        if size > 0.45 * len(classes) and level < float(np.median(level_db[~flags])):
            continue
        steady = score >= REPEATS
        rank = (steady, level if steady else score, score)
        if best is None or rank > best:
            best, accents = rank, flags
    return accents


def _repeats(flags: Flags) -> float:
    """How well the flags come round in even steps or in a pattern: the best share over all bar lengths."""
    return max((_match(flags, bar) for bar in range(2, LONGEST_BAR + 1)), default=0.0)


def _match(flags: Flags, bar: int) -> float:
    """Share of the flags that have another one `bar` places later (those that could have)."""
    at = np.flatnonzero(flags)
    later = at + bar
    able = later < len(flags)
    if able.sum() < 1:
        return 0.0
    return float(np.mean(flags[later[able]]))


def bar_length(accents: Flags) -> int | None:
    """Beats a bar: the shortest length after which the accents repeat, else the most frequent distance.

    None where there are fewer than two accents, or no distance that holds for half of them.
    """
    at = np.flatnonzero(accents)
    if len(at) < 2:
        return None
    steps = np.diff(at)
    if len(steps) > 2 and np.mean(np.diff(steps) == 0) >= IN_STRETCHES:
        return _most_frequent(steps)  # bars of four for a while, then of three: no bar of twelve
    for bar in range(2, LONGEST_BAR + 1):
        if _match(accents, bar) >= 0.9 and _match(accents[::-1], bar) >= 0.9:
            return bar
    return _most_frequent(steps)


def _most_frequent(steps: npt.NDArray[np.int64]) -> int | None:
    bar, often = max(Counter(steps.tolist()).items(), key=lambda entry: (entry[1], -entry[0]))
    return int(bar) if 2 <= bar <= LONGEST_BAR and often >= CHANGING * len(steps) else None


def metre_words(beats_a_bar: int | None, bpm: float | None) -> str | None:
    """Beats a bar and what they are: "4/4", "6/8".

    A click does not say whether it counts quarters or eighths; fast counts of 6, 7, 9 and 12 (and very fast
    ones of 5) are eighths (common practice).
    """
    if beats_a_bar is None or bpm is None:
        return None
    eighths = (beats_a_bar in (6, 7, 9, 12) and bpm >= FAST_EIGHTHS) or (
        beats_a_bar == 5 and bpm >= FAST_FIVES
    )
    return f"{beats_a_bar}/{8 if eighths else 4}"


def music_start(beats_s: Sequence[float], sounds_s: Sequence[float]) -> float | None:
    """When the music begins. sounds_s: when each of the song's other stems first sounds; None for none.

    A stem that sounds from its very first frame, before all others, holds hiss or an offset. One that alone
    sounds from the first beat on, two bars or less before the others, counts along: sticks, or headphones
    heard in a microphone.
    """
    sounds = sorted(sounds_s)
    later = [moment for moment in sounds if moment > AT_ONCE_S]
    if len(later) > 1:
        sounds = later
    if len(sounds) < 2 or len(beats_s) < 3:
        return sounds[0] if sounds else None
    beat = beats_s[1] - beats_s[0]
    alone = sounds[1] - sounds[0] > 1.5 * beat and sounds[1] < beats_s[0] + 8.5 * beat
    return sounds[1] if alone and abs(sounds[0] - beats_s[0]) < 0.02 else sounds[0]


def count_in(beats_s: Sequence[float], accents: Sequence[bool], music_s: float | None) -> int | None:
    """Beats of the click before the bar in which the music begins; None without music.

    Music before the first beat: 0. Music that begins in the last half of a bar is a pick-up to the next one.
    Without accents the beat itself counts.
    """
    if music_s is None or not len(beats_s):
        return None
    beats = np.asarray(beats_s)
    if len(beats) < 2 or music_s < beats[0] - 0.25 * (beats[1] - beats[0]):
        return 0
    place = int(np.searchsorted(beats, music_s, side="right")) - 1
    into = min(max(place, 0), len(beats) - 2)
    part = (music_s - beats[into]) / (beats[into + 1] - beats[into])
    if part > 8.0:
        return len(beats)  # the click stopped long before the music: it only counted in
    position = into + part
    downbeats = np.flatnonzero(np.asarray(accents))
    if not len(downbeats):
        return int(np.ceil(position - 0.25))
    before = downbeats[downbeats <= position + 0.25]
    after = downbeats[downbeats > position + 0.25]
    if not len(before):
        return int(after[0])
    if not len(after):
        ended = position > len(beats) - 0.5
        return len(beats) if ended else int(before[-1])
    late = position - before[-1] > 0.5 * (after[0] - before[-1])
    return int(after[0]) if late else int(before[-1])
