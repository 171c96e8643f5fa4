"""Who says that a stem sits beside the beat.

    by_strokes(judged, song, habits, limit) -> other stems that share strokes with it
    by_click(judged, song, habits, limit)   -> the click, and other stems that stand on it as usual

The second asks for no strokes in common: who plays chords or few notes shares them with nobody.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median

from audit.evidence import SongEvidence
from audit.facts import Role
from audit.rules.alignment_words import Judged
from audit.rules.places import MARKING, SLOW, Habit, sure_phases
from audit.rules.rule import Limit

Habits = Mapping[Role, Habit]

AS_FAR, STILL = 0.6, 0.4
"""Two lags are of one kind from the first share of the farther one on; up to the second, a stem has stayed
where it was."""

FIGURES = (3, 4, 6)
"""Parts of a beat that figures are written in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ByClick:
    """What the click says of a stem."""

    off_ms: float  # past where its role lies against the click in the show's other songs
    bound_ms: float
    standing: tuple[str, ...]  # other stems that lie against it as usual


def by_strokes(judged: Judged, song: SongEvidence, habits: Habits, limit: Limit) -> list[str]:
    """The other stems that this one lies off from in the same direction, and that agree with each other.

    What the two roles differ by in other songs is allowed for.
    """
    distances = _distances(judged, song, habits)
    same_way = {name: off for name, off in distances.items() if as_far(off, judged.off_ms)}
    if len(same_way) < 2 or 2 * len(same_way) <= len(distances):
        return []
    middle = median(same_way.values())
    return [name for name, off in same_way.items() if abs(off - middle) <= limit.value]


def by_click(judged: Judged, song: SongEvidence, habits: Habits, limit: Limit) -> ByClick | None:
    """None where the click does not say it: too few songs to know the role's place against it, a figure that
    is written so, other stems that have moved along with it, or stems that share its strokes and say
    otherwise."""
    habit, bpm = judged.habit, song.click.bpm if song.click is not None else None
    if habit is None or habit.songs < limit["click_songs"] or bpm is None:
        return None
    off_ms = judged.phase.click_ms - habit.click_ms
    size, beat_ms = abs(off_ms), 60_000.0 / bpm
    figure = min(abs(size - beat_ms / parts) for parts in FIGURES) <= limit["figure_ms"]
    if size > limit["click_most"] or figure or not as_far(off_ms, judged.off_ms):
        return None
    standing = _standing(judged, off_ms, song, habits)
    if standing is None:
        return None
    marking = judged.stem.role in MARKING
    # Percussion is another instrument in every song,
    lent = habit.lent or judged.stem.role is Role.PERCUSSION
    # and so may be what is known by the place of other roles.
    least = limit["click_lent" if lent else "near" if marking else "click"]
    if judged.stem.role in SLOW:
        least = limit["click_slow"]
    bound_ms = max(least, limit["spreads"] * max(judged.phase.error_ms, habit.click_spread_ms))
    if len(standing) < 2:
        bound_ms *= limit["unwitnessed"]
    if size <= bound_ms or size <= limit["click_loose"] * judged.phase.iqr_ms:
        return None
    return ByClick(off_ms=off_ms, bound_ms=bound_ms, standing=tuple(standing))


def _standing(judged: Judged, off_ms: float, song: SongEvidence, habits: Habits) -> list[str] | None:
    """The other stems that lie against the click as their roles do in the show's other songs. None where more
    than half as many have moved along with this one, or most that share its strokes say otherwise."""
    slow = {stem.name for stem in song.stems if stem.role in SLOW}
    distances = [one for name, one in _distances(judged, song, habits).items() if name not in slow]
    otherwise = [one for one in distances if one * off_ms <= 0.0 or abs(one) < STILL * abs(off_ms)]
    rests = {
        name: phase.click_ms - habits[role].click_ms
        for name, role, phase in sure_phases(song)
        if name != judged.stem.name and role in habits
    }
    standing = [name for name, rest in rests.items() if abs(rest) <= STILL * abs(off_ms)]
    along = [rest for rest in rests.values() if as_far(rest, off_ms) and as_far(off_ms, rest)]
    if 2 * len(along) > len(standing) or 2 * len(otherwise) > len(distances):
        return None
    return standing


def as_far(off_ms: float, wanted_ms: float, share: float = AS_FAR) -> bool:
    """Whether one lag is in the other's direction, and not much smaller."""
    return off_ms * wanted_ms > 0.0 and abs(off_ms) >= share * abs(wanted_ms)


def _distances(judged: Judged, song: SongEvidence, habits: Habits) -> dict[str, float]:
    """By stems that share strokes with it: how much farther it lies off them than their roles usually do."""
    roles = {stem.name: stem.role for stem in song.stems}
    own = judged.habit.click_ms if judged.habit else 0.0
    distances = {}
    for against in judged.phase.against:
        their = habits.get(roles[against.stem])
        distances[against.stem] = against.lag_ms - own + (their.click_ms if their else 0.0)
    return distances
