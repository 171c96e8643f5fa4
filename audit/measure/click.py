"""A click, beat by beat: tempo, metre, and what is missing or too many in it.

    find_click(ticks) -> ClickTrack | None      with_count_in(track, sounds_s) -> ClickTrack

Pure functions of the sounds that `tick_events` found. Free sections, a click that starts mid-song or stops
early, ramps, steps and holds are music; only what returns to the same grid afterwards is a fault.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from audit.measure.click_beats import FEWEST, Chosen, choose_beats
from audit.measure.click_grid import Break, Extra, Numbers, find_breaks, find_extras
from audit.measure.click_metre import bar_length, count_in, find_accents, metre_words, music_start
from audit.measure.click_tempi import tempi
from audit.measure.second_hits import first_hits
from audit.measure.tick_events import FOUND, Ticks
from audit.results import ClickChange, ClickExtra, ClickGap, ClickPause, ClickRun, ClickTrack

CLEAR = 0.95
NEAR = 4
VOICE_S = 0.5
STEADY = 0.005
"""A run whose every beat lies within 0.5 % of its tempo is steady."""


def find_click(ticks: Ticks) -> ClickTrack | None:
    """The click in the sounds of a part; None where there are fewer than three ticks or no even spacing."""
    ticks = first_hits(ticks)
    chosen = choose_beats(ticks)
    if chosen is None:
        return None
    off, told = _beside_the_grid(ticks, chosen)
    keep = np.ones(len(chosen.beats), dtype=np.bool_)
    keep[[extra.row for extra in off]] = False
    rows = chosen.beats[keep]
    if len(rows) < FEWEST:
        return None
    at_s, every_s = ticks.at_s[rows], ticks.at_s[chosen.beats]
    accents = find_accents(ticks.level_db[rows], ticks.kind[rows])
    bar = bar_length(accents)
    moved_s = {float(every_s[extra.row]) for extra in told if extra.instead}
    breaks = _without_moved(find_breaks(at_s, accents, bar), at_s, moved_s)
    runs = _runs(at_s, breaks)
    longest = max(runs, key=lambda run: run.beats)
    bpm = _bpm(at_s[longest.first_beat : longest.first_beat + longest.beats])
    return ClickTrack(
        beats_s=tuple(at_s.tolist()),
        accents=tuple(accents.tolist()),
        runs=runs,
        bpm=bpm,
        metre=metre_words(bar, bpm),
        count_in_beats=None,
        first_beat_s=float(at_s[0]),
        gaps=_gaps(breaks, at_s),
        extras=tuple(
            ClickExtra(at_s=float(every_s[extra.row]), off_s=extra.off_s, instead=extra.instead)
            for extra in told
        ),
        changes=_changes(breaks, at_s),
        pauses=_pauses(breaks, at_s),
        subdivision=chosen.subdivision,
    )


def _beside_the_grid(ticks: Ticks, chosen: Chosen) -> tuple[list[Extra], list[Extra]]:
    """The rows of the beats that stand on none, and those of them that are surely so.

    Ticks under a voice are there, but not to the millisecond: near them nothing proves a displacement.
    """
    every_s, likeness = ticks.at_s[chosen.beats], ticks.likeness[chosen.beats]
    unclear = (likeness > 0.0) & (likeness < CLEAR)
    blurred = np.convolve(unclear, np.ones(2 * NEAR + 1))[NEAR : NEAR + len(unclear)] > 0
    strangers_s = ticks.at_s[~np.isin(ticks.kind, ticks.kind[chosen.beats])]
    off = [extra for extra in find_extras(every_s) if not (extra.instead and blurred[extra.row])]
    told = [
        extra
        for extra in off
        if not unclear[extra.row]
        or (likeness[extra.row] != FOUND and not _near(strangers_s, every_s[extra.row]))
    ]
    return off, told


def _without_moved(breaks: Sequence[Break], at_s: Numbers, moved_s: Collection[float]) -> list[Break]:
    """Those between whose beats no moved one lies: that is told by itself."""
    return [
        one for one in breaks if not any(at_s[one.after] < moment < at_s[one.after + 1] for moment in moved_s)
    ]


def _gaps(breaks: Sequence[Break], at_s: Numbers) -> tuple[ClickGap, ...]:
    return tuple(
        ClickGap(
            at_s=float(at_s[b.after] + (at_s[b.after + 1] - at_s[b.after]) / (b.beats + 1)), beats=b.beats
        )
        for b in breaks
        if b.what == "gap"
    )


def _changes(breaks: Sequence[Break], at_s: Numbers) -> tuple[ClickChange, ...]:
    return tuple(ClickChange(at_s=float(at_s[b.after]), ratio=b.ratio) for b in breaks if b.what == "change")


def _pauses(breaks: Sequence[Break], at_s: Numbers) -> tuple[ClickPause, ...]:
    return tuple(
        ClickPause(start_s=float(at_s[b.after]), end_s=float(at_s[b.after + 1]))
        for b in breaks
        if b.what == "pause"
    )


def _near(strangers_s: Numbers, at_s: float) -> bool:
    """Whether a sound that is no tick begins so near that it may lie over the one at `at_s`."""
    return bool(np.any(np.abs(strangers_s - at_s) < VOICE_S))


def with_count_in(track: ClickTrack, sounds_s: Sequence[float]) -> ClickTrack:
    """The same click with its count-in. sounds_s: when each of the song's musical stems first sounds."""
    music_s = music_start(track.beats_s, sounds_s)
    return replace(track, count_in_beats=count_in(track.beats_s, track.accents, music_s), music_s=music_s)


def _runs(at_s: Numbers, breaks: Sequence[Break]) -> tuple[ClickRun, ...]:
    ends = [b.after + 1 for b in breaks if b.what in ("pause", "shift")]
    runs = []
    for first, end in zip([0, *ends], [*ends, len(at_s)], strict=True):
        inside = [b.after for b in breaks if b.what == "gap" and first <= b.after < end]
        steps = np.delete(np.diff(at_s[first:end]), [after - first for after in inside])
        if not len(steps):
            runs.append(
                ClickRun(first_beat=first, beats=end - first, bpm_first=0.0, bpm_last=0.0, steady=True)
            )
            continue
        middle = float(np.median(steps))
        found = tempi(at_s[first:end], frozenset(after - first for after in inside))
        steady = bool(np.max(np.abs(steps - middle)) <= STEADY * middle)
        runs.append(
            ClickRun(
                first_beat=first,
                beats=end - first,
                bpm_first=60.0 / float(np.mean(steps)) if steady else found[0].bpm_first,
                bpm_last=60.0 / float(np.mean(steps)) if steady else found[-1].bpm_last,
                steady=steady,
                tempi=found,
            )
        )
    return tuple(runs)


def _bpm(at_s: Numbers) -> float | None:
    """The tempo most beats keep: the mean of the intervals within 0.5 % of the median."""
    steps = np.diff(at_s)
    if not len(steps):
        return None
    middle = float(np.sort(steps)[len(steps) // 2])
    return 60.0 / float(np.mean(steps[np.abs(steps - middle) <= STEADY * middle]))
