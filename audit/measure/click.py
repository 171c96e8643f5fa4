"""A click, beat by beat: tempo, metre, and what is missing or too many in it.

    find_click(ticks) -> ClickTrack | None      with_count_in(track, sounds_s) -> ClickTrack

Pure functions of the sounds that `tick_events` found. Free sections, a click that starts mid-song or stops
early, ramps, steps and holds are music; only what returns to the same grid afterwards is a fault.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from audit.measure.click_beats import FEWEST, choose_beats
from audit.measure.click_grid import Break, Numbers, find_breaks, find_extras
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
    every_s = ticks.at_s[chosen.beats]
    # Ticks under a voice are there, but not to the millisecond: near them nothing proves a displacement.
    likeness = ticks.likeness[chosen.beats]
    unclear = (likeness > 0.0) & (likeness < CLEAR)
    blurred = np.convolve(unclear, np.ones(2 * NEAR + 1))[NEAR : NEAR + len(unclear)] > 0
    all_extras = [e for e in find_extras(every_s) if not (e.instead and blurred[e.row])]
    strangers = ticks.at_s[~np.isin(ticks.kind, ticks.kind[chosen.beats])]
    extras = [
        extra
        for extra in all_extras
        if not unclear[extra.row]
        or (likeness[extra.row] != FOUND and not _near(strangers, every_s[extra.row]))
    ]
    keep = np.ones(len(every_s), dtype=np.bool_)
    keep[[extra.row for extra in all_extras]] = False
    rows = chosen.beats[keep]
    if len(rows) < FEWEST:
        return None
    at_s = ticks.at_s[rows]
    accents = find_accents(ticks.level_db[rows], ticks.kind[rows])
    moved = {float(every_s[extra.row]) for extra in extras if extra.instead}
    bar = bar_length(accents)
    breaks = [
        found
        for found in find_breaks(at_s, accents, bar)
        if not any(at_s[found.after] < moment < at_s[found.after + 1] for moment in moved)
    ]
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
        gaps=tuple(
            ClickGap(
                at_s=float(at_s[b.after] + (at_s[b.after + 1] - at_s[b.after]) / (b.beats + 1)), beats=b.beats
            )
            for b in breaks
            if b.what == "gap"
        ),
        extras=tuple(
            ClickExtra(at_s=float(every_s[extra.row]), off_s=extra.off_s, instead=extra.instead)
            for extra in extras
        ),
        changes=tuple(
            ClickChange(at_s=float(at_s[b.after]), ratio=b.ratio) for b in breaks if b.what == "change"
        ),
        pauses=tuple(
            ClickPause(start_s=float(at_s[b.after]), end_s=float(at_s[b.after + 1]))
            for b in breaks
            if b.what == "pause"
        ),
        subdivision=chosen.subdivision,
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
