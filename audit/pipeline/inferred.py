"""What a scan tells of how a show is meant, for its settings. What a fault was found in is not sure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from statistics import median

from audit.evidence import SongEvidence
from audit.facts import CREW_ROLES, Role
from audit.findings import Severity, ShowAudit, SongAudit
from audit.results import ClickTrack
from audit.rules.roster import song_roles
from audit.rules.timecode_show import usual_frame_rate
from audit.settings.patterns import plain
from audit.settings.write import Inferred, Line

ENOUGH_SONGS = 3
"""In fewer songs, what all of them have is no rule of the show."""

NEAR_BPM = 0.01
"""A tempo this near to a whole or half one is that one: clicks are set by people. Own judgement; the rule
that compares allows 0.1 %: at 100 ten times as much."""

CLICK_FAULTS = frozenset({"click-missing", "click-gap", "click-extra"})
TIMECODE_FAULTS = frozenset({"timecode-unreadable", "timecode-jump", "timecode-rate", "timecode-flag"})
"""What makes unsure what a click or timecode says."""


def inferred(audit: ShowAudit) -> Inferred:
    """The settings that say what the show is like now."""
    songs = [song for song in audit.songs if song.evidence.stems]
    called = _called([song.evidence for song in songs])
    roles = {role for song in songs for role in song_roles(song.evidence)}
    return Inferred(
        name=audit.evidence.show.name,
        version=audit.version,
        show=tuple(_of_show(audit, songs)),
        songs=tuple(
            tuple(_of_song(song, name)) for song, name in zip(songs, called, strict=True) if name is not None
        ),
        guesses=_guessed([song.evidence for song in songs]),
        roles=tuple(role.value for role in Role if role in roles - CREW_ROLES),
        crew=tuple(role.value for role in Role if role in roles & CREW_ROLES),
        order=tuple(name for name in called if name is not None),
    )


def _guessed(songs: Sequence[SongEvidence]) -> tuple[str, ...]:
    """File names of stems that are only guessed to be heard by the audience, each once. Without the folder: a
    version's, as in "v2/Lead 1.wav", is another one after the next bounce."""
    names = dict.fromkeys(
        stem.name.rpartition("/")[2]
        for song in songs
        for stem in song.stems
        if any(part.role_is_guess and part.audience for part in stem.parts)
    )
    return tuple(filter(_is_text, names))


def _called(songs: Sequence[SongEvidence]) -> list[str | None]:
    """Each song's title, or its whole name where two share the title. None: no text file can name it, or
    another song has the same name but for letter case or what stands between the words."""
    titles = [song.song.title or song.name for song in songs]
    of_titles, of_names = Counter(map(plain, titles)), Counter(plain(song.name) for song in songs)
    found: list[str | None] = []
    for song, title in zip(songs, titles, strict=True):
        unique = of_titles[plain(title)] == 1
        name = title if unique else song.name
        found.append(name if _is_text(name) and (unique or of_names[plain(name)] == 1) else None)
    return found


def _is_text(name: str) -> bool:
    """Whether a name can stand in a text file: bytes that are no text cannot."""
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _of_show(audit: ShowAudit, songs: Sequence[SongAudit]) -> Iterator[Line]:
    if _is_text(audit.evidence.show.name):
        yield Line(key="name", value=audit.evidence.show.name)
    if audit.sample_rate_hz:
        yield Line(key="sample_rate_hz", value=audit.sample_rate_hz)
    if audit.bits in (16, 24, 32):
        # A click that is so in all songs is a note, unless somebody says what every stem must be.
        habit = any(finding.rule == "bit-depth-mismatch" for finding in audit.show_findings)
        note = "not sure: bit-depth-mismatch" if habit else ""
        yield Line(key="bits", value=audit.bits, sure=not habit, note=note)
    rate = usual_frame_rate(audit.evidence)
    if rate is not None:
        yield Line(key="frame_rate", value=rate)
    everywhere = [
        role.value
        for role in Role
        if role in CREW_ROLES and songs and all(role in song_roles(song.evidence) for song in songs)
    ]
    if everywhere:
        yield Line(key="required_roles", value=everywhere, sure=len(songs) >= ENOUGH_SONGS)
    levels = [level for song in songs if (level := _lufs(song.evidence)) is not None]
    if levels:
        yield Line(
            key="loudness_lufs",
            value=round(median(levels), 1),
            sure=False,
            note="The songs' median. How loud a song's mix should be.",
        )


def _lufs(song: SongEvidence) -> float | None:
    return song.mix.loudness.integrated_lufs if song.mix else None


def _of_song(song: SongAudit, name: str) -> Iterator[Line]:
    evidence = song.evidence
    yield Line(key="name", value=name)
    if evidence.song.version and len(evidence.song.version_folders) == 1:
        version = evidence.song.version.rpartition("/")[2]
        if _is_text(version):
            doubt = _doubt(song, frozenset({"mixed-versions"}))
            yield Line(key="version", value=version, sure=not doubt, note=doubt)
    doubt = _doubt(song, CLICK_FAULTS)
    click = evidence.click
    if click is not None:
        bpm = _bpm(click)
        if bpm is not None:
            yield Line(key="bpm", value=bpm, sure=not doubt, note=doubt)
        if click.metre is not None:
            yield Line(key="metre", value=click.metre, sure=not doubt, note=doubt)
        if click.count_in_beats:
            doubt = doubt or _doubt(song, frozenset({"click-count-in"}), notes=True)
            yield Line(key="count_in_beats", value=click.count_in_beats, sure=not doubt, note=doubt)
    track = evidence.timecode
    if track is not None and not track.backward:
        doubt = _doubt(song, TIMECODE_FAULTS)
        value = track.first.text(track.rate)
        yield Line(key="timecode_start", value=value, sure=not doubt, note=doubt)


def _doubt(song: SongAudit, faults: frozenset[str], *, notes: bool = False) -> str:
    """The fault that makes it unsure; empty without one. notes: a note is enough."""
    found = next(
        (f for f in song.findings if f.rule in faults and (notes or f.severity is not Severity.NOTE)), None
    )
    return f"not sure: {found.rule}" if found is not None else ""


def _bpm(click: ClickTrack) -> float | None:
    """The tempo as somebody typed it; None for a click that ramps all the way."""
    if click.bpm is None or not any(run.steady for run in click.runs):
        return None
    near = round(2 * click.bpm) / 2
    return near if abs(near - click.bpm) <= NEAR_BPM else round(click.bpm, 3)
