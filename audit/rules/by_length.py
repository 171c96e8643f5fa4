"""Stems that come early or late by as much as their file is shorter or longer than the others': a start cut
off, or something put before it.

    begins_beside(show, song_name) -> by stem, a Beside
    farther_by_length(stem, song, off_ms) -> the Beside that its strokes and its length say together
    as_long_off(stem, off_ms) -> whether its length names the same lag as its strokes
    beside_hit(beside)        -> how it is told

Lengths alone say nothing of it (a tail may be cut as well), and strokes alone not how much: they come round
with every part of the beat. Together they name one lag, to the sample.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import ByLength, Phase
from audit.rules.once import once_a_show
from audit.rules.phases import MARKING, SLOW, sure_phases_by_song
from audit.rules.places import Habit, habits, past_habit_ms
from audit.rules.rule import Hit

LEAST_MS = 60.0
"""Smaller lags are told by a stem's place within the beat: many a bass lies half as far back."""

IN_PLACE_MS = 12.0
"""Who lies no farther from its place in the beat as it stands lacks an end and no start, or plays so."""

MEETS, SURELY_MEETS = 5.0, 12.0
"""Standard deviations above chance by which its strokes have to meet the others' there."""

TIMES, TIMES_SLOW = 1.4, 2.0
"""How many times better there than as it stands; slow sounds meet others by chance. Own measurement: of
10,580 clean stems whose file was said to be 63 ms to 1.7 s longer or shorter, none that marks the beat and
0.16 % of the others are told; moved by it, 83 % and 51 %."""

OF_BEST, OF_BEST_PART, NEAR_PART_MS = 0.8, 0.95, 13.0
"""Of the best lag around; a stem moved by a quarter of the beat, or nearly, meets as many others."""

OF_BEST_FARTHER = 0.5
"""The same of a stem that is off by its strokes too: many figures meet more a beat away."""

FROM_MS, TO_MS, AS_USUAL_MS = -8.0, 14.0, 8.0
"""Where they meet best, from the place that the length names: people and slow sounds lie back; or about where
the role lies from the others in the show's other songs. Of what does not mark the beat: own measurement, by
chance such sounds meet as often at the ends of a wider window as in its middle."""

PLAINLY_TIMES, FARTHEST_BACK_MS = 4.0, 45.0
"""Where so many more meet there, they may lie farther back."""

FEWEST_SONGS = 2

HARDLY = 0.25
"""Of the meetings above chance."""

SAME_MS, EXACTLY_MS = 5.0, 2.0
"""A lag by strokes and one by length are the same within this; within the second beyond doubt."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A stem whose length says how far it lies off."""

    stem: StemEvidence
    by: ByLength
    sure: bool
    whole_beats: bool  # then shifted-by-beats may say it too


@once_a_show
def begins_beside(show: ShowEvidence, song_name: str) -> Mapping[str, Beside]:
    """Of one song, the stems that lie off by what their file is longer or shorter, by name."""
    song = next((one for one in show.songs if one.name == song_name), None)
    if song is None or not any(_by(stem) for stem in song.stems):
        return {}
    usual, back_ms = habits(show, without=song.name), _from_others_ms(show, song)
    found = (_beside(stem, song, usual.get(stem.role), back_ms.get(stem.role)) for stem in song.stems)
    told = {one.stem.name: one for one in found if one is not None}
    along = (_along(stem, song, told) for stem in song.stems if stem.name not in told)
    return told | {one.stem.name: one for one in along if one is not None}


def _is_in_place(phase: Phase, habit: Habit | None) -> bool:
    """By the others and by the click: many may have moved together."""
    click_ms = phase.click_ms - (habit.click_ms if habit is not None else 0.0)
    return max(abs(past_habit_ms(phase, habit)), abs(click_ms)) < IN_PLACE_MS


def _along(stem: StemEvidence, song: SongEvidence, told: Mapping[str, Beside]) -> Beside | None:
    """A stem that is as much longer or shorter as one that is told, and meets the others better so: what
    happened to that one happened to it, though its strokes come round."""
    by = _by(stem)
    if by is None or by.there < max(MEETS, by.as_is) or not _as_long_as(by, told):
        return None
    return replace(_told(stem, by, song), sure=False)


def _as_long_as(by: ByLength, told: Mapping[str, Beside]) -> bool:
    return any(abs(one.by.lag_ms - by.lag_ms) <= SAME_MS for one in told.values())


def moved_along(song: SongEvidence, told: Mapping[str, Beside]) -> frozenset[str]:
    """Those that are told, and the stems that are as much longer or shorter as one of them."""
    return frozenset(told) | {
        stem.name for stem in song.stems if (by := _by(stem)) is not None and _as_long_as(by, told)
    }


def _by(stem: StemEvidence) -> ByLength | None:
    return stem.alignment.by_length if stem.alignment is not None else None


def _from_others_ms(show: ShowEvidence, song: SongEvidence) -> dict[Role, float]:
    """How far behind the others roles lie in the show's other songs."""
    found: dict[Role, list[float]] = {}
    for name, phases in sure_phases_by_song(show):
        for _, role, phase in phases if name != song.name else ():
            found.setdefault(role, []).append(phase.from_others_ms)
    return {role: median(lags) for role, lags in found.items() if len(lags) >= FEWEST_SONGS}


def _beside(
    stem: StemEvidence, song: SongEvidence, habit: Habit | None, back_ms: float | None
) -> Beside | None:
    by, phase = _by(stem), stem.alignment.phase if stem.alignment is not None else None
    if by is None or abs(by.lag_ms) < LEAST_MS:
        return None
    as_usual = back_ms is not None and abs(by.beside_ms - back_ms) <= AS_USUAL_MS
    plainly = by.there >= max(SURELY_MEETS, PLAINLY_TIMES * by.as_is) and by.beside_ms <= FARTHEST_BACK_MS
    near = as_usual or plainly or FROM_MS <= by.beside_ms <= TO_MS
    if by.beside_ms > FARTHEST_BACK_MS or (stem.role not in MARKING and not near):
        return None
    if phase is not None and _is_in_place(phase, habit):
        return None
    times, top = TIMES_SLOW if stem.role in SLOW else TIMES, OF_BEST
    beat_ms = _beat_ms(song)
    if (
        beat_ms is not None
        and _near_a_part(by.lag_ms, beat_ms / 4, NEAR_PART_MS)
        and stem.role not in MARKING
    ):
        times, top = TIMES_SLOW, OF_BEST_PART
    if by.there < max(MEETS, times * by.as_is, top * by.anywhere):
        return None
    return _told(stem, by, song)


def _told(stem: StemEvidence, by: ByLength, song: SongEvidence) -> Beside:
    beat_ms, clearly = _beat_ms(song), by.there >= max(SURELY_MEETS, TIMES_SLOW * by.as_is)
    return Beside(
        stem=stem,
        by=by,
        sure=stem.role in MARKING or (stem.role not in SLOW and clearly),
        whole_beats=beat_ms is not None and _near_a_part(by.lag_ms, beat_ms, NEAR_PART_MS),
    )


def farther_by_length(stem: StemEvidence, song: SongEvidence, off_ms: float) -> Beside | None:
    """Of a stem that is off by its strokes, which come round with every part of the beat: the same lag and
    some parts more, where its length names them. off_ms: by its strokes."""
    by, beat_ms = _by(stem), _beat_ms(song)
    if by is None or beat_ms is None or abs(by.lag_ms) < LEAST_MS:
        return None
    if by.there < max(MEETS, by.as_is):
        return None
    more_ms, parts = by.lag_ms - off_ms, (beat_ms / 3, beat_ms / 4)
    surely = any(_near_a_part(more_ms, part_ms, EXACTLY_MS) for part_ms in parts)
    meets = by.there >= OF_BEST_FARTHER * by.anywhere
    same = meets and any(_near_a_part(more_ms, part_ms, SAME_MS) for part_ms in parts)
    return _told(stem, by, song) if surely or same else None


def _beat_ms(song: SongEvidence) -> float | None:
    return 60_000.0 / song.click.bpm if song.click is not None and song.click.bpm else None


def _near_a_part(lag_ms: float, part_ms: float, within_ms: float) -> bool:
    """Whether a lag is nearly a whole number of parts."""
    return abs(lag_ms - part_ms * round(lag_ms / part_ms)) <= within_ms


def has_another_length(stem: StemEvidence) -> bool:
    """Whether its file differs from the others' by enough to lie off by that: its strokes may come round."""
    by = _by(stem)
    return by is not None and abs(by.lag_ms) >= LEAST_MS


def as_long_off(stem: StemEvidence, off_ms: float) -> bool:
    """Whether its file is longer by what it lies off (shorter: early), to a few milliseconds."""
    by = _by(stem)
    return (
        by is not None
        and stem.role not in SLOW
        and by.there >= MEETS
        and abs(off_ms) >= IN_PLACE_MS
        and abs(by.lag_ms - off_ms) <= SAME_MS
    )


def beside_hit(beside: Beside) -> Hit:
    by, stem = beside.by, beside.stem
    rate_hz = stem.format.sample_rate_hz if stem.format is not None else 48_000
    late, samples = by.lag_ms > 0.0, round(abs(by.lag_ms) * rate_hz / 1000.0)
    return Hit(
        stem=stem.name,
        value=by.lag_ms,
        limit=LEAST_MS,
        severity=Severity.ERROR if beside.sure else Severity.WARNING,
        confidence=0.95 if beside.sure else 0.8,
        message="{early_late} by {size_ms:.1f} ms ({samples} samples) from start to end: its file is as much "
        "{longer} than the others', and moved by that its {strokes} fall together with theirs; as it stands "
        "{fewer} do (limit {least:g} ms). {what}",
        cure="{put}, or bounce it again from the same bar 1 as the others.",
        again="from the same bar 1 as the others, all of it {size_ms:.1f} ms {cure_way} ({samples} samples)",
        facts={
            "early_late": "late" if late else "early",
            "size_ms": abs(by.lag_ms),
            "samples": samples,
            "strokes": "hits" if stem.role in MARKING else "notes",
            "longer": "longer" if late else "shorter",
            "there": by.there,
            "as_is": by.as_is,
            "fewer": "hardly any" if by.as_is < HARDLY * by.there else "fewer",
            "least": LEAST_MS,
            "what": "Something stands before its start" if late else "Its start was cut off",
            "put": f"Cut {samples} samples off its start"
            if late
            else f"Put {samples} samples of silence before it",
            "cure_way": "earlier" if late else "later",
            "onsets": by.strokes,
            "others": by.others,
            "told_by": "length",
        },
    )
