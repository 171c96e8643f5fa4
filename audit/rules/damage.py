"""Rules on damage inside the sound: holes, blocks that play twice."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import ClickTrack, Damage, Hole, Repeat, SpliceClick
from audit.rules.bars import USUAL_BEAT_S, beat_s, beats_a_bar, beats_at, behind_a_quarter_s
from audit.rules.bleed import click_bleed, leaks_told, timecode_bleed
from audit.rules.parts import CLICK_AND_TIMECODE, TIMECODE, seconds_at, sounding_parts, where_in
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import clock

SHOWN = 3
"""Places told by name beside the first; the others are counted."""

Place = Hole | Repeat | SpliceClick
_NOTHING = Damage()


def _damage(part: PartEvidence) -> Damage:
    return part.measures.damage or _NOTHING


def _rate(stem: StemEvidence) -> int:
    return stem.format.sample_rate_hz if stem.format else 0


def on_channels(stem: StemEvidence, part: PartEvidence, channels: Sequence[int]) -> str:
    """` on channel 2 only` where it is not on all of the part's channels; else the part, if several."""
    if len(channels) == len(part.measures.channels):
        return where_in(stem, part)
    return f" on channel {'+'.join(str(channel + 1) for channel in channels)} only"


def _in_all(long_enough: Sequence[Place], listed: Sequence[Place], count: int) -> int:
    """How many are long enough, of all that were counted. The longest are listed: where one of those is too
    short, so are all others.
    """
    return count if len(long_enough) == len(listed) else len(long_enough)


def more_places(stem: StemEvidence, places: Sequence[Place], count: int) -> str:
    """`, and 4 more, at 0:12.500, 0:13.250 …`; nothing where there is one place."""
    if count < 2:
        return ""
    shown = [clock(seconds_at(stem, place.at_frame) or 0.0) for place in places[1 : 1 + SHOWN]]
    return f", and {count - 1} more, at {', '.join(shown)}{' …' if count - 1 > len(shown) else ''}"


@rule(
    id="dropout",
    family="damage",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=2.0,
        unit="ms",
        more={
            "rest_ms": 60.0,
            "word_ms": 10.0,
            "under_lu": 20.0,
            "ahead_ms": 2.0,
            "back_ms": 6.0,
            "behind_ms": 6.0,
            "ends_ms": 12.0,
            "recurs_ms": 2.0,
            "exactly_ms": 0.5,
            "unequal": 0.8,
        },
    ),
    message="drops out{on} at {place}: {value:.1f} ms of {what} in the middle of sound at {level:.0f} dBFS "
    "(limit {limit:g} ms){more}",
    cure="Bounce this stem again, offline if it can be done, with a larger buffer if not; listen to it at "
    "{place}.",
    cure_in_general="Bounce this stem again, offline if it can be done, with a larger buffer if not; "
    "listen to the place.",
    again="without the hole at {place}",
    means="The sound stops dead for {limit:g} ms or longer and goes on as if nothing had happened: a buffer "
    "that was not delivered in time.",
    on_stage="A tick or a stumble in every show, at the same place.",
    measured="Runs of silence, or of one held value, from {limit:g} ms to 1 s, that start and end within a "
    "millisecond, where linear prediction says the sound would have gone on. Rests, gates and chopped "
    "sounds are damped at an edge, begin with an attack, or are many: more than a few in two seconds, or at"
    " even distances, are the sound of the stem. Of a guide, one over {word_ms:g} ms between sounds that "
    "are not alike is a rest, as any over {rest_ms:g} ms is; over these, one up to a beat of a click, or in "
    "sound more than {under_lu:g} dB below the stem's loudness, is"
    " a pause between two takes, and one that begins and ends at a quarter of a beat (up to {ahead_ms:g} ms"
    " ahead, {ends_ms:g} ms behind where it begins, {back_ms:g} ahead and {behind_ms:g} behind where it "
    "ends) is a rest between two struck sounds. What comes back with the beat, half beats from two others or "
    "whole bars from one (within {recurs_ms:g} ms), quarters of a beat from one of another length (within "
    "{exactly_ms:g} ms), is played so. Of several the longest is told with its place, then the others'. "
    "Timecode is not judged here.",
    source="Own measurement; linear prediction after Burg (from memory). The limit: own judgement; the "
    "smallest buffer usual on stage, 128 samples at 48 kHz, is 2.7 ms long.",
)
def dropout(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for stem in song.stems:
        yield from _dropouts(stem, song.click, limit)


def _dropouts(stem: StemEvidence, click: ClickTrack | None, limit: Limit) -> Iterator[Outcome]:
    parts = sounding_parts(stem, without=TIMECODE)
    if not parts:
        yield NotApplicable(reason="no sound in it but timecode")
    for part in parts:
        rate = _rate(stem)
        holes = [
            hole
            for hole in _damage(part).holes
            if 1000.0 * hole.frames >= limit.value * rate
            and not _is_pause(hole, part, rate, limit)
            and not _is_between_ticks(hole, part, rate, click, limit)
            and not _is_rest(hole, rate, click, limit)
        ]
        holes = _without_those_that_recur(holes, rate, click, limit)
        if not holes or not rate:
            continue
        longest = max(holes, key=lambda hole: hole.frames)
        holes = [longest, *(hole for hole in holes if hole is not longest)]
        count = _in_all(holes, _damage(part).holes, _damage(part).hole_count)
        yield Hit(
            stem=stem.name,
            value=1000.0 * longest.frames / rate,
            sample=longest.at_frame,
            at_s=seconds_at(stem, longest.at_frame),
            facts={
                "on": on_channels(stem, part, longest.channels),
                "place": clock(longest.at_frame / rate),
                "what": "silence" if longest.value == 0.0 else "one held value",
                "level": longest.level_dbfs,
                "holes": count,
                "more": more_places(stem, holes, count),
            },
        )


def _is_pause(hole: Hole, part: PartEvidence, rate_hz: int, limit: Limit) -> bool:
    """Whether it is long and lies between phrases: takes are joined hard in the room's noise or a
    breath, far below what is sung or played, and a guide is made of single words."""
    length_ms = 1000.0 * hole.frames / rate_hz if rate_hz else 0.0
    if part.role is Role.GUIDE and not hole.same_sound and length_ms > limit["word_ms"]:
        return True  # a "t" that is closed before it sounds, and clips laid one behind the other
    if length_ms <= limit["rest_ms"]:
        return False
    lufs = part.measures.loudness.integrated_lufs
    in_noise = lufs is not None and hole.level_dbfs < lufs - limit["under_lu"]
    return part.role is Role.GUIDE or in_noise


def _is_between_ticks(
    hole: Hole, part: PartEvidence, rate_hz: int, click: ClickTrack | None, limit: Limit
) -> bool:
    """Whether a click rests until its next beat: beeps are cut out of a tone, and a ramp has no two rests of
    one length. A beat that is missing is `click-gap`'s."""
    if part.role is not Role.CLICK or click is None or 1000.0 * hole.frames <= limit["rest_ms"] * rate_hz:
        return False
    _, end_s = _edges_s(hole, rate_hz)
    near = bisect_left(click.beats_s, end_s)
    return any(
        1000.0 * abs(beat - end_s) <= limit["behind_ms"]
        for beat in click.beats_s[max(0, near - 1) : near + 1]
    )


def _is_rest(hole: Hole, rate_hz: int, click: ClickTrack | None, limit: Limit) -> bool:
    """Whether it begins and ends with the beat: samplers cut a sound off with the note that ends it."""
    if click is None or not rate_hz or 1000.0 * hole.frames <= limit["rest_ms"] * rate_hz:
        return False
    begins, ends = (behind_a_quarter_s(edge_s, click) for edge_s in _edges_s(hole, rate_hz))
    # A sound that is let go ends a little after its beat, one that is struck begins on it; what an edit mutes
    # up to a beat is faded in again before it.
    return (
        begins is not None
        and ends is not None
        and -limit["ahead_ms"] <= 1000.0 * begins <= limit["ends_ms"]
        and -limit["back_ms"] <= 1000.0 * ends <= limit["behind_ms"]
    )


def _edges_s(hole: Hole, rate_hz: int) -> tuple[float, float]:
    return hole.at_frame / rate_hz, (hole.at_frame + hole.frames) / rate_hz


def _without_those_that_recur(
    holes: Sequence[Hole], rate_hz: int, click: ClickTrack | None, limit: Limit
) -> list[Hole]:
    """Those that do not come back with the beat: a sampler's cut-off notes do, late buffers do not. By chance
    one of four does so three times in a thousand, and two exactly so one in a hundred."""
    if click is None or not rate_hz:
        return list(holes)
    places = [beats_at(hole.at_frame / rate_hz, click) for hole in holes]
    near, exactly = (
        limit[name] / 1000.0 / (beat_s(click) or USUAL_BEAT_S) for name in ("recurs_ms", "exactly_ms")
    )
    bar = beats_a_bar(click)

    def apart(first: float, second: float, beats: float, within: float = near) -> bool:
        """Whether they are whole multiples of so many beats apart."""
        return abs((first - second) / beats - round((first - second) / beats)) * beats <= within

    kept = []
    for number, (hole, place) in enumerate(zip(holes, places, strict=True)):
        others = [
            (one, also.frames)
            for other, (one, also) in enumerate(zip(places, holes, strict=True))
            if other != number and one is not None
        ]
        recurs = place is not None and (
            sum(apart(place, one, 0.5) for one, _ in others) >= 2
            or any(apart(place, one, bar) for one, _ in others)
            or any(
                apart(place, one, 0.25, exactly)
                and min(frames, hole.frames) <= limit["unequal"] * max(frames, hole.frames)
                for one, frames in others
            )
        )
        if not recurs:
            kept.append(hole)
    return kept


@rule(
    id="repeated-block",
    family="damage",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    heeds=(timecode_bleed, click_bleed),
    limit=Limit(value=64, unit="samples", more={"grid_ms": 1.0, "leak_db": 6.0}),
    message="plays {value:.0f} samples ({length_ms:.1f} ms) {times}{on} at {place}, sample for sample (limit "
    "{limit:g}){more}",
    cure="Bounce this stem again, offline if it can be done; listen to it at {place}.",
    cure_in_general="Bounce this stem again, offline if it can be done; listen to the place.",
    again="without the repeated block at {place}",
    means="A block of {limit:g} to 4096 samples is played twice in a row, or again one block later: an audio "
    "buffer that was delivered twice.",
    on_stage="A stutter or a tick in every show, at the same place; and if the block was inserted, the stem "
    "runs late from there on.",
    measured="Exact equality of samples over {limit:g} samples or more, found by hash, for as long as the "
    "distance of the copies or two or three times it, with a seam where the copy begins or ends and none "
    "where the first one does. Periodic waves have no seam, samples triggered twice have one at both. "
    "From 128 samples on equality within dither, to the file's bits or to 16, counts too, where it begins "
    "and ends at once. Not told where it begins on a part of the click's beat (within {grid_ms:g} ms) and is "
    "as long as one, to the sample, and no multiple of 64: a stutter. Nor in a stem into which timecode or "
    "the click leaks, where it is no more than {leak_db:g} dB louder than the leak: their bits and ticks "
    "repeat. Copies that were mixed with other "
    "sound are not found.",
    source="Own measurement. Audio interfaces offer buffers of 64 to 4096 samples (common practice).",
)
def repeated_block(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    leaks = leaks_told(song, show, limit.of(timecode_bleed), limit.of(click_bleed))
    for stem in song.stems:
        yield from _repeated(stem, song.click, leaks.get(stem.name), limit)


def _repeated(
    stem: StemEvidence, click: ClickTrack | None, leak_dbfs: float | None, limit: Limit
) -> Iterator[Outcome]:
    parts = sounding_parts(stem, without=CLICK_AND_TIMECODE)
    if not parts:
        yield NotApplicable(reason="no sound in it but click or timecode, which repeat by design")
    for part in parts:
        rate = _rate(stem)
        found = [
            repeat
            for repeat in _damage(part).repeats
            if repeat.frames >= limit.value
            and not _is_stutter(repeat, rate, click, limit)
            and not _is_of_a_leak(repeat, part, rate, leak_dbfs, limit)
        ]
        if not found or not rate:
            continue
        first = found[0]
        count = _in_all(found, _damage(part).repeats, _damage(part).repeat_count)
        yield Hit(
            stem=stem.name,
            value=float(first.frames),
            sample=first.at_frame,
            at_s=seconds_at(stem, first.at_frame),
            facts={
                "on": on_channels(stem, part, first.channels),
                "place": clock(first.at_frame / rate),
                "length_ms": 1000.0 * first.frames / rate,
                "times": {1: "twice", 2: "three times", 3: "four times"}.get(first.times, "again"),
                "blocks": count,
                "more": more_places(stem, found, count),
            },
        )


def _is_of_a_leak(
    repeat: Repeat, part: PartEvidence, rate_hz: int, leak_dbfs: float | None, limit: Limit
) -> bool:
    """Whether what leaks into the stem is all that can be heard there."""
    if leak_dbfs is None or not rate_hz:
        return False
    envelope = part.measures.envelope
    begin_s = repeat.at_frame / rate_hz
    end_s = begin_s + repeat.frames / rate_hz
    peak_dbfs = envelope.peak_dbfs(begin_s, end_s) if envelope is not None else None
    return peak_dbfs is None or peak_dbfs <= leak_dbfs + limit["leak_db"]


STUTTERS = (6, 8, 12, 16, 24, 32)
"""Parts of a beat that sound is repeated by on purpose."""

BUFFER = 64
"""Interfaces' buffers are multiples of so many samples."""


def _is_stutter(repeat: Repeat, rate_hz: int, click: ClickTrack | None, limit: Limit) -> bool:
    """Whether it begins on a part of the click's beat and is as long as one, to the sample: an effect. Late
    buffers are of their interface's size, and come when they will."""
    if click is None or not rate_hz or repeat.frames % BUFFER == 0:
        return False
    place = beats_at(repeat.at_frame / rate_hz, click)
    beat = beat_s(click)
    if place is None or beat is None:
        return False
    near = limit["grid_ms"] / 1000.0 / beat
    return any(
        abs(repeat.frames - beat * rate_hz / parts) <= 1.0
        and abs(place * parts - round(place * parts)) / parts <= near
        for parts in STUTTERS
    )


RULES = (dropout, repeated_block)
