"""A song's timecode beside its music, its clock, and the timecode of the other songs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.asked import frame_rate, preroll_s
from audit.rules.endings import codes_cut_short
from audit.rules.length import length_mismatch
from audit.rules.once import once_a_show
from audit.rules.parts import listed, seconds_at, sounding_parts
from audit.rules.rule import NO_LIMIT, Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.timecode import NO_TIMECODE, readable, timecode_flag
from audit.rules.timecode_ranges import Overlap, overlaps, ranges_by_song
from audit.rules.timecode_words import stretch_words
from audit.rules.wrong_rate import at_wrong_rate, wrong_rate_header
from audit.units import clock, count


@once_a_show
def usual_frame_rate(show: ShowEvidence) -> str | None:
    """The rate that more songs have than any other, in words; None for a tie, or no timecode."""
    rates = Counter(track.rate.text for song in show.songs if (track := song.timecode) is not None)
    ranked = rates.most_common(2)
    tie = len(ranked) == 2 and ranked[0][1] == ranked[1][1]
    return None if tie or not ranked else ranked[0][0]


def _camps(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    """Two rates with as many songs each: said once."""
    by_rate: dict[str, list[str]] = {}
    for song in show.songs:
        if song.timecode:
            by_rate.setdefault(song.timecode.rate.text, []).append(song.name)
    if not by_rate or show.settings.frame_rate or usual_frame_rate(show) is not None:
        return
    ranked = sorted(by_rate.items(), key=lambda camp: (-len(camp[1]), camp[0]))
    yield Hit(
        songs=tuple(name for _, names in ranked for name in names),
        message="the show has no common frame rate: {camps}",
        facts={
            "camps": "; ".join(f"{rate} in {listed(names)}" for rate, names in ranked),
            "rates": tuple(rate for rate, _ in ranked),
        },
    )


@rule(
    id="timecode-rate",
    family="timecode",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=100.0, unit="ppm", more={"frames": 25}),
    message="the clock is {value:+.0f} ppm off: {fps:.4f} frames a second instead of {rate}, limit "
    "{limit:g} ppm",
    cure="Write the timecode anew at the show's frame rate and sample rate, generator and recorder on one "
    "clock.",
    again="at the show's frame rate, generator and recorder on one clock",
    means="The timecode has not the frame rate of the settings, else that of most songs of the show; or its "
    "clock is off by more than {limit:g} ppm.",
    on_stage="Machines set to the show's rate misread it or do not follow; with a clock that is off, cues "
    "slide against the music (100 ppm: 24 ms in four minutes).",
    measured="How many numbers a second has tells the rate, with the measured speed between rates of one "
    "count; a song of less than a second by its speed alone. The clock: least squares of every frame's first "
    "edge, by the file's sample rate, from {frames:g} frames on. Code that is counted otherwise (drop-frame "
    "or not), but at the show's speed, is left to timecode-flag where that tells it.",
    source="IEC 60461:2010 (SMPTE ST 12-1), 8.4: a free-running source keeps ±100 ppm. The show's rate is "
    "that of most songs.",
    over_show=_camps,
)
def timecode_rate(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not song.timecode_parts:
        yield NotApplicable(reason=NO_TIMECODE)
    asked = frame_rate(song, show)
    usual = asked.text if asked else usual_frame_rate(show)
    flags = {said.stem for said in timecode_flag.check(song, show, NO_LIMIT) if isinstance(said, Hit)}
    for stem, _, track in readable(song):
        told = stem.name in flags and _speed(track.rate.text) == _speed(usual or "")
        if usual is not None and track.rate.text != usual and not told:
            yield Hit(
                stem=stem.name,
                message="{rate} frames a second, the settings say {usual}"
                if asked
                else "{rate} frames a second, the show runs at {usual}",
                facts={"rate": track.rate.text, "usual": usual, "fps": track.frames_per_s},
            )
        if track.frames < limit["frames"] or abs(track.off_ppm) <= limit.value:
            continue
        speed = track.frames_per_s / float(track.rate.frames_per_s)
        yield Hit(
            stem=stem.name,
            value=track.off_ppm,
            message=None if abs(speed - 1.0) < 0.01 else _SPEED,
            cure=None if abs(speed - 1.0) < 0.01 else _SPEED_CURE,
            facts={"fps": track.frames_per_s, "rate": track.rate.text, "speed": speed},
        )


def _speed(rate: str) -> str:
    """`29.97` of a rate in words, `29.97 NDF`: how it is counted apart, which timecode-flag tells too."""
    return rate.partition(" ")[0]


_SPEED = "it runs at {speed:.4f} times its speed: {fps:.3f} frames a second instead of {rate}"
_SPEED_CURE = (
    "Look whether the file says its right sample rate (1.0884 and 0.9188 are 44.1 and 48 kHz taken for each "
    "other) and whether it was stretched with the music; then write the timecode anew."
)


def _groups(found: Sequence[Overlap]) -> list[list[Overlap]]:
    """Overlaps that hang together by a song they share."""
    first_of: dict[str, str] = {}

    def root(song: str) -> str:
        first_of.setdefault(song, song)
        while first_of[song] != song:
            first_of[song] = first_of[first_of[song]]
            song = first_of[song]
        return song

    for overlap in found:
        one, two = map(root, overlap.songs)
        first_of[two] = one
    groups: dict[str, list[Overlap]] = {}
    for overlap in found:
        groups.setdefault(root(overlap.songs[0]), []).append(overlap)
    return list(groups.values())


MOST_PAIRS = 500
"""Pairs of one group that the JSON report names, the worst first: a thousand songs in one hour have half a
million."""


@rule(
    id="timecode-overlap",
    family="timecode",
    severity=Severity.ERROR,
    scope="show",
    needs=("audio",),
    limit=Limit(value=0.0, unit="frames"),
    message="{songs_listed} both have the numbers {first} to {last}: {stretch}, limit {limit:g}",
    cure="Give each song its own stretch, an hour each for instance, and write the timecode of all but one "
    "anew.",
    again="on numbers that no other song has",
    means="The timecode of two songs covers the same numbers.",
    on_stage="Machines cannot tell the songs apart: one song fires the cues of the other.",
    measured="The numbers from first to last frame of every uninterrupted run, every song against every "
    "other; past midnight they go on at zero. Sharing an hour is no fault. Versions of one song (their "
    "folders differ by a version mark) are not compared.",
    source="IEC 60461:2010 (SMPTE ST 12-1), 4 to 6 (numbers). That songs have their own: common practice.",
)
def timecode_overlap(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if len(ranges_by_song(show)) < 2:
        yield NotApplicable(reason="fewer than two songs have timecode")
        return
    place = {song.name: number for number, song in enumerate(show.songs)}
    for group in _groups([found for found in overlaps(show) if found.frames > limit.value]):
        by_frames = sorted(group, key=lambda overlap: -overlap.frames)
        worst = by_frames[0]
        names = tuple(sorted({name for overlap in group for name in overlap.songs}, key=place.__getitem__))
        yield Hit(
            songs=names,
            value=float(worst.frames),
            message=None if len(names) == 2 else _MANY,
            facts={
                "songs_listed": " and ".join(worst.songs),
                "frames": count(worst.frames, "frame"),
                "stretch": stretch_words(worst.frames, worst.rate),
                "first": worst.first,
                "last": worst.last,
                "number": count(len(names), "song"),
                "pairs": tuple(overlap.songs for overlap in by_frames[:MOST_PAIRS]),
                "pair_count": len(group),
            },
        )


_MANY = (
    "the numbers of {number} overlap; most between {songs_listed}, which both have {first} to {last}: "
    "{stretch}, limit {limit:g}"
)


@rule(
    id="timecode-late",
    family="timecode",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    heeds=(length_mismatch, wrong_rate_header),
    limit=Limit(value=0.1, unit="s", more={"end_s": 1.0}),
    message="the timecode starts {value:.2f} s after {what} ({starts} against {begins}), limit {limit:g} s",
    cure="Write the timecode from the file's start to its end.",
    again="from the file's start to its end",
    means="The timecode starts more than {limit:g} s after the click's first beat (without a click: after "
    "the music's first sound), or runs for less before it than the settings ask (preroll_s), or stops more "
    "than {end_s:g} s before the music's last sound.",
    on_stage="Machines need a moment to lock, so the first cues come late or not at all; after the code's "
    "end they stop or run free.",
    measured="First frame's first edge and last frame's end, against the first beat of the click, count-in "
    "included, and the first and last sample above −70 dBFS of what the audience hears, or, of a stem that "
    "hisses from its first frame on, what rises from the hiss. Code that runs to the end of a file that is "
    "shorter than the music is length-mismatch's: the file was cut. Stems that play at the wrong speed "
    "(wrong-rate-header) end too late or too early and are not asked.",
    source="common practice; limits: own judgement",
)
def timecode_late(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    track = song.timecode
    if track is None:
        yield NotApplicable(reason=NO_TIMECODE)
        return
    stem = next(stem.name for stem, _, found in readable(song) if found is track)
    begin = _first_beat(song)
    end = _music(song, without=at_wrong_rate(song, limit.of(wrong_rate_header)))
    if begin is None and end is None:
        yield NotApplicable(reason="neither click nor music to compare the timecode with")
        return
    first_s, what = (begin, "the first click") if begin is not None else (end[0] if end else 0.0, "the music")
    if track.start_s - first_s > limit.value:
        yield Hit(
            stem=stem,
            value=track.start_s - first_s,
            at_s=track.start_s,
            facts={"what": what, "starts": clock(track.start_s), "begins": clock(first_s)},
        )
    asked_s = preroll_s(song, show)
    if asked_s is not None and begin is not None and limit.value >= track.start_s - begin > -asked_s:
        yield Hit(
            stem=stem,
            value=begin - track.start_s,
            at_s=track.start_s,
            limit=asked_s,
            message="the timecode runs for {value:.2f} s before {what}, the settings ask {limit:g} s",
            facts={"what": what},
        )
    cut = {ending.stem.name for ending, _ in codes_cut_short(song, limit.of(length_mismatch))}
    if end is not None and end[1] - track.end_s > limit["end_s"] and stem not in cut:
        yield Hit(
            stem=stem,
            value=end[1] - track.end_s,
            at_s=track.end_s,
            limit=limit["end_s"],
            message="the timecode stops {value:.1f} s before the music's last sound ({ends} against {last}), "
            "limit {limit:g} s",
            facts={"ends": clock(track.end_s), "last": clock(end[1])},
        )


def _first_beat(song: SongEvidence) -> float | None:
    """The click's first beat in seconds; where no beats were found, the first sound of a click stem."""
    if song.click is not None:
        return song.click.beats_s[0] if song.click.beats_s else song.click.first_beat_s
    return min((span[0] for span in _spans(song, of_click=True)), default=None)


def _music(song: SongEvidence, *, without: Collection[str]) -> tuple[float, float] | None:
    """First and last sound of what the audience hears, in seconds, but for those stems."""
    spans = list(_spans(song, of_click=False, without=without))
    return (min(span[0] for span in spans), max(span[1] for span in spans)) if spans else None


def _spans(
    song: SongEvidence, *, of_click: bool, without: Collection[str] = ()
) -> Iterator[tuple[float, float]]:
    """First and last sound of the click's parts, or of the audience's."""
    for stem in song.stems:
        if stem.name in without:
            continue
        for part in sounding_parts(stem):
            if part.role is Role.CLICK if of_click else part.audience:
                activity, envelope = part.measures.activity, part.measures.envelope
                first = seconds_at(stem, activity.first_played_frame)
                last = seconds_at(stem, activity.last_sound_frame)
                if first is None or last is None:
                    continue
                # Microphones hiss to the file's end.
                played = envelope.played_s(first, last) if envelope is not None else (first, last)
                if played is not None:
                    yield played


RULES = (timecode_rate, timecode_overlap, timecode_late)
