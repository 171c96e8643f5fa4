"""Whether a song's timecode begins, and runs at bar 1, where the settings say."""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.results import TimecodeTrack
from audit.rules.asked import beat_1_s
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.timecode import NO_TIMECODE, readable
from audit.rules.timecode_words import stretch_words
from audit.timecode import Label, frames_per_day, index_of, label_at
from audit.units import clock, count

_AT_BAR_1 = (
    "at bar 1 ({place}) the timecode says {found}, the settings say {asked}: {stretch} {side}, "
    "limit {limit:g} frame"
)


@rule(
    id="timecode-start",
    family="timecode",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=1.0, unit="frames"),
    message="the timecode starts at {found}, the settings say {asked}: {stretch} {side}, "
    "limit {limit:g} frame",
    cure="Write the timecode anew so that it starts where the settings say, or put the right number into the "
    "settings; check that lights and video were programmed to that number.",
    again="with {asked} where the settings ask for it",
    means="The first number of the song's timecode, or the number at bar 1, is {limit:g} frame or more away "
    "from what the settings say.",
    on_stage="Every cue of lights and video fires early or late by that much, or those of another song fire.",
    measured="The first frame that can be read; and the number that runs when the click's first beat after "
    "the count-in sounds, counted on from the first frame at the code's own rate. Both against the song's "
    "entry in the settings.",
    source="IEC 60461:2010 (SMPTE ST 12-1), 4 to 6 (counting). Which number a song has: the settings.",
)
def timecode_start(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    start, at_beat_1 = song.settings.timecode_start, song.settings.timecode_at_beat_1
    if start is None and at_beat_1 is None:
        yield NotApplicable(reason="the settings name no timecode for the song")
        return
    found = readable(song)
    if not found:
        yield NotApplicable(reason=NO_TIMECODE)
        return
    stem, _, track = found[0]
    if start is not None:
        hit = _compared(stem.name, track, start, float(_index(track.first, track)), limit, track.start_s)
        if hit is not None:
            yield hit
    if at_beat_1 is not None:
        beat_s = beat_1_s(song)
        if beat_s is None:
            yield NotApplicable(reason="no click tells where bar 1 is")
            return
        running = _index(track.first, track) + (beat_s - track.start_s) * float(track.rate.frames_per_s)
        hit = _compared(stem.name, track, at_beat_1, running, limit, beat_s, message=_AT_BAR_1)
        if hit is not None:
            yield hit


def _index(label: Label, track: TimecodeTrack) -> int:
    """Frames after midnight; a number that the rate does not count lies where it would."""
    try:
        return index_of(label, track.rate)
    except ValueError:
        seconds = 3600 * label.hours + 60 * label.minutes + label.seconds
        return round(seconds * track.rate.frames_per_s) + label.frames


def _compared(
    stem: str,
    track: TimecodeTrack,
    asked: Label,
    found: float,
    limit: Limit,
    at_s: float,
    message: str | None = None,
) -> Hit | None:
    """found: frames after midnight. The shorter way round midnight counts."""
    day = frames_per_day(track.rate)
    by = (found - _index(asked, track) + day / 2) % day - day / 2
    if abs(by) < limit.value:
        return None
    return Hit(
        stem=stem,
        value=by,
        at_s=at_s,
        message=message,
        facts={
            "found": label_at(int(found // 1), track.rate).text(track.rate),
            "asked": asked.text(track.rate),
            "by": count(round(abs(by)), "frame"),
            "stretch": stretch_words(abs(by), track.rate),
            "side": "later" if by > 0 else "earlier",
            "place": clock(at_s),
        },
    )


RULES = (timecode_start,)
