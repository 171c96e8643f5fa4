"""The same audio where it should not be twice."""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import CREW_ROLES, Role
from audit.findings import Fact, Severity
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import count


def known_roles(stem: StemEvidence) -> frozenset[Role]:
    """The roles that the name or the content really told; empty for a stem whose role is a guess."""
    if not stem.parts:
        return frozenset() if stem.stem.role_is_guess else frozenset({stem.stem.role})
    return frozenset(part.role for part in stem.parts if not part.role_is_guess)


def _hashed(song: SongEvidence) -> list[tuple[str, StemEvidence]]:
    """Every stem with sound in it and the hash of its audio."""
    return [
        (stem.audio.content_hash, stem)
        for stem in song.stems
        if stem.audio is not None and stem.audio.content_hash is not None and not stem.silent
    ]


def _across_songs(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    groups: dict[str, list[tuple[str, StemEvidence]]] = {}
    for song in show.songs:
        for key, stem in _hashed(song):
            groups.setdefault(key, []).append((song.name, stem))
    for members in groups.values():
        songs = tuple(dict.fromkeys(song for song, _ in members))
        # songs of one tempo share their click, and a guide or timecode has rules of its own
        crew_only = all(set(stem.roles) <= CREW_ROLES for _, stem in members)
        if len(songs) < 2 or crew_only:
            continue
        yield Hit(
            songs=songs,
            severity=Severity.NOTE,
            message="the same audio in {number}: {listed}",
            cure="Check that each of these songs is meant to use it; if not, put the song's own stem back.",
            facts={
                "number": count(len(songs), "song"),
                "listed": listed([f"{song}: {stem.name}" for song, stem in members]),
                "files": tuple((song, stem.name) for song, stem in members),
            },
        )


@rule(
    id="duplicate-audio",
    family="identity",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    message="holds the same audio as {others}, yet their roles differ ({roles})",
    cure="Listen to them, find out whose audio it is, and bounce the other one again.",
    means="The same audio in two different roles of one song (error), as a second copy in one role "
    "(warning), or in two songs (note; never for click, guide, timecode).",
    on_stage="One part sounds twice as loud, and the part that should be in the other file is missing.",
    measured="A hash of the decoded samples, channels and rate: equal to the last bit. Silent stems do not "
    "count. Not found yet: a copy at another level, shifted in time, or stored at another rate or depth.",
    source="own judgement",
    over_show=_across_songs,
)
def duplicate_audio(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    groups: dict[str, list[StemEvidence]] = {}
    for key, stem in _hashed(song):
        groups.setdefault(key, []).append(stem)
    if sum(len(members) for members in groups.values()) < 2:
        yield NotApplicable(reason="fewer than two stems with sound")
        return
    for members in groups.values():
        if len(members) < 2:
            continue
        known = {known_roles(stem) for stem in members if known_roles(stem)}
        names = tuple(stem.name for stem in members)
        facts: dict[str, Fact] = {
            "others": listed(names[1:]),
            "files": names,
            "roles": listed([", ".join(role.value for role in stem.roles) for stem in members]),
        }
        if len(known) > 1:
            yield Hit(stem=names[0], facts=facts)
        else:
            yield Hit(
                stem=names[0],
                severity=Severity.WARNING,
                message="holds the same audio as {others}: both would play",
                cure="Keep one of the copies and move the rest out of the song's folder; check the "
                "player's session.",
                facts=facts,
            )


RULES = (duplicate_audio,)
