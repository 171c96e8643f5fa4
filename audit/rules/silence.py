"""Rules on sound that is not there: a silent stem, a silent side of a pair."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from audit.evidence import PartEvidence, ShowEvidence, SilenceBounds, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.asked import required_roles
from audit.rules.parts import CLICK_AND_TIMECODE, listed, sounding_pairs, where_in
from audit.rules.rule import MINUS, Hit, Limit, NotApplicable, Outcome, rule
from audit.units import count

_Idle = tuple[StemEvidence, PartEvidence]

_USUAL = SilenceBounds()


@rule(
    id="silent-stem",
    family="level",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=_USUAL.peak_dbfs, unit="dBFS", more={"loudness_lufs": _USUAL.loudness_lufs}),
    message="nothing in it{where}: {level}, limit {limit:g} dBFS",
    cure="Bounce it again and look at the meter while it runs: a mute, a solo on another track or a wrong "
    "output prints silence. If it is unused in this song, take the file out.",
    again="with its sound in it: not muted",
    means="The stem holds no sound: its highest sample is below {limit:g} dBFS and its loudness below "
    "{loudness_lufs:.0f} LUFS.",
    on_stage="The part simply does not come. Without click the band is lost, without timecode lights and "
    "video stand still.",
    measured="Highest sample and integrated loudness of each part. An error for click and timecode. Any "
    "other part: a warning where it is the only silent one of the show, where more than half of a song's "
    "stems are silent and no other song has one (a solo left on), or where nothing that the audience hears "
    "sounds in the song; else the show prints its unused stems, and one note a song lists them. A song "
    "without any stem for the audience is normal. All other rules about level and content pass silent parts "
    "over.",
    source="ITU-R BS.1770-5 (the absolute gate of −70 LUFS); −80 dBFS: own judgement, above dither and "
    "converter noise and below anything that is heard.",
)
def silent_stem(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    idle: list[_Idle] = []
    for stem, part in _silent_parts(song):
        if part.role in CLICK_AND_TIMECODE or part.role in required_roles(song, show):
            yield _silent(stem, part, _CREW_CURE)
        else:
            idle.append((stem, part))
    if any(stem.audio is not None and stem.audio.frames == 0 for stem in song.stems):
        yield NotApplicable(reason="a file of no length: see empty-file")
    if not idle:
        return
    elsewhere = sum(_unused(other) for other in show.songs if other.name != song.name)
    judged = sum(part.role not in CLICK_AND_TIMECODE for stem in song.stems for part in stem.parts)
    if _nothing_for_the_audience(song):
        yield _nobody_hears_it(idle)
    elif elsewhere == 0 and len(idle) == 1:
        yield _silent(*idle[0], cure=None, severity=Severity.WARNING)
    elif elsewhere == 0 and 2 * len(idle) > judged:
        yield _silent_together(idle, judged)
    else:
        yield _printed_unused(idle)


_CREW_CURE = (
    "Bounce the {role} again: look for a mute, a solo on another track, or a wrong output. Turn your ear mix "
    "down before you play the new file."
)


def by_silence_in_force(show: ShowEvidence, limit: Limit) -> ShowEvidence:
    """The show with silence judged by this limit of silent-stem, so that every rule means the same by it."""
    bounds = SilenceBounds(peak_dbfs=limit.value, loudness_lufs=limit["loudness_lufs"])
    if bounds == _USUAL:
        return show

    def judged(stem: StemEvidence) -> StemEvidence:
        return replace(stem, parts=tuple(replace(part, silence=bounds) for part in stem.parts))

    songs = (replace(song, stems=tuple(map(judged, song.stems))) for song in show.songs)
    return replace(show, songs=tuple(songs))


def _nothing_for_the_audience(song: SongEvidence) -> bool:
    """Whether the song has parts for the audience and none of those that could be read sounds."""
    heard = [part for stem in song.stems for part in stem.parts if part.audience]
    return bool(heard) and all(part.silent for part in heard)


def _silent_parts(song: SongEvidence) -> list[_Idle]:
    return [
        (stem, part)
        for stem in song.stems
        if stem.audio is not None and stem.audio.frames > 0
        for part in stem.parts
        if part.silent
    ]


def _unused(song: SongEvidence) -> int:
    """How many of its silent parts are neither click nor timecode."""
    return sum(part.role not in CLICK_AND_TIMECODE for _, part in _silent_parts(song))


def _silent(
    stem: StemEvidence, part: PartEvidence, cure: str | None, severity: Severity | None = None
) -> Hit:
    level_dbfs = part.measures.peaks.sample_dbfs
    return Hit(
        stem=stem.name,
        value=_finite(level_dbfs),
        severity=severity,
        cure=cure,
        facts={"where": where_in(stem, part), "role": part.role.value, "level": _level_words(level_dbfs)},
    )


def _names(idle: list[_Idle]) -> tuple[str, ...]:
    return tuple(stem.name + where_in(stem, part) for stem, part in idle)


def _silent_together(idle: list[_Idle], judged: int) -> Hit:
    return Hit(
        severity=Severity.WARNING,
        message="{silent:d} of {judged:d} stems hold no sound, and no other song has a silent one: {names}",
        cure="Look for a solo or a group mute that was left on, bounce the song again, and watch the meters.",
        facts={"silent": len(idle), "judged": judged, "stems": _names(idle), "names": listed(_names(idle))},
    )


def _nobody_hears_it(idle: list[_Idle]) -> Hit:
    """A song with stems for the audience is there to be heard, also in a show that prints unused stems."""
    return Hit(
        stem=idle[0][0].name if len(idle) == 1 else None,
        severity=Severity.WARNING,
        message="nothing for the audience sounds in this song: {names} without sound",
        cure="Look for a mute, a solo or a wrong output and bounce the song again. If it has no playback for "
        "the audience, take the silent {stems_word} out.",
        facts={
            "stems_word": "stem" if len(idle) == 1 else "stems",
            "stems": _names(idle),
            "names": listed(_names(idle)),
        },
    )


def _printed_unused(idle: list[_Idle]) -> Hit:
    return Hit(
        severity=Severity.NOTE,
        message="{stems_text} without sound, unused as it seems: {names}",
        cure="Take them out if nobody needs them: each costs a voice and a fader that does nothing.",
        facts={"stems_text": count(len(idle), "stem"), "stems": _names(idle), "names": listed(_names(idle))},
    )


@rule(
    id="silent-channel",
    family="level",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    limit=Limit(value=-80.0, unit="dBFS"),
    message="the {side} side{where} is silent ({level}, limit {limit:g} dBFS); the other peaks at "
    "{other_dbfs:.1f} dBFS",
    cure="Bounce it again and check its pan and the routing of the {side} side. If it is meant to be "
    "mono, bounce it as a mono file.",
    cure_in_general="Bounce it again and check its pan and the routing of the silent side. If it is meant "
    "to be mono, bounce it as a mono file.",
    again="with its {side} side sounding",
    means="One side of a stereo file stays below {limit:g} dBFS while the other sounds.",
    on_stage="Half of the PA, or one ear, hears nothing of it.",
    measured="Highest sample of each side of a pair. Not told where the same side is silent in at least "
    "half of the other songs' pairs of that role, nor where a second stem of that role in the same song "
    "sounds on the other side only: a pair panned hard. Channels with roles of their own (click left, "
    "timecode right) are no pair.",
    source="Own judgement: −80 dBFS lies above dither and converter noise and below anything that is heard.",
)
def silent_channel(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for stem in song.stems:
        pairs = sounding_pairs(stem)
        if not pairs:
            yield NotApplicable(reason="no stereo pair with sound in it")
        for part in pairs:
            side = _silent_side(part, limit)
            if side is None:
                continue
            if _panned_hard(song, part, side, limit) or _usual(song, show, part, side, limit):
                yield NotApplicable(
                    reason="one-sided on purpose: so is its partner, or the role in other songs"
                )
                continue
            levels = part.measures.peaks.channel_dbfs
            yield Hit(
                stem=stem.name,
                value=_finite(levels[side]),
                facts={
                    "where": where_in(stem, part),
                    "side": ("left", "right")[side],
                    "level": _level_words(levels[side]),
                    "other_dbfs": levels[1 - side],
                },
            )


def _silent_side(part: PartEvidence, limit: Limit) -> int | None:
    """0 for the left, 1 for the right; None where both sound, or neither."""
    silent = [level_dbfs < limit.value for level_dbfs in part.measures.peaks.channel_dbfs]
    return silent.index(True) if sum(silent) == 1 else None


def _pairs_of(song: SongEvidence, role: Role) -> list[PartEvidence]:
    return [part for stem in song.stems for part in sounding_pairs(stem) if part.role is role]


def _panned_hard(song: SongEvidence, part: PartEvidence, side: int, limit: Limit) -> bool:
    return any(_silent_side(other, limit) == 1 - side for other in _pairs_of(song, part.role))


def _usual(song: SongEvidence, show: ShowEvidence, part: PartEvidence, side: int, limit: Limit) -> bool:
    others = [
        _silent_side(other, limit)
        for other_song in show.songs
        if other_song.name != song.name
        for other in _pairs_of(other_song, part.role)
    ]
    return bool(others) and 2 * others.count(side) >= len(others)


def _finite(level_db: float) -> float | None:
    """JSON knows no infinity: the level of digital silence does not exist."""
    return level_db if level_db > float("-inf") else None


def _level_words(level_dbfs: float) -> str:
    return (
        "digital silence"
        if _finite(level_dbfs) is None
        else f"highest sample {level_dbfs:.1f} dBFS".replace("-", MINUS)
    )


RULES = (silent_stem, silent_channel)
