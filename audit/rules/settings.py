"""Rules on the settings themselves: entries that fit nothing in the show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import get_close_matches

from audit.evidence import IdleWaiver, ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.settings.model import Gain, Output
from audit.settings.naming import fits_song, fits_stem
from audit.settings.patterns import fits, plain, stem_names


@rule(
    id="idle-waiver",
    family="show",
    severity=Severity.NOTE,
    scope="show",
    message="the waiver of {rule} for {where} fits no finding{line}: {reason}",
    cure="Take it out of the settings: the fault is gone, or a name in it is not spelt as in the show.",
    again=None,
    means="A waiver in the settings fits no finding, or its last day is over. A warning where that day is "
    "over and the fault is still there.",
    on_stage="Nothing, yet: but a waiver nobody needs will hide the next fault of that kind.",
    measured="Every waiver against every finding of this scan. Not asked of rules that this scan left out, "
    "nor where only some songs were scanned.",
    source="common practice",
)
def idle_waiver(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.waivers:
        yield NotApplicable(reason="no waivers in the settings")
    for idle in show.idle_waivers:
        yield Hit(
            severity=Severity.WARNING if idle.needed else None,
            message=_NEEDED if idle.needed else _OVER if idle.over else None,
            cure="Mend the fault it was for, or give it another last day." if idle.needed else None,
            facts=_facts(show, idle),
        )


_OVER = "the waiver of {rule} for {where} ended on {until}{line}, and its fault is gone: {reason}"
_NEEDED = (
    "the waiver of {rule} for {where} ended on {until}{line}; its fault is still there and counts again: "
)
_NEEDED += "{reason}"


def _facts(show: ShowEvidence, idle: IdleWaiver) -> dict[str, str | int | None]:
    waiver = idle.waiver
    song = "every song" if waiver.song == "*" else f"“{waiver.song}”"
    stem = "" if waiver.stem == "*" else f", stem “{waiver.stem}”"
    return {
        "rule": waiver.rule,
        "where": song + stem,
        "reason": f"“{waiver.reason}”",
        "line": f" ({show.settings.source}, line {waiver.line})" if waiver.line else "",
        "until": waiver.until.isoformat() if waiver.until else None,
        "over": idle.over,
        "needed": idle.needed,
    }


@rule(
    id="idle-setting",
    family="show",
    severity=Severity.NOTE,
    scope="show",
    message="{key} {name} in the settings fits nothing in this show{line}{near}",
    cure="Correct the name, or take the entry out: as it stands it says nothing of any file.",
    again=None,
    means="An entry of the settings names a song, a version, a stem or a role that is not in the show.",
    on_stage="Nothing by itself: but what it should have checked, routed or turned down was not.",
    measured="Entries under [[songs]], [roles], [[outputs]] and [[gains]] against the names in the "
    "folders. Not "
    "asked where only some songs were scanned.",
    source="common practice",
)
def idle_setting(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings or show.partial:
        yield NotApplicable(reason="no settings, or only some songs scanned")
        return
    yield from _idle_songs(show)
    yield from _idle_roles(show)
    yield from _idle_lines(show)


def _idle_songs(show: ShowEvidence) -> Iterator[Hit]:
    for entry in show.settings.songs:
        mine = [song for song in show.songs if song.settings == entry]
        if not mine:
            yield _idle(show, "songs.name", entry.name, entry.line, _titles(show))
        elif entry.version is not None and not any(_has_version(song, entry.version) for song in mine):
            yield _idle(show, "songs.version", entry.version, entry.line)


def _idle_roles(show: ShowEvidence) -> Iterator[Hit]:
    names = [stem_names(stem.name) for song in show.songs for stem in song.stems]
    for own in show.settings.roles:
        if not any(fits(own.pattern, each) for each in names):
            yield _idle(show, "roles", own.pattern, own.line)


def _idle_lines(show: ShowEvidence) -> Iterator[Hit]:
    """Songs and stems that outputs and gains name."""
    stems = [stem for song in show.songs for stem in song.stems]
    entries: list[tuple[str, Output | Gain]] = [("outputs", one) for one in show.settings.outputs]
    entries += [("gains", one) for one in show.settings.gains]
    for table, entry in entries:
        for name in entry.songs:
            if not any(fits_song((name,), song.names) for song in show.songs):
                yield _idle(show, f"{table}.songs", name, entry.line, _titles(show))
        for pattern in entry.stems:
            if not any(fits_stem((pattern,), stem.name, stem.roles) for stem in stems):
                yield _idle(show, f"{table}.stems", pattern, entry.line)


def _titles(show: ShowEvidence) -> list[str]:
    return [song.song.title or song.name for song in show.songs]


def _has_version(song: SongEvidence, wanted: str) -> bool:
    folders = [folder.rpartition("/")[2] for folder in song.song.version_folders]
    return any(plain(folder) == plain(wanted) for folder in folders) or any(
        s.stem.is_wanted for s in song.stems
    )


def _idle(show: ShowEvidence, key: str, name: str, line: int | None, known: Sequence[str] = ()) -> Hit:
    near = get_close_matches(name.casefold(), [title.casefold() for title in known], n=1, cutoff=NEAR)
    meant = next((title for title in known if [title.casefold()] == near), None)
    return Hit(
        facts={
            "key": key,
            "name": f"“{name}”",
            "line": f" ({show.settings.source}, line {line})" if line else "",
            "near": f"; did it mean “{meant}”?" if meant else "",
            "nearest": meant,
        }
    )


NEAR = 0.7
"""Likeness from which on a name may have been meant."""

RULES = (idle_waiver, idle_setting)
