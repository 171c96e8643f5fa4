"""Two stems of a song that carry each other's names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.profile import TONAL, Profile, Usual, Voice, leading_of, likeness, low_db, voices_of
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule

Places = Mapping[str, Profile]
"""What a role sounds like in the show's other songs."""

ROLES = list(Role)

UNMISTAKABLE = frozenset({Role.DRUMS, Role.BASS})
"""Roles that sound like no other: whoever sounds like them is one."""

STRUCK = frozenset({Role.DRUMS, Role.PERCUSSION, Role.EFFECTS})
"""Roles that may have their lows without notes."""


@dataclass(frozen=True, slots=True)
class _Swap:
    """Two stems, of which the first sounds like the second's role and the reverse."""

    first: Voice
    second: Voice
    gain: float  # by how much they fit better when exchanged, in squares of spreads
    own: float
    other: float
    one_sided: bool = False  # the show does not know what one of the roles sounds like


@rule(
    id="swapped-stems",
    family="identity",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=1.0,
        unit="points of likeness",
        more={
            "songs": 5, "few": 4, "apart": 1.0, "each": 0.3, "left": 0.5, "surely": 3.0, "surely_each": 1.0,
            "surely_left": 0.65, "one_gain": 2.0, "one_left": 0.4, "one_most": 1.5, "nature_most": 2.7,
            "notes": 0.6, "noise": 0.45, "lows_db": -9.0, "less_db": 8.0,
        },
    ),
    message="sounds like the {second_role} of this show, and {second} like the {first_role}: with their "
    "names exchanged both would be much more like those in the other songs",
    cure="Listen to both; if they carry each other's names, exchange the names (or bounce both again), and "
    "check the outputs they are patched to.",
    again=None,
    means="Two stems of a song whose content fits each other's role better than their own.",
    on_stage="Each part comes out of the other's channel: the wrong fader, the wrong effects, the wrong "
    "ears.",
    measured="A role's profile over the other songs: eight bands from 40 to 2800 Hz, onsets a second, how "
    "tonal it is, how wide, of its loudest stem; medians, and robust spreads. How far both stems lie from "
    "their own role's profile and from each other's is counted in points (mean of the squares, in spreads): "
    "exchanged, both together have to fit better by more than {limit:g}, each by {each:g}, and at most "
    "{left:.0%} of the distance may be left; by {surely:g} where fewer than {songs:.0f} songs have both "
    "roles, or another stem of the role is louder. At least {songs:.0f} songs have each role, and the other"
    " songs' stems fit their own roles better by {apart:g}, or the two roles are too much alike to tell. Of"
    " drums and bass, like which nothing else sounds, {few:.0f} songs are enough, and {surely_left:.0%} may"
    " be left where both fit better by {surely:g}, each by {surely_each:g}. Where fewer have one of the "
    "two, drums and bass tell alone: the other stem lies nearer to them than the one of that name, by "
    "{one_gain:g}, at most {one_left:.0%} as far and no farther than {one_most:g}, or than half of that "
    "share; or no farther than {nature_most:g}, where the drums are all tones "
    "({notes:.0%} of them) and the other is not ({noise:.0%}), or where the bass lacks by {less_db:g} dB "
    "the lows that the other has (40 to 116 Hz, {lows_db:g} dB under its whole and more).",
    source="own judgement; limits: own measurement on exchanged stems",
)  # fmt: skip
def swapped_stems(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    own = sorted(voices_of(show)[song.name], key=lambda voice: ROLES.index(voice.role))
    roles = _Roles.of(own, song, show, limit)
    pairs = [(first, second) for first, second in combinations(own, 2) if roles.tell(first.role, second.role)]
    if not pairs:
        yield NotApplicable(reason="too few songs have the same two roles to compare with")
    found = [swap for pair in pairs if (swap := _swapped(*pair, roles, limit)) is not None]
    told: set[str] = set()
    for swap in sorted(found, key=lambda one: (one.one_sided, -one.gain)):
        names = {swap.first.stem.name, swap.second.stem.name}
        if not told & names:
            told |= names
            yield _hit(swap, limit)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Roles:
    """What the song's roles sound like elsewhere."""

    elsewhere: Mapping[Role, Places]
    known: Mapping[Role, Usual]  # from enough songs
    few: frozenset[Role]  # of these, from just enough of what is unmistakable

    @classmethod
    def of(cls, own: Sequence[Voice], song: SongEvidence, show: ShowEvidence, limit: Limit) -> _Roles:
        elsewhere = {
            role: {name: profile for name, profile in places.items() if name != song.name}
            for role, places in leading_of(show).items()
        }
        here = {voice.role for voice in own}
        known = {
            role: Usual.of(list(places.values()))
            for role, places in elsewhere.items()
            if role in here and len(places) + 1 >= limit["few" if role in UNMISTAKABLE else "songs"]
        }
        few = frozenset(role for role in known if len(elsewhere[role]) + 1 < limit["songs"])
        return cls(elsewhere=elsewhere, known=known, few=few)

    def tell(self, first: Role, second: Role) -> bool:
        """Whether two stems of these roles can be asked: by both, or by the drums or the bass alone."""
        roles = {first, second}
        if len(roles) == 1 or (roles & self.few and not roles <= UNMISTAKABLE):
            return False
        known = roles & self.known.keys()
        return known == roles or bool(known & UNMISTAKABLE)


def _swapped(first: Voice, second: Voice, roles: _Roles, limit: Limit) -> _Swap | None:
    if {first.role, second.role} <= roles.known.keys():
        return _both_say(first, second, roles.known, roles.elsewhere, limit)
    sure, other = (first, second) if first.role in roles.known else (second, first)
    return _one_says(sure, other, roles.known[sure.role], limit)


def _both_say(
    first: Voice, second: Voice, known: Mapping[Role, Usual], elsewhere: Mapping[Role, Places], limit: Limit
) -> _Swap | None:
    """By what both roles are elsewhere."""
    here = likeness(first.profile, second.profile, known[first.role], known[second.role])
    firsts, seconds = elsewhere[first.role], elsewhere[second.role]
    together = len(firsts.keys() & seconds.keys()) + 1 >= limit["songs"]
    least = limit.value if together and first.leads and second.leads else max(limit.value, limit["surely"])
    each = min(here.first_other, here.second_other)
    unmistakable = {first.role, second.role} <= UNMISTAKABLE
    surely = unmistakable and here.gain > limit["surely"] and each >= limit["surely_each"]
    # What is like neither role is a strange sound in both places, not an exchanged one.
    strange = here.other > limit["surely_left" if surely else "left"] * here.own
    if here.gain <= least or each < limit["each"] or strange:
        return None
    # leave one out: does the pair keep apart in the songs that nobody doubts?
    ours, theirs = list(firsts.values()), list(seconds.values())
    apart = sorted(
        -likeness(mine, their, _without(ours, mine), _without(theirs, their)).gain
        for mine, their in _pairs(firsts, seconds)
    )
    if apart[len(apart) // 4] <= limit["apart"]:
        return None
    return _Swap(first, second, here.gain, here.own, here.other)


def _pairs(firsts: Places, seconds: Places) -> list[tuple[Profile, Profile]]:
    """Both roles song by song; where songs lack one of them, the first beside any other song's second."""
    shared = [name for name in firsts if name in seconds]
    if len(shared) >= 4:
        return [(firsts[name], seconds[name]) for name in shared]
    ours, theirs = list(firsts.values()), list(seconds.values())
    return [(ours[n % len(ours)], theirs[n % len(theirs)]) for n in range(max(len(ours), len(theirs)))]


def _without(role: Sequence[Profile], one: Profile) -> Usual:
    left = list(role)
    left.remove(one)
    return Usual.of(left)


def _one_says(sure: Voice, other: Voice, role: Usual, limit: Limit) -> _Swap | None:
    """By what the one role is elsewhere: the other stem is one, and the stem of that name is none."""
    own, their = role.distance(sure.profile), role.distance(other.profile)
    # Of a kit in several stems the loudest tells what drums are: hats beside the kick are none of it.
    if own - their <= limit["one_gain"] or not sure.leads:
        return None
    near = their <= limit["nature_most"]
    by_nature = near and _by_nature(sure, other, limit)
    most = max(limit["one_most"], 0.5 * limit["one_left"] * own)
    if not by_nature and their > min(limit["one_left"] * own, most):
        return None
    return _Swap(sure, other, own - their, own, their, one_sided=True)


def _by_nature(sure: Voice, other: Voice, limit: Limit) -> bool:
    """Drums that are all tones beside a stem that is none; a bass without lows beside one that has them."""
    notes = other.profile[TONAL] >= limit["notes"]
    if sure.role is Role.DRUMS:
        return sure.profile[TONAL] >= limit["notes"] and other.profile[TONAL] <= limit["noise"]
    low, lacks = low_db(other.profile), low_db(sure.profile)
    return (notes or other.role not in STRUCK) and low >= limit["lows_db"] and lacks <= low - limit["less_db"]


def _hit(swap: _Swap, limit: Limit) -> Hit:
    return Hit(
        stem=swap.first.stem.name,
        value=swap.gain,
        message="does not sound like the {first_role} of this show, and {second} does: it is "
        "much more like those in the other songs"
        if swap.one_sided
        else None,
        limit=limit["one_gain"] if swap.one_sided else None,
        facts={
            "second": swap.second.stem.name,
            "first_role": swap.first.role.value,
            "second_role": swap.second.role.value,
            "own_distance": swap.own,
            "other_distance": swap.other,
        },
    )


RULES = (swapped_stems,)
