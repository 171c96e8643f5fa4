"""Timecode to be written anew: who keeps numbers that songs share, and which hour each other one gets.

Two people who are told "a free number" pick the same: the list gives every song an hour of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

from audit.evidence import SongEvidence
from audit.findings import Finding, ShowAudit
from audit.report.words import visible
from audit.results import TimecodeTrack
from audit.rules.asked import frame_rate
from audit.rules.timecode_ranges import TICKS, ranges_by_song
from audit.rules.timecode_words import hour_words

OVERLAP = "timecode-overlap"
HOURS = (*range(1, 24), 0)
"""In the order in which they are given away: many machines take hour 0 for "no timecode"."""


def tracks(audit: ShowAudit) -> list[TimecodeTrack]:
    """The timecode of every song that has any."""
    return [track for song in audit.songs if (track := song.evidence.timecode) is not None]


class NewStarts:
    """Where new timecode should begin: an hour for each song that needs one, never the same twice."""

    def __init__(self, audit: ShowAudit) -> None:
        self._audit = audit
        self._songs = {song.evidence.name: song.evidence for song in audit.songs}
        order = audit.evidence.order
        in_order = dict.fromkeys([*(order.songs if order else ()), *self._songs])
        self._place = {name: number for number, name in enumerate(in_order)}
        self._free = [hour for hour in HOURS if hour not in self._taken()]
        self._given: dict[str, int | None] = {}

    def keeper(self, finding: Finding) -> str | None:
        """Of songs that share numbers, the one whose timecode stays: that has what the settings ask, else the
        first of the set list, else of the show."""
        here = [self._songs[name] for name in finding.songs if name in self._songs]
        return min(here, key=self._rank).name if finding.rule == OVERLAP and here else None

    def words(self, song: SongEvidence, findings: Sequence[Finding]) -> str:
        """`starting at 02:00:00:00`, and why where that is not the number it has."""
        asked, track = song.settings.timecode_start, song.timecode
        rate = frame_rate(song, self._audit.evidence) or next(
            (one.rate for one in [track, *tracks(self._audit)] if one), None
        )
        shared = next((finding for finding in findings if finding.rule == OVERLAP), None)
        has_it = track is not None and asked == track.first
        if asked is not None and rate is not None and not (shared and has_it):
            return f"starting at {asked.text(rate)}"
        if track is not None and shared is None:
            return f"starting at {track.first.text(track.rate)}"
        hour = self._hour(song.name)
        if hour is None:
            return "starting on a number that no other song has"
        other = "no other song of this scan" if self._audit.evidence.partial else "no other song"
        also = "; write it into the settings too" if has_it else ""
        why = f"{self._kept(shared)}{other} has that hour{also}"
        return f"starting at {hour_words(hour, rate)} ({why})"

    def _kept(self, shared: Finding | None) -> str:
        """`01 - Opener keeps 01:00:00:00, `."""
        song = self._songs.get((self.keeper(shared) or "") if shared else "")
        if song is None or song.timecode is None:
            return ""
        return f"{visible(song.name)} keeps {song.timecode.first.text(song.timecode.rate)}, "

    def _hour(self, song: str) -> int | None:
        if song not in self._given:
            self._given[song] = self._free.pop(0) if self._free else None
        return self._given[song]

    def _rank(self, song: SongEvidence) -> tuple[int, int]:
        asked, track = song.settings.timecode_start, song.timecode
        fits = 1 if asked is None else 0 if track is not None and track.first == asked else 2
        return fits, self._place[song.name]

    def _taken(self) -> set[int]:
        """Every hour in which a song's timecode runs, or should begin by the settings."""
        hour = 3600 * TICKS
        ran = {
            each
            for ranges in ranges_by_song(self._audit.evidence).values()
            for one in ranges
            for each in range(one.first // hour, (one.end - 1) // hour + 1)
        }
        asked = (song.settings.timecode_start for song in self._songs.values())
        return ran | {label.hours for label in asked if label is not None}
