"""Whose timing nobody can tell from the files: they are in no fault, and in no "clear" either.

untimed(audit) -> [(song, stem)]      timing_unknown(audit, most), without_click(audit, most) -> lines of the
report
"""

from __future__ import annotations

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import ShowAudit
from audit.report.words import listed
from audit.rules.own_tempo import tempo_of_its_own
from audit.units import count

CREW = frozenset({Role.CLICK, Role.GUIDE, Role.TIMECODE})
FEWEST_BEATS = 16


def untimed(audit: ShowAudit) -> list[tuple[str, str]]:
    """(song, stem) of music under a click that neither its strokes nor its chords place in time."""
    return [
        (song.evidence.name, stem.name)
        for song in audit.songs
        if _has_click(song.evidence)
        for stem in song.evidence.stems
        if _plays(stem) and not _placed(stem)
    ]


def timing_unknown(audit: ShowAudit, most: int | None) -> str:
    """most: names told; None: all. Empty where every stem's timing was judged."""
    found = untimed(audit)
    if not found:
        return ""
    songs: dict[str, list[str]] = {}
    for song, stem in found:
        songs.setdefault(stem, []).append(song)
    one_song = len(audit.songs) == 1
    names = [stem if one_song else f"{stem} ({_whose(whose)})" for stem, whose in songs.items()]
    whole = sum(
        _plays(stem) for song in audit.songs if _has_click(song.evidence) for stem in song.evidence.stems
    )
    if most is not None and len(names) > most:
        names = [*names[:most], f"{len(names) - most} more"]
    return (
        f"Not checked: the timing of {len(found)} of {count(whole, 'stem')} under a click, whose "
        f"strokes and chords do not tell it: {listed(names)}."
    )


def without_click(audit: ShowAudit, most: int | None) -> str:
    """Songs of which nothing is timed, as no click is in them while other songs have one; most: names told;
    None: all. Empty where there is none."""
    songs = [song.evidence for song in audit.songs]
    if not any(_has_click(song) for song in songs):
        return ""
    names = [
        song.name
        for song in songs
        if not _has_click(song)
        and not any(Role.CLICK in stem.roles for stem in song.stems)
        and any(_plays(stem) for stem in song.stems)
    ]
    if not names:
        return ""
    if most is not None and len(names) > most:
        names = [*names[:most], f"{len(names) - most} more"]
    return f"Not checked: whether the stems are in time, as there is no click: {listed(names)}."


def _whose(songs: list[str]) -> str:
    return songs[0] if len(songs) == 1 else count(len(songs), "song")


def _has_click(song: SongEvidence) -> bool:
    return song.click is not None and len(song.click.beats_s) >= FEWEST_BEATS


def _plays(stem: StemEvidence) -> bool:
    return bool(stem.parts) and not stem.silent and not CREW & set(stem.roles)


def _placed(stem: StemEvidence) -> bool:
    told = stem.alignment
    if tempo_of_its_own(stem) is not None:
        return True
    return told is not None and any(
        one is not None for one in (told.phase, told.drift, told.wrong_rate, told.beats, told.bar_turns)
    )
