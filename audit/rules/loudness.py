"""The crew's stems in the ears: click, guide and timecode at one level over the whole show."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median_high, median_low

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import CREW_ROLES, Role
from audit.findings import Severity
from audit.rules.once import once_a_show
from audit.rules.parts import sounding_parts, where_in
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.timecode import timecode_unreadable

CREW = tuple(role for role in Role if role in CREW_ROLES)


@dataclass(frozen=True, slots=True, kw_only=True)
class _CrewLevel:
    """How loud a crew role is in one song: the loudest of its stems."""

    song: str
    stem: StemEvidence
    part: PartEvidence
    level: float  # LUFS; dBFS for timecode


@dataclass(frozen=True, slots=True, kw_only=True)
class _Jump:
    """A song's level against the median of the other songs'."""

    of: _CrewLevel
    usual: float
    by_db: float


_EARS = (
    "Turn your ear mix down before you check it: a file's level says nothing of the sound pressure in the "
    "ear, which local rules and a qualified person decide."
)


def _speak_of_no_common_level(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for role in CREW:
        levels = _crew_levels(show, role, limit.of(timecode_unreadable))
        jumps = _jumps(show, role, limit)
        if not _no_common_level(levels, jumps):
            continue
        softest, loudest = (pick(levels, key=lambda entry: entry.level) for pick in (min, max))
        yield Hit(
            songs=tuple(jump.of.song for jump in jumps),
            value=loudest.level - softest.level,
            limit=_bound(role, limit),
            message="the {role} has no common level in this show: from {low:.1f} {unit} ({low_song}) to "
            "{high:.1f} {unit} ({high_song}), {value:.1f} dB apart (limit {limit:g} dB)",
            cure="Choose one level for the {role} and bring every song's to it; turn your ear mix down "
            "while you check them.",
            facts={
                "role": role.value,
                "low": softest.level,
                "low_song": softest.song,
                "high": loudest.level,
                "high_song": loudest.song,
                "unit": _unit(role),
            },
        )


@rule(
    id="crew-level-jump",
    family="level",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    heeds=(timecode_unreadable,),
    limit=Limit(value=6.0, unit="dB", more={"timecode_db": 3.0, "songs": 3}),
    message="the {role}{where} is {by:.1f} dB {direction} than in the other songs ({level:.1f} {unit}, "
    "usually {usual:.1f}; limit {limit:g} dB)",
    cure="Bounce it again at the level it has in the other songs. " + _EARS,
    again="at the level it has in the other songs",
    means="Click, guide or timecode is far louder or quieter than the same role in the other songs: more "
    "than {limit:g} dB, for timecode {timecode_db:g} dB.",
    on_stage="It jumps in the ears at the start of the song: painfully loud, or lost when it is needed. "
    "Timecode that changes its level may no longer be read, or leak into its neighbours.",
    measured="The loudest 400 ms of click and guide (maximum momentary loudness; 1 LU is 1 dB), for "
    "timecode the RMS while it sounds, against the median of the other songs; at least {songs:g} songs "
    "have the role. A click has to have moved its highest sample the same way as well, by half the limit: "
    "another click sound of the same peak is no jump. Timecode that cannot be read (timecode-unreadable) is "
    "not asked. Where a song has several stems of a role the "
    "loudest counts. Where half of the songs or more stand apart, the show has no common level, which is "
    "said once.",
    source="ITU-R BS.1770-5 and EBU Tech 3341 (momentary loudness). Limits: own judgement; 6 dB is twice "
    "the amplitude. Timecode: IEC 60461, 8.6.7 (informative) prefers 1 to 2 V peak to peak, a span of 6 "
    "dB, so 3 dB either way leave it.",
    over_show=_speak_of_no_common_level,
)
def crew_level_jump(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for role in CREW:
        levels = _crew_levels(show, role, limit.of(timecode_unreadable))
        if all(entry.song != song.name for entry in levels):
            continue
        if len(levels) < limit["songs"]:
            yield NotApplicable(reason=f"too few songs have a {role.value} to compare with")
            continue
        jumps = _jumps(show, role, limit)
        if _no_common_level(levels, jumps):
            continue
        for jump in jumps:
            if jump.of.song == song.name:
                yield _jumping(jump, role, limit)


def _jumping(jump: _Jump, role: Role, limit: Limit) -> Hit:
    louder = jump.by_db > 0
    return Hit(
        stem=jump.of.stem.name,
        value=jump.by_db,
        at_s=jump.of.part.measures.loudness.max_momentary_at_s if role is not Role.TIMECODE else None,
        limit=_bound(role, limit),
        cure="Bounce the {role} {by:.0f} dB {remedy}. " + _EARS,
        again="about {by:.0f} dB {lower_higher}",
        facts={
            "where": where_in(jump.of.stem, jump.of.part),
            "role": role.value,
            "by": abs(jump.by_db),
            "direction": "louder" if louder else "quieter",
            "remedy": "quieter" if louder else "louder",
            "lower_higher": "lower" if louder else "higher",
            "level": jump.of.level,
            "usual": jump.usual,
            "unit": _unit(role),
        },
    )


def _bound(role: Role, limit: Limit) -> float:
    return limit["timecode_db"] if role is Role.TIMECODE else limit.value


def _unit(role: Role) -> str:
    return "dBFS RMS" if role is Role.TIMECODE else "LUFS at most"


def _crew_level(part: PartEvidence) -> float | None:
    """None: under 400 ms long, or below the gate."""
    if part.role is Role.TIMECODE:
        return part.measures.levels.active_rms_dbfs
    return part.measures.loudness.max_momentary_lufs


@once_a_show
def _no_code(show: ShowEvidence, limit: Limit) -> frozenset[tuple[str, str | None]]:
    return frozenset(
        (song.name, said.stem)
        for song in show.songs
        for said in timecode_unreadable.check(song, show, limit)
        if isinstance(said, Hit)
    )


@once_a_show
def _crew_levels(show: ShowEvidence, role: Role, unreadable: Limit) -> list[_CrewLevel]:
    """One entry for each song in which this role sounds. What `timecode_unreadable`, at this limit, says is
    no timecode has no level as such."""
    found = []
    no_code = _no_code(show, unreadable) if role is Role.TIMECODE else frozenset()
    for song in show.songs:
        of_song = [
            _CrewLevel(song=song.name, stem=stem, part=part, level=level)
            for stem in song.stems
            for part in sounding_parts(stem)
            if part.role is role
            and (song.name, stem.name) not in no_code
            and (level := _crew_level(part)) is not None
            and level > float("-inf")
        ]
        if of_song:
            found.append(max(of_song, key=lambda entry: entry.level))
    return found


@once_a_show
def _jumps(show: ShowEvidence, role: Role, limit: Limit) -> list[_Jump]:
    """The songs past the limit, each against the median of the others."""
    levels = _crew_levels(show, role, limit.of(timecode_unreadable))
    if len(levels) < limit["songs"]:
        return []
    jumps = []
    for entry in levels:
        others = [other for other in levels if other is not entry]
        usual = _usual_level(entry.level, [other.level for other in others])
        by_db = entry.level - usual
        if abs(by_db) <= _bound(role, limit):
            continue
        if role is not Role.CLICK or _peak_moved(entry, others, by_db, limit):
            jumps.append(_Jump(of=entry, usual=usual, by_db=by_db))
    return jumps


def _peak_moved(entry: _CrewLevel, others: Sequence[_CrewLevel], by_db: float, limit: Limit) -> bool:
    """Whether the click's highest sample lies off the same way, by half of the limit at least.

    Two click sounds of one peak can be 10 LU apart (a beep, a wood block: tests/rules/test_level_heard.py),
    which 400 ms of momentary loudness overstates for sounds of some 10 ms: another sound is no jump.
    """
    peak_dbfs = entry.part.measures.peaks.sample_dbfs
    usual_dbfs = _usual_level(peak_dbfs, [other.part.measures.peaks.sample_dbfs for other in others])
    return math.copysign(1.0, by_db) * (peak_dbfs - usual_dbfs) >= _bound(entry.part.role, limit) / 2


def _usual_level(level: float, others: Sequence[float]) -> float:
    """The others' median; of an even number the middle value nearer to `level`.

    Their mean would lie half-way to a single wild song and make every other song of a short show stand apart.
    """
    return min(median_low(others), median_high(others), key=lambda middle: abs(level - middle))


def _no_common_level(levels: Sequence[_CrewLevel], jumps: Sequence[_Jump]) -> bool:
    """Half of the songs or more stand apart: nobody can say which of them are right."""
    return 2 * len(jumps) >= len(levels) > 0


RULES = (crew_level_jump,)
