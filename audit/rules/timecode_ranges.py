"""The numbers each song's timecode covers, laid against the other songs': what they share, how far apart.

Numbers are counted in ticks after midnight, 600 a counted second: frames at 24, 25 and 30 are whole ticks.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush

from audit.evidence import ShowEvidence
from audit.facts import Song
from audit.results import TimecodeTrack
from audit.rules.once import once_a_show
from audit.rules.timecode import readable
from audit.rules.versions import are_versions
from audit.timecode import FrameRate, Label

TICKS = 600
"""Of a counted second: the least common multiple of 24, 25 and 30."""

DAY = 86_400 * TICKS


@dataclass(frozen=True, slots=True)
class CodeRange:
    """Numbers a song's timecode covers, in ticks; the end is not included."""

    song: str
    first: int
    end: int
    rate: FrameRate

    @property
    def frame(self) -> int:
        """Ticks of one frame."""
        return TICKS // self.rate.count


@dataclass(frozen=True, slots=True)
class Overlap:
    """Numbers that two songs share, in ticks; frames: how many, of the first one's rate."""

    songs: tuple[str, str]
    start: int
    end: int
    rate: FrameRate
    frames: int

    @property
    def first(self) -> str:
        """The first number that both have."""
        return _text(self.start, self.rate)

    @property
    def last(self) -> str:
        return _text(self.end - TICKS // self.rate.count, self.rate)


@dataclass(frozen=True, slots=True)
class Nearest:
    """Two songs' numbers: `gap_s` counted seconds lie between the one's last and the other's first; below
    zero they share as much. `ends`, `begins`: that last number, and that first one."""

    songs: tuple[str, str]  # the one whose numbers end goes first
    gap_s: float
    ends: str
    begins: str


@once_a_show
def ranges_by_song(show: ShowEvidence) -> dict[str, list[CodeRange]]:
    """Of every song whose timecode can be read, in the show's order."""
    found = {
        song.name: [part for _, _, track in readable(song) for part in _ranges(song.name, track)]
        for song in show.songs
    }
    return {name: ranges for name, ranges in found.items() if ranges}


def _ticks(label: Label, rate: FrameRate) -> int:
    seconds = 3600 * label.hours + 60 * label.minutes + label.seconds
    return seconds * TICKS + label.frames * (TICKS // rate.count)


def _ranges(song: str, track: TimecodeTrack) -> Iterator[CodeRange]:
    """A run's numbers; past midnight they are two ranges."""
    rate = track.rate
    for run in track.runs:
        first, last = (run.last, run.first) if track.backward else (run.first, run.last)
        start, end = _ticks(first, rate), _ticks(last, rate) + TICKS // rate.count
        if end > start:
            yield CodeRange(song, start, end, rate)
        else:
            yield CodeRange(song, start, DAY, rate)
            yield CodeRange(song, 0, end, rate)


def _text(at: int, rate: FrameRate) -> str:
    seconds, ticks = divmod(at % DAY, TICKS)
    label = Label(seconds // 3600, seconds // 60 % 60, seconds % 60, ticks // (TICKS // rate.count))
    return label.text(rate)


def overlaps(show: ShowEvidence) -> list[Overlap]:
    """Every two songs that share numbers, in the show's order; versions of one song are not compared."""
    ranges = ranges_by_song(show)
    facts, place = _facts(show), {name: number for number, name in enumerate(ranges)}
    meeting: set[tuple[str, str]] = set()
    open_ones: list[tuple[int, int, CodeRange]] = []  # by their ends
    for number, one in enumerate(_sorted(ranges)):
        while open_ones and open_ones[0][0] <= one.first:
            heappop(open_ones)
        for _, _, other in open_ones:
            pair = (one.song, other.song) if place[one.song] < place[other.song] else (other.song, one.song)
            if one.song != other.song:
                meeting.add(pair)
        heappush(open_ones, (one.end, number, one))
    pairs = sorted(meeting, key=lambda pair: (place[pair[0]], place[pair[1]]))
    return [_overlap(ranges[a], ranges[b]) for a, b in pairs if not are_versions(facts[a], facts[b])]


def _overlap(one: Sequence[CodeRange], two: Sequence[CodeRange]) -> Overlap:
    """All that two songs share, named by its first and last number."""
    shared = [
        (max(a.first, b.first), min(a.end, b.end), a)
        for a in one
        for b in two
        if max(a.first, b.first) < min(a.end, b.end)
    ]
    start, _, of = shared[0]
    return Overlap(
        songs=(one[0].song, two[0].song),
        start=start,
        end=shared[-1][1],
        rate=of.rate,
        frames=sum(end - first for first, end, _ in shared) // of.frame,
    )


def nearest_of_all(show: ShowEvidence) -> Nearest | None:
    """The two songs that share most, else lie nearest, whichever follows the other; None with fewer than two
    that can be compared. Midnight is no border."""
    ordered = _sorted(ranges_by_song(show))
    facts = _facts(show)
    found: Nearest | None = None
    before: list[tuple[int, int, CodeRange]] = []  # all that begin no later, by their ends
    for number, one in enumerate([*ordered, *map(_a_day_later, ordered)]):
        last = next(
            (
                other
                for _, _, other in reversed(before)
                if other.song != one.song and not are_versions(facts[other.song], facts[one.song])
            ),
            None,
        )
        if last is not None:
            near = _apart(last, one)
            found = near if found is None or near.gap_s < found.gap_s else found
        if number < len(ordered):
            insort(before, (one.end, number, one))
    return found


def nearest_of(show: ShowEvidence, pairs: Sequence[tuple[str, str]]) -> Nearest | None:
    """The same of these pairs of songs alone."""
    ranges, facts = ranges_by_song(show), _facts(show)
    found: Nearest | None = None
    for one, two in pairs:
        if one == two or one not in ranges or two not in ranges or are_versions(facts[one], facts[two]):
            continue
        both = _sorted({one: ranges[one], two: ranges[two]})
        for first, second in zip(both, [*both[1:], _a_day_later(both[0])], strict=True):
            if first.song != second.song:
                near = _apart(first, second)
                found = near if found is None or near.gap_s < found.gap_s else found
    return found


def _sorted(ranges: Mapping[str, Sequence[CodeRange]]) -> list[CodeRange]:
    return sorted((each for some in ranges.values() for each in some), key=lambda each: each.first)


def _a_day_later(one: CodeRange) -> CodeRange:
    return replace(one, first=one.first + DAY, end=one.end + DAY)


def _apart(one: CodeRange, two: CodeRange) -> Nearest:
    """`one` begins no later than `two`."""
    gap = two.first - one.end
    return Nearest(
        songs=(one.song, two.song),
        gap_s=(gap if gap >= 0 else two.first - min(one.end, two.end)) / TICKS,
        ends=_text(one.end - one.frame, one.rate),
        begins=_text(two.first, two.rate),
    )


def _facts(show: ShowEvidence) -> dict[str, Song]:
    return {song.name: song.song for song in show.songs}
