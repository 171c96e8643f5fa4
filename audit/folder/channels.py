"""One role or several: what the role words, side marks and joiners of a name say together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from audit.facts import CREW_ROLES, Role
from audit.folder import words
from audit.folder.vocabulary import Hit
from audit.folder.words import Strength

CREW_ORDER = (Role.GUIDE, Role.TIMECODE, Role.CLICK)
"""Of several crew roles in one name the first of this order. A guide may hold a click, and no rule expects a
click track to hold speech: "Click Guide" without a joiner is a guide."""


@dataclass(frozen=True, slots=True)
class Item:
    """A part of a name that can decide: a role word, the mark of a side, a joiner between names, or a word
    that is nothing known but names something."""

    kind: Literal["role", "side", "joiner", "word"]
    word: str
    hit: Hit | None = None


Verdict = tuple[Role, tuple[Role, ...]]


def decide(items: Sequence[Item], all_words: frozenset[str]) -> Verdict:
    """The role and the roles by channel; (OTHER, ()) where the items name no role or no one role.

    Channels are told apart only where the name clearly does so:
    - each of two roles has its own side mark ("Tracks L Click R"); where only a crew role is known by its
      word ("Show L Click R"), the other side is OTHER;
    - the whole playback stands before a crew role that alone has a side mark ("Band Click R");
    - roles stand on both sides of a joiner and one of them is for the crew ("Click+LTC", "Tracks & Click"),
      for a crew role is never mixed with another on purpose; "Bass & Drums" is a mix of both;
    - timecode stands beside click or guide, even without a joiner: nothing can share a channel with timecode.
    Then the order of naming is the order of the channels, unless the sides say otherwise.
    """
    every = _without_count_ins(items)
    items = [item for item in every if item.kind != "word"]
    pairing = _by_sides(items) or _beside_the_unnamed(every) or _beside_the_playback(items)
    pairing = pairing or _by_joiners(items) or _beside_timecode(items)
    if pairing:
        return pairing
    return _joined_role(items, all_words) or Role.OTHER, ()


def _hits(items: Sequence[Item]) -> list[Hit]:
    return [item.hit for item in items if item.hit is not None]


def _without_count_ins(items: Sequence[Item]) -> list[Item]:
    if not any(hit.role is Role.CLICK for hit in _hits(items)):
        return list(items)
    return [item for item in items if not (item.hit and item.hit.meaning.counts)]


def one_role(hits: Sequence[Hit], all_words: frozenset[str]) -> Role | None:
    """The role that the words name together; None where there is none.

    Crew words win: a guide vocal is a guide. Then loop and effects words, wherever they stand. Then exact
    words before plain ones, and of several exact ones the last, as English and German compounds have it:
    "String Pad" is a pad, "Bass Clarinet" a woodwind.
    """
    pool = [hit for hit in hits if hit.strength > Strength.HINT] or list(hits)
    roles = {hit.role for hit in pool}
    for crew in CREW_ORDER:
        if crew in roles:
            return crew
    decisive = [hit for hit in pool if hit.meaning.dominant or hit.role is Role.LOOP]
    exact = [hit for hit in pool if hit.strength is not Strength.PLAIN]
    found = decisive or exact
    plain = next((role for role in words.PLAIN_ORDER if role in roles), None)
    role = found[-1].role if found else plain
    if role is Role.LEAD_VOCAL and all_words & words.BACKING_WORDS:
        return Role.BACKING_VOCALS
    return role


def _split(items: Sequence[Item], kind: str) -> list[list[Item]]:
    groups: list[list[Item]] = [[]]
    for item in items:
        if item.kind == kind:
            groups.append([])
        else:
            groups[-1].append(item)
    return groups


def _roles_of(groups: Sequence[Sequence[Item]]) -> list[Role]:
    """The role of each group; empty unless every group names one and they all differ."""
    named: list[Role] = []
    for group in groups:
        role = one_role(_hits(group), frozenset(item.word for item in group))
        if role is None or role is Role.OTHER or role in named:
            return []
        named.append(role)
    return named


def _verdict(channels: Sequence[Role]) -> Verdict:
    audience = [role for role in channels if role not in CREW_ROLES]
    return (audience or channels)[0], tuple(channels)


def _by_sides(items: Sequence[Item]) -> Verdict | None:
    row = [item for item in items if item.kind != "joiner"]
    sides = [item.word for item in row if item.kind == "side"]
    if sorted(sides) != ["L", "R"]:
        return None
    roles = _roles_of(_beside_marks(row))
    if len(roles) != 2:
        return None
    return _verdict(roles if sides == ["L", "R"] else roles[::-1])


def _beside_marks(row: Sequence[Item]) -> list[list[Item]]:
    """What stands before two side marks, or after them: three groups where something stands on all sides."""
    groups = _split(row, "side")  # before the first mark, between the marks, after the second
    if not groups[0]:
        return groups[1:]
    return groups if groups[2] else groups[:2]


def _beside_the_unnamed(items: Sequence[Item]) -> Verdict | None:
    """A crew role with a side of its own, and on the other side a word that names no role."""
    row = [item for item in items if item.kind != "joiner"]
    sides = [item.word for item in row if item.kind == "side"]
    groups = _beside_marks(row) if sorted(sides) == ["L", "R"] else []
    if len(groups) != 2 or not all(groups):
        return None
    roles = [one_role(_hits(group), frozenset()) or Role.OTHER for group in groups]
    if Role.OTHER not in roles or not set(roles) & CREW_ROLES:
        return None
    return _verdict(roles if sides == ["L", "R"] else roles[::-1])


def _beside_the_playback(items: Sequence[Item]) -> Verdict | None:
    if len(items) < 3 or [item.kind for item in items[-2:]] != ["role", "side"]:
        return None
    if any(item.kind != "role" for item in items[:-2]):
        return None
    crew = one_role(_hits(items[-2:]), frozenset())
    before = one_role([hit for item in items[:-2] for hit in _hits([item])], frozenset())
    if crew not in (Role.CLICK, Role.TIMECODE) or before is not Role.FULL_MIX:
        return None
    if items[-3].word in words.ONE_TRACK_WORDS:
        return None  # "Track Click R" is a click track's right side
    return _verdict([crew, before] if items[-1].word == "L" else [before, crew])


def _by_joiners(items: Sequence[Item]) -> Verdict | None:
    groups = _split([item for item in items if item.kind != "side"], "joiner")
    roles = _roles_of(groups)
    crew = set(roles) & CREW_ROLES
    if len(roles) < 2 or not crew:
        return None
    if crew == {Role.GUIDE} and not set(roles) <= CREW_ROLES | {Role.FULL_MIX}:
        return None  # "Guide Keys & Vox" guides both
    return _one_side(items, roles)


def _beside_timecode(items: Sequence[Item]) -> Verdict | None:
    hits = _hits(items)
    timecode = [hit for hit in hits if hit.role is Role.TIMECODE]
    others = [hit for hit in hits if hit.role is not Role.TIMECODE]
    if not timecode or not others:
        return None
    other = one_role(others, frozenset())
    if other not in (Role.CLICK, Role.GUIDE):
        return None
    roles = [other, Role.TIMECODE]
    first_of_other = next(hit.first for hit in others if hit.role is other)
    return _one_side(items, roles if first_of_other < timecode[0].first else roles[::-1])


def _one_side(items: Sequence[Item], roles: list[Role]) -> Verdict | None:
    """The channels in order of naming; of a stereo file split in two ("Click+TC.L"), its one side's role."""
    sides = [item.word for item in items if item.kind == "side"]
    if not sides:
        return _verdict(roles)
    if len(roles) == 2 and len(sides) == 1 and items[-1].kind == "side":
        return roles[0] if sides == ["L"] else roles[1], ()
    return None


def _joined_role(items: Sequence[Item], all_words: frozenset[str]) -> Role | None:
    """One role for the whole name; joined roles of one family take the first, strangers none."""
    known = [item for item in items if item.word not in words.ONE_TRACK_WORDS]
    whole = one_role(_hits(known), all_words)
    if whole in CREW_ROLES or not any(item.kind == "joiner" for item in known):
        return whole
    if all_words & words.LEAD_WORDS and all_words & words.BACKING_WORDS:
        return None  # "Lead & Backing Vox"
    groups = [group for group in _split(known, "joiner") if _hits(group)]
    roles = [one_role(_hits(group), all_words) for group in groups]
    if len(set(roles)) <= 1:
        return whole
    if any(set(roles) <= family for family in words.FAMILIES):
        return roles[0]
    return None
