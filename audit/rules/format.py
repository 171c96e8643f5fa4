"""How the stems are stored, against what the show usually does: rate, depth, origin times."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import CREW_ROLES, Role, StemFormat
from audit.findings import Severity
from audit.rules.customs import depth_of, usual_depth, usual_rate
from audit.rules.once import once_a_show
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import clock, count, khz

HABIT_SONGS = 3
"""From this many songs on, a role that is stored otherwise everywhere is a habit: said once, not per song."""

ORIGIN_TOLERANCE_S = 0.001
"""A millisecond: origins written at different rates round to different frames, and nobody hears less."""


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


def compare_song(trait: Trait, song: SongEvidence, show: ShowEvidence) -> Iterator[Outcome]:
    """A song that is off as a whole is said once; so is a role's habit (by `compare_show`)."""
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
        if value != usual and habits.get(stem.role) != value:
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
    usual = trait.usual(show)
    everything = [(song, stem, value) for song in show.songs for stem, value in trait.stems(song)]
    if usual is None and everything:
        camps: dict[int, list[tuple[SongEvidence, StemEvidence]]] = {}
        for song, stem, value in everything:
            camps.setdefault(value, []).append((song, stem))
        ranked = sorted(camps.items(), key=lambda camp: (-len(camp[1]), camp[0]))
        one_song = len(show.songs) == 1
        tie = len(ranked) < 2 or len(ranked[0][1]) == len(ranked[1][1])
        yield Hit(
            songs=tuple(dict.fromkeys(song.name for song, _, _ in everything)),
            message="no majority: {camps}" if tie else "most files have one, most songs another: {camps}",
            facts={
                "camps": "; ".join(_camp_words(trait, members, one_song) for _, members in ranked),
                "values": tuple(_plain(value) for value, _ in ranked),
                "counts": tuple(len(members) for _, members in ranked),
            },
        )
    if usual is None:
        return
    odd = odd_songs(show, trait, usual)
    for role, value in role_habits(show, trait, usual).items():
        members = [(song, stem) for song, stem, _ in everything if stem.role is role and song.name not in odd]
        songs = tuple(dict.fromkeys(song.name for song, _ in members))
        harmless = trait is DEPTH and role in CREW_ROLES
        yield Hit(
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


def _rate_over_show(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from compare_show(RATE, show)


@rule(
    id="sample-rate-mismatch",
    family="format",
    severity=Severity.ERROR,
    scope="song",
    needs=("format",),
    message="{found}, the show's is {usual_words}",
    cure="Bounce again from the session at the show's sample rate; if there is no session, convert with a "
    "good resampler, then compare the length with the song's other stems.",
    again="bounced at the show's sample rate, not converted afterwards",
    means="The file is not at the show's sample rate: that of the settings, else that of most files. A tie "
    "is said once, with both camps, and so is a show in which most songs have another rate than most files.",
    on_stage="Played without conversion, 44.1 kHz in a 48 kHz show runs 8.8 % fast and 1.5 semitones "
    "sharp. With it, the laptop resamples in real time, or the interface changes its clock between two "
    "songs.",
    measured="Sample rate by the header against the rate in the settings, or that most files of the show "
    "have, and most songs (a song counts as most of its files are). A role that is at another rate in each "
    "of at least 3 songs is said once.",
    source="common practice; 48000/44100 = 1.088, 12 log2(1.088) = 1.47 semitones",
    over_show=_rate_over_show,
)
def sample_rate_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from compare_song(RATE, song, show)


def _depth_over_show(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from compare_show(DEPTH, show)


@rule(
    id="bit-depth-mismatch",
    family="format",
    severity=Severity.WARNING,
    scope="song",
    needs=("format",),
    message="{found}, the show's is {usual_words}",
    cure="Bounce again from the session at the show's bit depth, with dither where the depth goes down.",
    again="bounced at the show's bit depth",
    means="The file does not have the show's bit depth: that of the settings, else that of most files (as "
    "for sample rates). Lossy files have none. Click, guide or timecode that is so in the whole show, in at "
    "least 3 songs, is a note.",
    on_stage="Nothing breaks; but such a file came another way than the rest, and 16 bit has a noise floor "
    "that quiet stems turned up will show.",
    measured="Valid bits of a sample by the header (32-bit float counts as a depth of its own) against "
    "the settings, or what most files of the show have.",
    source="common practice",
    over_show=_depth_over_show,
)
def bit_depth_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if song.stems and not DEPTH.stems(song):
        yield NotApplicable(reason="lossy files have no bit depth")
        return
    yield from compare_song(DEPTH, song, show)


@rule(
    id="origin-time-mismatch",
    family="format",
    severity=Severity.WARNING,
    scope="song",
    needs=("format",),
    message="time stamps of the recording differ: {listed}{common}",
    cure="Place the stems by their start, not by their time stamp; or bounce them again from one start "
    "point.",
    again=None,
    means="The time references in the Broadcast WAV headers differ between a song's stems of music.",
    on_stage="A program that places stems by their time stamp puts these in another place than the rest.",
    measured="The bext TimeReference divided by the file's own sample rate, compared to a millisecond; "
    "files without one are left out, and so are click, guide and timecode, which often come from another "
    "session.",
    source="EBU Tech 3285 v2, bext chunk: TimeReference, first sample since midnight",
)
def origin_time_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    origins = [
        (stem.name, form.time_reference_frames / form.sample_rate_hz)
        for stem in song.stems
        if (form := stem.format)
        and form.time_reference_frames is not None
        and form.sample_rate_hz
        and stem.audience
    ]
    if len(origins) < 2:
        yield NotApplicable(reason="fewer than two stems carry a time stamp")
        return
    agree = {name: sum(abs(at - other) <= ORIGIN_TOLERANCE_S for _, other in origins) for name, at in origins}
    most = max(agree.values())
    if most == len(origins):
        return
    has_common = 2 * most > len(origins)
    common = next(at for name, at in origins if agree[name] == most)
    odd = [(name, at) for name, at in origins if not has_common or abs(at - common) > ORIGIN_TOLERANCE_S]
    place = clock(common)
    yield Hit(
        stem=odd[0][0] if has_common and len(odd) == 1 else None,
        facts={
            "listed": listed([f"{name} at {clock(at)}" for name, at in odd], most=4),
            "common": f"; {count(len(origins) - len(odd), 'other stem')} at {place}" if has_common else "",
            "files": tuple(name for name, _ in odd),
            "origins_s": tuple(at for _, at in odd),
            "common_s": common if has_common else None,
        },
    )


RULES = (sample_rate_mismatch, bit_depth_mismatch, origin_time_mismatch)
