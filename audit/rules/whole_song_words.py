"""What is said of songs whose stems lie beside their click all alike."""

from __future__ import annotations

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.rules.bars import in_bars
from audit.rules.parts import listed
from audit.rules.rule import Hit
from audit.rules.whole_bar import BesideTheBar
from audit.rules.whole_song import AnotherTempo, BesideTheBeat
from audit.units import count

SAME_TEMPO = 2e-4
"""Two clicks whose tempi differ by less are of one tempo."""


def beat_hit(beside: BesideTheBeat) -> Hit:
    if beside.half:
        message = (
            "the stems strike between the click's beats ({listed}), as they do in no other song: the click "
            "is off by half a beat ({size_ms:.0f} ms), or all stems are"
        )
    else:
        message = (
            "{told_stems} ({listed}) play about {size_ms:.1f} ms {side} the click{past}, alike{but}{too}: "
            "the click is off, or all stems are"
        )
    return Hit(
        value=beside.off_ms,
        limit=beside.bound_ms,
        severity=Severity.WARNING if beside.sure else Severity.NOTE,
        message=message,
        cure="Listen to the music and the click together, {first} first: if it feels right, nothing is to be "
        "done. Else bounce the click again from bar 1 of the current version.",
        again="in time with the other stems",
        facts={
            "stems": len(beside.stems),
            "told_stems": _told_stems(beside),
            "size_ms": abs(beside.off_ms),
            "side": "after" if beside.off_ms > 0.0 else "ahead of",
            "past": ", past what their roles do in the other songs" if beside.habits else "",
            "listed": listed(beside.stems, 4),
            "first": beside.stems[0],
            "but": f"; {listed(beside.standing, 4)} on it as ever" if beside.standing else "",
            "standing": beside.standing,
            "too": f"; {beside.alike_in} lies so too" if beside.alike_in else "",
            "alike_in": beside.alike_in,
        },
    )


def _told_stems(beside: BesideTheBeat) -> str:
    stems = count(len(beside.stems), "stem")
    if not beside.all_stems:
        return stems
    return "both stems" if len(beside.stems) == 2 else f"all {stems}"


def bar_hit(beside: BesideTheBar, song: SongEvidence) -> Hit:
    return Hit(
        value=beside.beats,
        severity=Severity.WARNING,
        message="the music lies {span} {side} the click's bars: its chords turn on beat {place} of the bar "
        "({share:.0%}; {listed}), in {songs} on the first: the click's accents are off, or all stems are",
        cure="Listen to the click with {first}. If its accent does not fall on the first beat, bounce the "
        "click again from bar 1 of the current version; if the song begins with an upbeat, let its click "
        "count so; if the music means it, leave it.",
        again="with its accents on the first beat of the bar, from bar 1 of the current version",
        facts={
            "span": in_bars(abs(beside.beats), song.click),
            "side": "after" if beside.beats > 0.0 else "ahead of",
            "place": beside.place,
            "share": beside.share,
            "listed": listed(beside.stems, 4),
            "first": beside.stems[0],
            "songs": count(beside.songs, "other song"),
        },
    )


def tempo_hit(tempo: AnotherTempo, song: SongEvidence, show: ShowEvidence) -> Hit:
    bpm = song.click.bpm if song.click is not None and song.click.bpm is not None else 0.0
    ppm = (1.0 / tempo.ratio - 1.0) * 1e6
    return Hit(
        value=ppm,
        severity=Severity.WARNING,
        message="{stems} keep to {stems_bpm:.1f} beats a minute or a multiple of it ({listed}), and the "
        "click to {click_bpm:.1f}{like}: the click belongs to another song or version, or all stems do",
        cure="Listen to the click with {first}. Then bounce again what belongs to another version, the "
        "click or the stems, all from one session at one tempo.",
        again="at the tempo of the song's stems, from the session they come from",
        facts={
            "stems": count(len(tempo.stems), "stem"),
            "stems_bpm": bpm * tempo.ratio,
            "click_bpm": bpm,
            "listed": listed(tempo.stems, 4),
            "first": tempo.stems[0],
            "like": _like(bpm, song, show),
            "fit": tempo.fit,
            "on_click": tempo.on_click,
        },
    )


def _like(bpm: float, song: SongEvidence, show: ShowEvidence) -> str:
    """The other song that has a click of this tempo and as many beats."""
    beats = len(song.click.beats_s) if song.click is not None else 0
    for other in show.songs:
        click = other.click
        if other.name == song.name or click is None or click.bpm is None or not bpm:
            continue
        if abs(click.bpm / bpm - 1.0) <= SAME_TEMPO and len(click.beats_s) == beats:
            return f", as that of {other.name} does beat for beat"
    return ""
