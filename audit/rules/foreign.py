"""A stem that belongs to another song of the show."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Elsewhere, KeyFit
from audit.rules.homes import NOWHERE, changes_there, chords_there, home_of, margin, rhythm_there
from audit.rules.likeness import alike
from audit.rules.once import once_a_show
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.versions import are_versions
from audit.rules.whole_song import another_tempo


@rule(
    id="foreign-stem",
    family="identity",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=0.4,
        unit="fit",
        more={
            "rhythm": 0.65,
            "poor_rhythm": 0.45,
            "harmony": 0.5,
            "poor_harmony": 0.35,
            "changes": 0.4,
            "poor_changes": 0.2,
            "apart": 0.2,
            "agreeing": 0.3,
            "alone": 0.1,
        },
    ),
    message="belongs to {other}{copied}: {reasons}",
    cure="Put this song's own stem back, and look whether the one of {other} is still in its place.",
    cure_in_general="Put this song's own stem back, and look whether the other song's is still in its place.",
    again="the stem of this song: this one belongs to {other}",
    means="A stem follows the beat or the chords of another song of the show, and not those of its own.",
    on_stage="Another song plays along with this one, and what should play is missing.",
    measured="A stem that fits badly at home (its onsets do not gather in the beats of the click, or its "
    "pitch classes do not go with the other stems') is tried on every other song of the show at the same "
    "times. Told where its onsets gather there at {rhythm:.2f} and more (1 is all at one place; at home "
    "{poor_rhythm:.2f} and less), or its chords correlate with the others' at {harmony:.1f} and more (at "
    "home {poor_harmony:.2f} and less), in both halves and {limit:.1f} better than at home, or its tones "
    "come and go with that song's chords at {changes:.1f} and more (at home {poor_changes:.1f} and less, in "
    "any key), and nothing speaks for its own song. Where no other stem lies on the song's click, nor with "
    "it on that of the other song, its hits prove nothing; nor do they alone where that song has fewer than "
    "two stems with music beside a click. So a bass of another song in the same tempo and "
    "key is told. Versions of one song, by their folders' names or as most of their stems are the "
    "same audio or one recording, are one song here. Of one recording in two songs the one that fits the "
    "other song more surely is told. A stem of a song that is not in the show, drums of a song with the "
    "same tempo, and most tunes of "
    "one are not told.",
    source="Own measurement on rendered songs; the gathering of onsets is the mean resultant length "
    "(Rayleigh's test).",
)
def foreign_stem(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if len(show.songs) < 2:
        yield NotApplicable(reason="no other song to compare with")
        return
    if all(stem.key is None and stem.rhythm is None for stem in song.stems):
        yield NotApplicable(reason="no click and no harmony to tell by")
        return
    for stem, other in strangers(song, show, limit):
        if not _is_the_original(stem, other, song, show, limit):
            again = _copies_in(other.song, (song.name, stem.name), show)
            yield replace(_hit(stem, other, limit, again), cure=_cure(stem, other, show, again))


_MOVE = "Move it to {other}, where none is in its place now, and put this song's own stem back here."


def _cure(stem: StemEvidence, other: Elsewhere, show: ShowEvidence, again: Sequence[str]) -> str | None:
    """What to do; None for the rule's own words: in the other song stands one that may be its own."""
    there = next((song for song in show.songs if song.name == other.song), None)
    if there is None or other.copy is not None or again:
        return None
    roles = set(stem.roles) - {Role.OTHER}
    name = stem.name.rpartition("/")[2].casefold()
    stands = any(
        roles & set(one.roles) or one.name.rpartition("/")[2].casefold() == name for one in there.stems
    )
    return None if stands else _MOVE


def strangers(song: SongEvidence, show: ShowEvidence, limit: Limit) -> list[tuple[StemEvidence, Elsewhere]]:
    """The stems that belong to other songs, with those songs; another version of this song is none.

    What harmony alone tells needs others that agree with each other: where nobody goes with anybody, only the
    one that clearly fits best elsewhere is told.
    """
    found = _at_home_elsewhere(song, show, limit)
    sure = [one for one in found if rhythm_there(one[0].rhythm, one[1].rhythm, limit)]
    by_harmony = sorted((one for one in found if one not in sure), key=lambda one: -margin(*one))
    if len(by_harmony) > 1 and not _others_agree(song, {stem.name for stem, _ in found}, limit):
        first, second = by_harmony[:2]
        by_harmony = [first] if margin(*first) - margin(*second) >= limit["apart"] else []
    return [one for one in found if one in sure or one in by_harmony]


def _at_home_elsewhere(
    song: SongEvidence, show: ShowEvidence, limit: Limit
) -> list[tuple[StemEvidence, Elsewhere]]:
    """Every stem that fits another song better, with that song."""
    again = _again(show)
    own = {other.name for other in show.songs if other is song or _one_song(song, other, again)}
    copied, bare = _copied(show), _bare(show)
    homes = (
        (
            stem,
            home_of(
                stem,
                limit,
                own,
                copied.get((song.name, stem.name), NOWHERE),
                by_click=_click_tells(stem, song, limit),
                bare=bare,
            ),
        )
        for stem in song.stems
    )
    return [(stem, other) for stem, other in homes if other is not None]


def _others_agree(song: SongEvidence, named: Collection[str], limit: Limit) -> bool:
    """Whether two stems and more, but those that are named, go with one another."""
    agreeing = [
        stem for stem in song.stems
        if stem.name not in named and stem.key is not None and stem.key.changes_as_is >= limit["agreeing"]
    ]  # fmt: skip
    return len(agreeing) >= 2


@once_a_show
def _bare(show: ShowEvidence) -> frozenset[str]:
    """The songs with fewer than two stems of music: beside a click alone nothing is missing."""
    return frozenset(
        song.name for song in show.songs if sum(stem.audience and not stem.silent for stem in song.stems) < 2
    )


@once_a_show
def _copied(show: ShowEvidence) -> Mapping[tuple[str, str], Mapping[str, KeyFit | None]]:
    """By a song's stem the songs that hold a copy of it whose samples differ, with how that copy goes with
    the stems there."""
    fits = {(song.name, stem.name): stem.key for song in show.songs for stem in song.stems}
    found: dict[tuple[str, str], dict[str, KeyFit | None]] = {}
    for pair in show.copies:
        first, second = (pair.first_song, pair.first), (pair.second_song, pair.second)
        for here, there in ((first, second), (second, first)):
            if here[0] != there[0]:
                found.setdefault(here, {}).setdefault(there[0], fits.get(there))
    return found


def _is_the_original(
    stem: StemEvidence, other: Elsewhere, song: SongEvidence, show: ShowEvidence, limit: Limit
) -> bool:
    """Whether that song holds a copy of it which more surely belongs here: it goes with its copy there."""
    copies = {other.copy, *_copies_in(other.song, (song.name, stem.name), show)}
    there = next((one for one in show.songs if one.name == other.song), None)
    return there is not None and any(
        copy.name in copies and home.song == song.name and margin(copy, home) > margin(stem, other)
        for copy, home in strangers(there, show, limit)
    )


def _copies_in(other: str, mine: tuple[str, str], show: ShowEvidence) -> list[str]:
    """That song's stems that are one recording with this one (its song, its name), with other samples."""
    ends = [((pair.first_song, pair.first), (pair.second_song, pair.second)) for pair in show.copies]
    return [
        theirs[1] for one in ends for here, theirs in (one, one[::-1]) if here == mine and theirs[0] == other
    ]


@once_a_show
def _again(show: ShowEvidence) -> Mapping[tuple[str, str], frozenset[str]]:
    """By two songs the first one's stems that are recordings of the other too, with other samples."""
    found: dict[tuple[str, str], set[str]] = {}
    for pair in show.copies:
        found.setdefault((pair.first_song, pair.second_song), set()).add(pair.first)
        found.setdefault((pair.second_song, pair.first_song), set()).add(pair.second)
    return {songs: frozenset(stems) for songs, stems in found.items()}


def _one_song(
    one: SongEvidence, other: SongEvidence, again: Mapping[tuple[str, str], frozenset[str]]
) -> bool:
    """Whether two folders are versions of one song: by their names, or as most stems are the same audio, be
    it to the bit or as one recording (again: `_again`): a version may have been turned up or damaged.

    That each has a stem that belongs to the other makes them none: two bounces went into each other's folder.
    """
    if are_versions(one.song, other.song):
        return True
    there = {stem.audio.content_hash for stem in other.stems if stem.audio is not None and not stem.silent}
    here = {
        stem.audio.content_hash: stem.name
        for stem in one.stems
        if stem.audio is not None and not stem.silent and stem.audio.content_hash is not None
    }
    alike = again.get((one.name, other.name), frozenset())
    shared = sum(content in there or name in alike for content, name in here.items())
    return 2 * shared > len(here)


def _click_tells(stem: StemEvidence, song: SongEvidence, limit: Limit) -> bool:
    """Whether hits beside the song's click say anything: where another stem lies on it, or none can be asked,
    or another lies on the click of the same other song. Else the music has another tempo than its click."""
    beside = [other for other in song.stems if other is not stem and other.rhythm is not None]
    keeps = not beside or max(one.rhythm.fit for one in beside if one.rhythm) > limit["poor_rhythm"]
    if keeps and another_tempo(song) is None:
        return True
    return bool(
        _songs_by_rhythm(stem, limit) & set().union(*(_songs_by_rhythm(one, limit) for one in beside))
    )


def _songs_by_rhythm(stem: StemEvidence, limit: Limit) -> set[str]:
    return {one.song for one in stem.elsewhere if rhythm_there(stem.rhythm, one.rhythm, limit)}


def _hit(stem: StemEvidence, other: Elsewhere, limit: Limit, again: Sequence[str]) -> Hit:
    reasons: list[str] = []
    decided: list[tuple[float, float]] = []  # what each of them measured, and its bound
    if rhythm_there(stem.rhythm, other.rhythm, limit) and stem.rhythm and other.rhythm:
        reasons.append(
            f"its hits lie on that click ({alike(other.rhythm.fit)}, here {alike(stem.rhythm.fit)})"
        )
        decided.append((other.rhythm.fit - stem.rhythm.fit, limit.value))
    if chords_there(stem.key, other.key, limit) and stem.key and other.key:
        there, here = alike(other.key.fit_as_is), alike(stem.key.fit_as_is)
        reasons.append(f"its chords go with those stems ({there} alike, here {here})")
        decided.append((other.key.fit_as_is - stem.key.fit_as_is, limit.value))
    if changes_there(stem.key, other.key, limit) and stem.key and other.key:
        there, here = alike(other.key.changes_as_is), alike(stem.key.changes_as_is)
        reasons.append(f"its chords change when those do ({there}, here {here})")
        decided.append((other.key.changes_as_is, limit["changes"]))
    value, bound = max(decided, key=lambda one: one[0] - one[1])
    copied = f", where the same recording is {listed(again, 2)}" if again else ""
    return Hit(
        stem=stem.name,
        value=value,
        limit=bound,
        confidence=0.99 if len(reasons) > 1 else 0.9,
        facts={
            "other": other.song,
            "copied": f", where the same audio is {other.copy}" if other.copy else copied,
            "copy": other.copy,
            "reasons": ", ".join(reasons),
        },
    )


RULES = (foreign_stem,)
