"""Who says that a stem sits beside the beat.

    by_strokes(judged, song, ways, limit)       -> ByStrokes: other stems that share strokes with it
    by_click(judged, song, habits, ways, limit) -> the click, and other stems that stand on it as usual

The second asks for no strokes in common: who plays chords or few notes shares them with nobody.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role
from audit.rules.alignment_words import Judged
from audit.rules.phases import MARKING, SLOW, sure_phases
from audit.rules.places import Habit, as_far
from audit.rules.rule import Limit
from audit.rules.zero import speaks_ms

Habits = Mapping[Role, Habit]

Ways = Mapping[str, Mapping[str, float]]
"""Of each stem, by another stem: `ways_of`."""

STILL = 0.4
"""Up to so much of another's lag, a stem has stayed where it was."""

SAME_WAY = 0.3
"""From so much of a stem's own lag on, another one says that it lies that way."""

BOTH_ENDS_MS = 20.0
"""Two stems that say more unlike things of the way between them mean different strokes."""

FIGURES, FINE_FIGURE, FINE_MS = (3, 4, 6), 8, 4.0
"""Parts of a beat that figures are written in, or echoes are laid on; the last within so much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ByClick:
    """What the click says of a stem."""

    off_ms: float  # past where its role lies against the click in the show's other songs
    bound_ms: float
    standing: tuple[str, ...]  # other stems that lie against it as usual


@dataclass(frozen=True, slots=True, kw_only=True)
class ByStrokes:
    """What other stems say of one by the strokes that they share."""

    agreeing: tuple[str, ...]
    direct: int  # of them share its own strokes; the others share those of one that does


def by_strokes(judged: Judged, song: SongEvidence, ways: Ways, limit: Limit) -> ByStrokes:
    """The other stems that this one lies off from in the same direction, and that agree with each other;
    two at least, or none.

    What the two usually differ by is allowed for. Where those that share its strokes do not say it plainly,
    slow sounds among them, which speak now sooner, now later, are not asked.
    """
    own = ways[judged.stem.name]
    distances = _distances(judged.stem.name, ways, limit)
    agreeing = _plainly(judged, distances, limit)
    if not agreeing and judged.stem.role not in SLOW:
        slow = {stem.name for stem in song.stems if stem.role in SLOW}
        quick = {name: off for name, off in distances.items() if name not in slow}
        agreeing = _in_the_middle(judged, quick, limit)
    return ByStrokes(agreeing=agreeing, direct=sum(name in own for name in agreeing))


def _plainly(judged: Judged, distances: Mapping[str, float], limit: Limit) -> tuple[str, ...]:
    """Those that agree where most others say that it is as far off."""
    so = {name: off for name, off in distances.items() if as_far(off, judged.off_ms)}
    return _alike(so, median(so.values()), limit) if len(so) >= 2 and 2 * len(so) > len(distances) else ()


def _in_the_middle(judged: Judged, distances: Mapping[str, float], limit: Limit) -> tuple[str, ...]:
    """Those that agree where most others say that it is off that way, and as far in their middle."""
    so = {name: off for name, off in distances.items() if as_far(off, judged.off_ms, SAME_WAY)}
    if len(so) < 2 or 2 * len(so) <= len(distances):
        return ()
    middle = median(distances.values())
    return _alike(so, middle, limit) if as_far(middle, judged.off_ms) else ()


def _alike(so: Mapping[str, float], middle: float, limit: Limit) -> tuple[str, ...]:
    """Two at least, or none."""
    agreeing = tuple(name for name, off in so.items() if abs(off - middle) <= limit.value)
    return agreeing if len(agreeing) >= 2 else ()


def by_click(judged: Judged, song: SongEvidence, habits: Habits, ways: Ways, limit: Limit) -> ByClick | None:
    """None where the click does not say it: too few songs to know the role's place against it, a figure that
    is written so, other stems that have moved along with it, or stems that share its strokes and say
    otherwise."""
    habit, bpm = judged.habit, song.click.bpm if song.click is not None else None
    if habit is None or habit.songs < limit["click_songs"] or bpm is None:
        return None
    off_ms = judged.phase.click_ms - habit.click_ms
    size = abs(off_ms)
    if size > limit["click_far"] or is_a_part(off_ms, bpm, limit) or not as_far(off_ms, judged.off_ms):
        return None
    standing = _standing(judged, off_ms, song, habits, ways, limit)
    if standing is None:
        return None
    # So far off it may be another place of the pattern.
    far = size > limit["click_most"]
    if far and (len(standing) < limit["click_far_others"] or judged.stem.role in SLOW or habit.lent):
        return None
    marking = judged.stem.role in MARKING
    # Percussion is another instrument in every song,
    lent = habit.lent or judged.stem.role is Role.PERCUSSION
    # and so may be what is known by the place of other roles.
    least = limit["click_lent" if lent else "near" if marking else "click"]
    if judged.stem.role in SLOW:
        least = limit["click_slow"]
    bound_ms = max(
        least, limit["spreads"] * max(judged.phase.error_ms, habit.click_spread_ms, judged.zero_ms)
    )
    if len(standing) < 2:
        bound_ms *= limit["unwitnessed"]
    if size <= bound_ms or size <= limit["click_loose"] * judged.phase.iqr_ms:
        return None
    return ByClick(off_ms=off_ms, bound_ms=bound_ms, standing=tuple(standing))


def is_a_part(off_ms: float, bpm: float, limit: Limit, *, tight: bool = False) -> bool:
    """Whether a lag is that part of a beat which one stem alone may mean to lie off by; more narrowly of a
    stem whose strokes lie close together."""
    size, beat_ms = abs(off_ms), 60_000.0 / bpm
    near_ms = min(abs(size - beat_ms / parts) for parts in FIGURES)
    if tight:
        return near_ms <= FINE_MS
    return near_ms <= limit["figure_ms"] or abs(size - beat_ms / FINE_FIGURE) <= FINE_MS


def _standing(
    judged: Judged, off_ms: float, song: SongEvidence, habits: Habits, ways: Ways, limit: Limit
) -> list[str] | None:
    """The other stems that lie against the click as their roles do in the show's other songs. None where more
    than half as many have moved along with this one, or most that share its strokes say otherwise."""
    slow = {stem.name for stem in song.stems if stem.role in SLOW}
    distances = [one for name, one in _distances(judged.stem.name, ways, limit).items() if name not in slow]
    otherwise = [one for one in distances if one * off_ms <= 0.0 or abs(one) < STILL * abs(off_ms)]
    others = [one for one in sure_phases(song) if one[0] != judged.stem.name]
    rests = {name: phase.click_ms - habits[role].click_ms for name, role, phase in others if role in habits}
    standing = [name for name, rest in rests.items() if abs(rest) <= STILL * abs(off_ms)]
    # Who has no habit may have moved along too, unless it is slow.
    unknown = [
        phase.click_ms - speaks_ms(role)
        for _, role, phase in others
        if role not in habits and role not in SLOW
    ]
    along = [rest for rest in (*rests.values(), *unknown) if as_far(rest, off_ms) and as_far(off_ms, rest)]
    if 2 * len(along) > len(standing) or 2 * len(otherwise) > len(distances):
        return None
    return standing


def ways_of(song: SongEvidence, usual: Mapping[str, Habit]) -> Ways:
    """How much farther each stem lies off those that share strokes with it than they usually do.

    usual: by stem, of those that have one, its habit.
    """
    lags = {stem.name: _lags(stem) for stem in song.stems}
    ways: dict[str, dict[str, float]] = {}
    for name, own in lags.items():
        found = {}
        back = {other: their[name] for other, their in lags.items() if name in their}
        for other in (one.name for one in song.stems if one.name in own or one.name in back):
            usual_ms = _usual_way(usual.get(name), usual.get(other))
            # Each end knows the way but for a part of the beat: where they disagree the smaller counts.
            both = [own[other]] if other in own else []
            if other in back and not (both and abs(both[0] + back[other]) <= BOTH_ENDS_MS):
                both.append(-back[other])
            found[other] = min((lag_ms - usual_ms for lag_ms in both), key=abs)
        ways[name] = found
    return ways


def _distances(name: str, ways: Ways, limit: Limit) -> dict[str, float]:
    """How much farther it lies off other stems than their roles usually do: off those that share strokes with
    it, and by way of these off those that share strokes with them and lie as usual to them."""
    found = dict(ways[name])
    further: dict[str, list[float]] = {}
    for between, way_ms in found.items():
        for other, rest_ms in ways[between].items():
            if other != name and other not in found and abs(rest_ms) <= limit.value:
                further.setdefault(other, []).append(way_ms + rest_ms)
    return found | {other: median(both) for other, both in further.items()}


def _lags(stem: StemEvidence) -> dict[str, float]:
    phase = stem.alignment.phase if stem.alignment is not None else None
    return {one.stem: one.lag_ms for one in phase.against} if phase is not None else {}


def _usual_way(one: Habit | None, two: Habit | None) -> float:
    """How much later than the other the one usually lies; 0.0 where one of them is not known."""
    return one.click_ms - two.click_ms if one is not None and two is not None else 0.0
