"""The same audio where it should not be twice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import CREW_ROLES, Role
from audit.findings import Fact, Severity
from audit.results import SameAudio
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.versions import newest_by_mark, version_groups
from audit.units import count, duration

LEAST_LEVEL_DB = 0.2
"""Levels that lie nearer are not spoken of."""


PLAYED = frozenset({
    Role.BASS, Role.GUITAR, Role.KEYS, Role.PIANO, Role.ORGAN, Role.STRINGS, Role.BRASS, Role.WOODWIND,
    Role.LEAD_VOCAL, Role.BACKING_VOCALS, Role.CHOIR,
})  # fmt: skip
"""A phrase of these belongs to one song. The others hold swells, risers and hits, which a show uses again."""


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


def copies_in_force(show: ShowEvidence, limit: Limit) -> list[SameAudio]:
    """The pairs of stems that are one recording, by the limit of duplicate-audio."""
    return [copy for copy in show.copies if 100.0 * copy.share > limit.value]


def how_it_differs(copy: SameAudio, first: StemEvidence, second: StemEvidence) -> str:
    """What was done to the second: `6.0 dB quieter, 10.00 ms (480 samples) later, 16 bit instead of 24`."""
    said = []
    if abs(copy.level_db) >= LEAST_LEVEL_DB:
        said.append(f"{abs(copy.level_db):.1f} dB {'louder' if copy.level_db > 0 else 'quieter'}")
    if copy.lag_frames:
        when = "later" if copy.lag_frames > 0 else "earlier"
        said.append(f"{duration(abs(copy.lag_s) * 1000)} ({count(abs(copy.lag_frames), 'sample')}) {when}")
    if copy.opposed:
        said.append("upside down")
    stored = [_storage(stem) for stem in (first, second)]
    if stored[0] != stored[1]:
        said.append(f"stored as {stored[1]} instead of {stored[0]}")
    return ", ".join(said) or "with small differences"


def _storage(stem: StemEvidence) -> str:
    form = stem.format
    if form is None:
        return "unknown"
    bits = (
        "lossy" if form.lossy or form.bits is None else f"{form.bits} bit{' float' if form.is_float else ''}"
    )
    return f"{bits} {form.container}, {'mono' if form.channels == 1 else f'{form.channels} channels'}"


def _alike(show: ShowEvidence, limit: Limit) -> Iterator[list[tuple[str, StemEvidence]]]:
    """Groups of stems that are the same audio, to the bit or as one recording, in two songs and more."""
    stems = {(song.name, stem.name): stem for song in show.songs for stem in song.stems}
    leader: dict[tuple[str, str], tuple[str, str]] = {key: key for key in stems}

    def first_of(key: tuple[str, str]) -> tuple[str, str]:
        while leader[key] != key:
            key = leader[key]
        return key

    by_hash: dict[str, tuple[str, str]] = {}
    for song in show.songs:
        for content, stem in _hashed(song):
            key = by_hash.setdefault(content, (song.name, stem.name))
            leader[first_of((song.name, stem.name))] = first_of(key)
    for copy in copies_in_force(show, limit):
        pair = (copy.first_song, copy.first), (copy.second_song, copy.second)
        if all(key in stems for key in pair):
            leader[first_of(pair[1])] = first_of(pair[0])
    groups: dict[tuple[str, str], list[tuple[str, StemEvidence]]] = {}
    for key, stem in stems.items():
        groups.setdefault(first_of(key), []).append((key[0], stem))
    yield from groups.values()


def _across_songs(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for members in _alike(show, limit):
        songs = tuple(dict.fromkeys(song for song, _ in members))
        # songs of one tempo share their click, and a guide or timecode has rules of its own
        crew_only = all(set(stem.roles) <= CREW_ROLES for _, stem in members)
        shared = all(
            (song, stem.name) in show.loops or _reach_s(stem) < limit[_least(stem)] for song, stem in members
        )
        if len(songs) < 2 or crew_only or shared:
            continue
        yield Hit(
            songs=songs,
            severity=Severity.NOTE,
            message="the same audio in {number}: {listed}",
            cure="Check that each of these songs is meant to use it; if not, put the song's own stem back.",
            again="",
            facts={
                "number": count(len(songs), "song"),
                "listed": listed([f"{song}: {stem.name}" for song, stem in members]),
                "files": tuple((song, stem.name) for song, stem in members),
            },
        )


def _least(stem: StemEvidence) -> str:
    """The key of how far a stem reaches at least that two songs do not share on purpose."""
    return "played_s" if known_roles(stem) & PLAYED else "across_s"


def _reach_s(stem: StemEvidence) -> float:
    """From the stem's first sound to its last."""
    if stem.format is None:
        return 0.0
    longest = max((part.measures.activity.span_frames for part in stem.parts), default=0)
    return longest / stem.format.sample_rate_hz


@rule(
    id="duplicate-audio",
    family="identity",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=80.0, unit="% of the excerpts", more={"across_s": 15.0, "played_s": 6.0}),
    message="holds the same audio as {others}, yet their roles differ ({roles})",
    cure="Listen to them, find out whose audio it is, and bounce the other one again.",
    again="with the part that its name says",
    means="The same audio in two different roles of one song (error), as a second copy in one role "
    "(warning), or in two songs (note; never for click, guide, timecode), also at another level, moved in "
    "time, upside down or stored in another format.",
    on_stage="One part sounds twice as loud, and the part that should be in the other file is missing.",
    measured="First a hash of the decoded samples, channels and rate: equal to the last bit. Then a "
    "fingerprint (which of 32 bands rise when) names the pairs of one rate that could be one recording, and "
    "six excerpts of 1.5 s of both are laid over each other: a copy keeps one lag to the sample and a "
    "correlation of 0.97 and more (0.9 where one is stored by a lossy codec) in over {limit:g} % of them, "
    "a second take does not. Silent stems and timecode do not count; versions of one stem are told by "
    "two-versions. Across songs neither what is a loop of itself nor what begins and ends within "
    "{across_s:.0f} s, as a riser does that both use ({played_s:.0f} s for instruments that are played, and "
    "voices). Not found: a copy at another sample rate or speed.",
    source="own judgement; limits: own measurement on rendered and synthesised songs",
    over_show=_across_songs,
)
def duplicate_audio(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    hashed = _hashed(song)
    if len(hashed) < 2:
        yield NotApplicable(reason="fewer than two stems with sound")
        return
    yield from _same_to_the_bit(hashed)
    yield from _same_recordings(hashed, song, show, limit)


def _same_to_the_bit(hashed: Sequence[tuple[str, StemEvidence]]) -> Iterator[Hit]:
    groups: dict[str, list[StemEvidence]] = {}
    for key, stem in hashed:
        groups.setdefault(key, []).append(stem)
    copies = [members for members in groups.values() if len(members) >= 2]
    versions = [members for members in copies if _newest_of(members) is not None]
    in_versions = len(versions) >= 2
    if in_versions:
        yield _versions(versions)
    for members in copies:
        if not (in_versions and members in versions):
            yield _copied(members, {})


def _same_recordings(
    hashed: Sequence[tuple[str, StemEvidence]], song: SongEvidence, show: ShowEvidence, limit: Limit
) -> Iterator[Hit]:
    """Copies whose samples differ, but for versions of one stem; each copy once."""
    stems = {stem.name: stem for _, stem in hashed}
    versions = [{stem.file for stem in group} for group in version_groups(s.stem for s in song.stems)]
    told: set[str] = set()
    for copy in copies_in_force(show, limit):
        pair = {copy.first, copy.second}
        inside = copy.first_song == copy.second_song == song.name and pair <= stems.keys()
        if inside and copy.second not in told and not any(pair <= group for group in versions):
            told.add(copy.second)
            yield _recorded_twice(copy, stems[copy.first], stems[copy.second])


def _recorded_twice(copy: SameAudio, first: StemEvidence, second: StemEvidence) -> Hit:
    facts: dict[str, Fact] = {
        "how": how_it_differs(copy, first, second), "lag_s": copy.lag_s, "lag_samples": copy.lag_frames,
        "level_db": copy.level_db, "likeness": copy.likeness, "opposed": copy.opposed,
    }  # fmt: skip
    return _copied([second, first], facts, value=100.0 * copy.share, confidence=copy.likeness)


def _newest_of(members: list[StemEvidence]) -> str | None:
    """Of versions of one stem, all of the same audio, the newest by its mark; None where they are none."""
    stems = [stem.stem for stem in members]
    (group, *others) = [*version_groups(stems)] or [[]]
    newest = newest_by_mark(stems) if not others and len(group) == len(stems) else None
    return newest.file if newest is not None else None


def _versions(groups: list[list[StemEvidence]]) -> Hit:
    """A song that lies there as v2 and as v3 of the same audio: told once, not stem by stem."""
    newest = [_newest_of(members) for members in groups]
    older = [s.name for members, new in zip(groups, newest, strict=True) for s in members if s.name != new]
    return Hit(
        severity=Severity.WARNING,
        message="{number} lie here in several versions with the same audio, such as {older} beside {newest}: "
        "all of them would play",
        cure="Keep the newest of each, by the marks in their names ({newest}), and move the rest out of the "
        "song's folder; check the player's session.",
        again="",
        facts={
            "number": count(len(groups), "stem"), "older": older[0], "newest": newest[0],
            "files": tuple(stem.name for members in groups for stem in members),
        },
    )  # fmt: skip


def _copied(members: list[StemEvidence], more: dict[str, Fact], **fields: Any) -> Hit:
    """One finding for stems that are the same: bit by bit, or (with `more`) as one recording."""
    known = {known_roles(stem) for stem in members if known_roles(stem)}
    names = tuple(stem.name for stem in members)
    facts: dict[str, Fact] = {
        "others": listed(names[1:]),
        "files": names,
        "roles": listed([", ".join(role.value for role in stem.roles) for stem in members]),
        **more,
    }
    one_recording = "holds the same recording as {others}, {how}"
    if len(known) > 1:
        message = one_recording + ", yet their roles differ ({roles})" if more else None
        return Hit(stem=names[0], message=message, facts=facts, **fields)
    return Hit(
        stem=names[0],
        severity=Severity.WARNING,
        message=(one_recording if more else "holds the same audio as {others}") + ": both would play",
        cure="Keep one of the copies and move the rest out of the song's folder; check the player's session.",
        again="",
        facts=facts,
        **fields,
    )


RULES = (duplicate_audio,)
