"""What the settings ask of a song: its own entry goes before what holds for the whole show."""

from __future__ import annotations

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.timecode import FrameRate


def required_roles(song: SongEvidence, show: ShowEvidence) -> tuple[Role, ...]:
    """The roles that the song must have, in the order of all roles; empty without settings."""
    asked = {*show.settings.required_roles, *song.settings.required_roles}
    return tuple(role for role in Role if role in asked)


def frame_rate(song: SongEvidence, show: ShowEvidence) -> FrameRate | None:
    return song.settings.frame_rate or show.settings.frame_rate


def count_in_beats(song: SongEvidence, show: ShowEvidence) -> int | None:
    own = song.settings.count_in_beats
    return show.settings.count_in_beats if own is None else own


def preroll_s(song: SongEvidence, show: ShowEvidence) -> float | None:
    own = song.settings.preroll_s
    return show.settings.preroll_s if own is None else own


def loudness_lufs(song: SongEvidence, show: ShowEvidence) -> float | None:
    own = song.settings.loudness_lufs
    return show.settings.loudness_lufs if own is None else own


def beat_1_s(song: SongEvidence) -> float | None:
    """Where bar 1 begins, after the count-in, in seconds; None without a click or music to tell by."""
    click = song.click
    if click is None or click.count_in_beats is None or click.count_in_beats >= len(click.beats_s):
        return None
    return click.beats_s[click.count_in_beats]
