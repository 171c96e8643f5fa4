"""Timecode hour by hour: where each song's numbers lie, where they jump, which songs have none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from audit.findings import ShowAudit
from audit.results import TimecodeRun, TimecodeTrack
from audit.units import clock, count

SCALES_S = (60, 120, 300, 600, 900, 1800, 3600)
"""How much of an hour is drawn: the least of these that holds every song."""

LEAST_PCT = 0.4
"""So that a short run can still be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeSpan:
    """A song's timecode within an hour. Percents of the scale."""

    song: str
    anchor: str
    words: str
    runs: tuple[tuple[float, float], ...]  # at, width of each stretch without a jump
    jumps_pct: tuple[float, ...]  # where the numbers jump to
    jumps: str  # `1 jump`; empty without
    lane: int
    clash: bool

    @property
    def at_pct(self) -> float:
        return self.runs[0][0]


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeHour:
    """One hour of timecode."""

    hour: str
    spans: tuple[CodeSpan, ...]
    lanes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeMap:
    """All hours on one scale."""

    hours: tuple[CodeHour, ...]
    ticks: tuple[tuple[float, str], ...]  # percent, `0:15`
    without: tuple[tuple[str, str], ...]  # anchor, song: songs that have none that can be read


@dataclass(frozen=True, slots=True, kw_only=True)
class _Coded:
    """A song's timecode in seconds of its first number's hour."""

    song: str
    anchor: str
    track: TimecodeTrack
    runs: tuple[tuple[float, float], ...]  # first second, length

    @property
    def first_s(self) -> float:
        return min(first for first, _ in self.runs)

    @property
    def end_s(self) -> float:
        return max(first + length for first, length in self.runs)


def code_map(audit: ShowAudit, anchors: Sequence[str]) -> CodeMap | None:
    """Songs stand in the hour in which they begin, drawn up to its end. None where no song has timecode."""
    clashing = {
        name
        for finding in audit.all_findings()
        if finding.rule == "timecode-overlap" and finding.waived is None
        for name in finding.songs
    }
    coded: dict[int, list[_Coded]] = {}
    without = []
    for song, anchor in zip(audit.songs, anchors, strict=True):
        track = song.evidence.timecode
        if track is None:
            without.append((anchor, song.evidence.name))
            continue
        made = _Coded(song=song.evidence.name, anchor=anchor, track=track, runs=_runs(track))
        coded.setdefault(track.first.hours, []).append(made)
    if not coded:
        return None
    furthest_s = max(one.end_s for songs in coded.values() for one in songs)
    scale_s = next((scale for scale in SCALES_S if scale >= furthest_s), SCALES_S[-1])
    return CodeMap(
        hours=tuple(
            _hour(hour, sorted(songs, key=lambda one: one.first_s), clashing, scale_s)
            for hour, songs in sorted(coded.items())
        ),
        ticks=tuple((25.0 * quarter, clock(scale_s * quarter / 4, millis=False)) for quarter in range(5)),
        without=tuple(without),
    )


def _runs(track: TimecodeTrack) -> tuple[tuple[float, float], ...]:
    """Where each stretch without a jump begins, in seconds after the hour of the first, and its length."""
    whole = TimecodeRun(first=track.first, last=track.last, start_s=track.start_s, end_s=track.end_s)
    return tuple((_second(run, track), max(0.0, run.end_s - run.start_s)) for run in track.runs or (whole,))


def _second(run: TimecodeRun, track: TimecodeTrack) -> float:
    """Numbers before the hour lie at its start."""
    first = run.first
    hours = first.hours - track.first.hours
    return max(0.0, 3600.0 * hours + 60.0 * first.minutes + first.seconds + first.frames / track.rate.count)


def _hour(hour: int, songs: Sequence[_Coded], clashing: set[str], scale_s: int) -> CodeHour:
    spans: list[CodeSpan] = []
    free_s: list[float] = []  # when each lane is free again
    for one in songs:
        lane = next((lane for lane, until in enumerate(free_s) if until <= one.first_s), len(free_s))
        free_s[lane : lane + 1] = [one.end_s]
        runs = tuple((_pct(first, scale_s), _wide(first, length, scale_s)) for first, length in one.runs)
        track = one.track
        spans.append(
            CodeSpan(
                song=one.song,
                anchor=one.anchor,
                words=f"{track.first.text(track.rate)} to {track.last.text(track.rate)}",
                runs=runs,
                jumps_pct=tuple(at for at, _ in runs[1:] if at <= 100.0),
                jumps=count(track.jump_count, "jump") if track.jump_count else "",
                lane=lane,
                clash=one.song in clashing,
            )
        )
    return CodeHour(hour=f"{hour:02d}", spans=tuple(spans), lanes=max(1, len(free_s)))


def _pct(seconds: float, scale_s: int) -> float:
    return round(100.0 * seconds / scale_s, 2)


def _wide(first_s: float, length_s: float, scale_s: int) -> float:
    return round(max(LEAST_PCT, 100.0 * min(length_s, scale_s - first_s) / scale_s), 2)
