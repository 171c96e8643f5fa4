"""One number of a format against the show: a stem, a song, a role that has another one than the rest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import CREW_ROLES, Role, StemFormat
from audit.findings import Severity
from audit.rules.customs import depth_of, usual_depth, usual_rate
from audit.rules.once import once_a_show
from audit.rules.parts import listed
from audit.rules.rule import Hit, NotApplicable, Outcome
from audit.units import count, khz

Valued = tuple[SongEvidence, StemEvidence, int]
"""A stem that has the number, with it and its song."""

HABIT_SONGS = 3
"""From this many songs on, a role that is stored otherwise everywhere is a habit: said once, not per song."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trait:
    """One number of a format that all files of a show ought to share."""

    asked: Callable[[ShowEvidence], int | None]  # by the settings
    plainly: Callable[[int], str]  # the number in words, where no file has it
    of: Callable[[StemFormat], int | None]  # None: the format has no such number
    usual: Callable[[ShowEvidence], int | None]
    words: Callable[[StemFormat], str]

    def read(self, stem: StemEvidence) -> int | None:
        return self.of(stem.format) if stem.format else None

    def stems(self, song: SongEvidence) -> list[tuple[StemEvidence, int]]:
        return [(stem, value) for stem in song.stems if (value := self.read(stem)) is not None]


def depth_words(form: StemFormat) -> str:
    return f"{form.bits}-bit float" if form.is_float else f"{form.bits}-bit"


def rate_words(form: StemFormat) -> str:
    return khz(form.sample_rate_hz)


RATE = Trait(
    asked=lambda show: show.settings.sample_rate_hz,
    plainly=khz,
    of=lambda form: form.sample_rate_hz,
    usual=usual_rate,
    words=rate_words,
)


DEPTH = Trait(
    asked=lambda show: show.settings.bits,
    plainly=lambda bits: f"{abs(bits)}-bit",
    of=depth_of,
    usual=usual_depth,
    words=depth_words,
)


@once_a_show
def odd_songs(show: ShowEvidence, trait: Trait, usual: int) -> dict[str, int]:
    """Songs of two and more files that are all stored alike, and not as the show is: name -> their
    value."""
    odd = {}
    for song in show.songs:
        values = [value for _, value in trait.stems(song)]
        if len(values) >= 2 and len(set(values)) == 1 and values[0] != usual:
            odd[song.name] = values[0]
    return odd


@once_a_show
def role_habits(show: ShowEvidence, trait: Trait, usual: int) -> dict[Role, int]:
    """Roles whose every file in the show, in `HABIT_SONGS` songs or more, has one other value than the
    usual."""
    values: dict[Role, set[int]] = {}
    songs: Counter[Role] = Counter()
    odd = odd_songs(show, trait, usual)
    for song in show.songs:
        if song.name in odd:
            continue
        roles = set()
        for stem, value in trait.stems(song):
            values.setdefault(stem.role, set()).add(value)
            roles.add(stem.role)
        songs.update(roles)
    return {
        role: next(iter(found))
        for role, found in values.items()
        if len(found) == 1 and usual not in found and songs[role] >= HABIT_SONGS and role is not Role.OTHER
    }


@once_a_show
def file_count(show: ShowEvidence, trait: Trait) -> int:
    """How many files have this trait."""
    return sum(len(trait.stems(song)) for song in show.songs)


def compare_song(
    trait: Trait, song: SongEvidence, show: ShowEvidence, *, without: Collection[str] = ()
) -> Iterator[Outcome]:
    """A song that is off as a whole is said once; so is a role's habit (by `compare_show`). without: stems
    that another rule speaks of."""
    stems = trait.stems(song)
    files = file_count(show, trait)
    if not stems or (files < 2 and trait.asked(show) is None):
        yield NotApplicable(reason="nothing to compare with")
        return
    usual = trait.usual(show)
    if usual is None:
        return  # two camps of one size: compare_show speaks of them
    if song.name in odd_songs(show, trait, usual):
        first = stems[0][0]
        yield Hit(
            message="all {stems} of the song: {found}, the show's is {usual_words}",
            facts={
                **_difference(trait, first, usual, show),
                "stems": count(len(stems), "stem"),
                "files": tuple(stem.name for stem, _ in stems),
            },
        )
        return
    habits = role_habits(show, trait, usual)
    odd: dict[int, list[StemEvidence]] = {}
    for stem, value in stems:
        if value != usual and habits.get(stem.role) != value and stem.name not in without:
            odd.setdefault(value, []).append(stem)
    for alike in odd.values():
        names = tuple(stem.name for stem in alike)
        several = len(names) > 1
        yield Hit(
            stem=None if several else names[0],
            message="{stems}: {found}, the show's is {usual_words}: {listed}" if several else None,
            facts={
                **_difference(trait, alike[0], usual, show),
                **({"stems": count(len(names), "stem"), "listed": listed(names)} if several else {}),
                "files": names,
            },
        )


def compare_show(trait: Trait, show: ShowEvidence) -> Iterator[Outcome]:
    """What has to be said once: a tie between two camps, and a role that is stored otherwise everywhere."""
    everything = [(song, stem, value) for song in show.songs for stem, value in trait.stems(song)]
    usual = trait.usual(show)
    if usual is None:
        if everything:
            yield _camps_hit(trait, show, everything)
        return
    odd = odd_songs(show, trait, usual)
    for role, value in role_habits(show, trait, usual).items():
        members = [(song, stem) for song, stem, _ in everything if stem.role is role and song.name not in odd]
        yield _habit_hit(trait, show, role, value, usual, members)


def _camps_hit(trait: Trait, show: ShowEvidence, everything: Sequence[Valued]) -> Hit:
    camps: dict[int, list[tuple[SongEvidence, StemEvidence]]] = {}
    for song, stem, value in everything:
        camps.setdefault(value, []).append((song, stem))
    ranked = sorted(camps.items(), key=lambda camp: (-len(camp[1]), camp[0]))
    one_song = len(show.songs) == 1
    tie = len(ranked) < 2 or len(ranked[0][1]) == len(ranked[1][1])
    return Hit(
        songs=tuple(dict.fromkeys(song.name for song, _, _ in everything)),
        message="no majority: {camps}" if tie else "most files have one, most songs another: {camps}",
        facts={
            "camps": "; ".join(_camp_words(trait, members, one_song) for _, members in ranked),
            "values": tuple(_plain(value) for value, _ in ranked),
            "counts": tuple(len(members) for _, members in ranked),
        },
    )


def _habit_hit(
    trait: Trait,
    show: ShowEvidence,
    role: Role,
    value: int,
    usual: int,
    members: Sequence[tuple[SongEvidence, StemEvidence]],
) -> Hit:
    songs = tuple(dict.fromkeys(song.name for song, _ in members))
    harmless = trait is DEPTH and role in CREW_ROLES
    return Hit(
        songs=songs,
        severity=Severity.NOTE if harmless and trait.asked(show) is None else None,
        message="{role} in all {number}: {found}, the show's is {usual_words}",
        facts={
            **_difference(trait, members[0][1], usual, show),
            "role": role.value,
            "number": count(len(songs), "song"),
            "measured_value": _plain(value),
        },
    )


def _difference(trait: Trait, stem: StemEvidence, usual: int, show: ShowEvidence) -> dict[str, Any]:
    assert stem.format is not None
    return {
        "found": trait.words(stem.format),
        "usual_words": _usual_words(trait, usual, show),
        "is": _plain(trait.read(stem)),
        "usual": _plain(usual),
    }


def _plain(value: int | None) -> int | None:
    """The number as a reader knows it: a float depth without the sign that sets it apart."""
    return None if value is None else abs(value)


def _usual_words(trait: Trait, usual: int, show: ShowEvidence) -> str:
    """In the words of most files that have the usual value (32 bits may be float or not)."""
    words = Counter(
        trait.words(stem.format)
        for song in show.songs
        for stem, value in trait.stems(song)
        if value == usual and stem.format
    )
    return words.most_common(1)[0][0] if words else trait.plainly(usual)


def _camp_words(trait: Trait, members: Sequence[tuple[SongEvidence, StemEvidence]], one_song: bool) -> str:
    form = members[0][1].format
    assert form is not None
    names = dict.fromkeys(stem.name if one_song else song.name for song, stem in members)
    return f"{trait.words(form)} in {count(len(members), 'file')} ({listed(list(names), most=4)})"
