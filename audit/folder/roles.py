"""What a stem is for, as its name says. Names are all this looks at: no file is opened."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from audit.facts import CREW_ROLES, Role
from audit.folder import side_words, words
from audit.folder.channels import Item, Verdict, decide
from audit.folder.tokens import Token, compose, cut
from audit.folder.versions import has_letters, take_off_marks
from audit.folder.vocabulary import Hit, Vocabulary, built_in
from audit.folder.words import Strength

_BRACKETED = re.compile(r"[(\[{][^)\]}]*[)\]}]")
_WITHOUT = re.compile(r"(?<![^\W_])w[/:]o(?![^\W_])", re.IGNORECASE)
_SPACED_DASH = re.compile(r"\s[-–—]+\s")
_SEGMENT = re.compile(r"\s[-–—]+\s|[()\[\]{}]")
# 808 and 909 are drum machines and 128 is a tempo, so three digits count a track only from 001 to 127.
_PLAIN_NUMBER = re.compile(
    r"[\W_]*(?:\d{1,2}|0\d\d|1[01]\d|12[0-7])(?:\s*[-–—._)\]:]+\s*|\s+|(?<=0\d)(?=[^\W\d_]))"
)
_COUNTED_FILE = re.compile(
    rf"[\W_]*(?:{'|'.join(sorted(side_words.NUMBERED_WORDS))})[\s_.#-]*\d{{1,3}}(?:\s*[-–—._)\]:]+\s*|\s+)",
    re.IGNORECASE,
)

_SIDE_AND_NUMBER = re.compile(r"[\W_]*(?:[A-DST]\d{1,2}|\d{1,2}[-.]\d{1,2})(?:\s*[-–—._)\]:]+\s*|\s+)")
"""A place in the set on a song's folder: "B3 Song" is the third of side B, "1-03 Song" of the first half,
"S2" and "T2" of the set. "U2" and "G4" are names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NameReading:
    """What a stem's name tells."""

    role: Role  # of several channels: the first the audience hears, else the first
    is_guess: bool  # no word, or no one word, named a role: the role is then OTHER
    channel_roles: tuple[Role, ...]  # in the order of the channels; empty unless the name tells them apart
    version: str | None  # the version mark as written: "v2", "FINAL", "(1)"
    version_key: str  # the name without mark, track number and song name: versions of one stem share it
    numbered_key: str  # the same with its track number: tells "01 Gtr" from "02 Gtr"


def read_name(file_stem: str, song_name: str = "") -> NameReading:
    """The role, the roles by channel and the version that a stem's name tells.

    file_stem: the file's name without its extension; any string, also one that is not text.
    song_name: the name of the song's folder, with or without its number: it is taken off the stem's name,
    so that "Drums of Autumn - Bass" is a bass.

    Precision goes before recall: whole words only, and a name in which no word, or no one word, names a
    role is OTHER and a guess.
    """
    return _read(compose(file_stem), _SongName.of(song_name))


def names_only_a_role(name: str) -> bool:
    """Whether a name is made of role words alone ("Drums", "02 Lead Vox"), with nothing left over."""
    vocabulary = built_in()
    tokens = cut(compose(name), vocabulary.whole_words)
    hits = [hit for hit in vocabulary.find(tokens) if tokens[hit.first].word not in words.ONE_TRACK_WORDS]
    if _first_negation(tokens) < len(tokens) or _has_unknown_word(tokens, hits):
        return False
    return any(hit.role is not Role.OTHER for hit in hits)


def without_title(name: str, title: str) -> str | None:
    """The name without a title that it bears before, after or in itself; None where nothing else is in it."""
    name = compose(name)
    own = _without_song(name, _SongName.of(title))
    return name if own == without_track_number(name) else own


@dataclass(frozen=True, slots=True)
class _SongName:
    """The forms in which a song's name may stand in a stem's name, without spaces, the longest first."""

    forms: tuple[str, ...]
    is_role: bool  # the name itself is made of role words: "Bass", "Click Track"

    @staticmethod
    @lru_cache(maxsize=1024)
    def of(name: str) -> _SongName:
        text = compose(name.rsplit("/", 1)[-1])
        bare = without_track_number(text)
        side = _SIDE_AND_NUMBER.match(text)
        placed = text[side.end() :] if side and len(text) - side.end() > 1 else bare
        ways = (text, bare, placed, _BRACKETED.sub(" ", bare), take_off_marks(bare).rest)
        forms = {"".join(token.word for token in cut(way)) for way in dict.fromkeys(ways)}
        kept = sorted(filter(has_letters, forms), key=lambda form: (-len(form), form))
        return _SongName(tuple(kept), names_only_a_role(bare))


@lru_cache(maxsize=20_000)
def _read(name: str, song: _SongName) -> NameReading:
    marked = take_off_marks(name)
    own = _without_song(marked.readable, song)
    if own is None:  # called what the song is called: a role only where the song's name is nothing else
        own = marked.readable if song.is_role else ""
    role, channel_roles = _role_of(own, built_in())
    return NameReading(
        role=role,
        is_guess=role is Role.OTHER,
        channel_roles=channel_roles,
        version=marked.version,
        version_key=_key(without_track_number(_without_song(marked.rest, song) or marked.rest)),
        numbered_key=_key(marked.rest),
    )


def without_track_number(name: str) -> str:
    """The name without the number that only counts it; a name that would be left empty keeps it."""
    for pattern in (_COUNTED_FILE, _PLAIN_NUMBER):
        match = pattern.match(name)
        if match and has_letters(name[match.end() :]):
            tokens = cut(name)
            first = built_in().find(tokens)[:1]
            if first and first[0].first == 0 and tokens[0].is_number:
                return name  # "12 String" counts strings
            return name[match.end() :]
    return name


def _without_song(name: str, song: _SongName) -> str | None:
    """The name without its track number and the song's name; None where nothing would be left.

    A song that is called "Bass" takes nothing off "Bass DI": such a name goes only before a spaced dash.
    """
    bare = without_track_number(name)
    tokens = cut(bare)
    for form in song.forms:
        for first in range(len(tokens)):
            after = _end_of_form(tokens, first, form)
            if after is None:
                continue
            if first == 0 and after == len(tokens):
                return None
            rest = bare[tokens[after].start :] if first == 0 else bare[: tokens[first].start]
            if song.is_role:
                between = bare[tokens[after - 1].end : tokens[after].start] if after < len(tokens) else ""
                if first > 0 or not _SPACED_DASH.fullmatch(between):
                    continue
            elif first > 0 and after < len(tokens):
                rest += " - " + bare[tokens[after].start :]
            return without_track_number(rest)
    return bare


def _end_of_form(tokens: Sequence[Token], first: int, form: str) -> int | None:
    length = 0
    for place in range(first, len(tokens)):
        if not form.startswith(tokens[place].word, length):
            return None
        length += len(tokens[place].word)
        if length == len(form):
            return place + 1
    return None


def _key(text: str) -> str:
    """The name's words, signs such as "#" and "+" between them, in one spelling of case and separators."""
    return " ".join(re.sub(r"[\s_.()\[\]{}–—-]+", " ", compose(text.casefold())).split())


def _role_of(text: str, vocabulary: Vocabulary) -> Verdict:
    """The verdict on a name from which version, number and song are taken off.

    Where a dash or brackets divide the name, parts that hold an unknown word ("Piano Man - Bass") are heard
    only if no other part names a role.
    """
    text = _WITHOUT.sub("without", text)
    tokens = cut(text, vocabulary.whole_words)
    parts = [_Part(text, tokens[first:after], vocabulary) for first, after in _parts(text, tokens)]
    _quieten_brackets(parts)
    pure = [part for part in parts if part.is_pure]
    heard = pure if any(part.hits for part in pure) and not _names_both_sides(parts, pure) else parts
    items = [item for part in heard for item in part.items()]
    return decide(items, frozenset(token.word for part in heard for token in part.tokens))


NARROWER = frozenset({Role.PERCUSSION, Role.LOOP})
"""What drums are said to be more exactly."""


def _quieten_brackets(parts: Sequence[_Part]) -> None:
    """Words in brackets describe the name before them: they name a role only where that names none, or none
    so exact ("Sample Loop (vinyl)" is a loop, "Keys (Organ)" an organ, "Drums (Loop)" a loop). Click, guide
    and timecode are heard anywhere, so that they are never taken for music, and so are prints of effects."""
    named: Strength | None = None
    roles: set[Role] = set()
    for part in parts:
        if not part.in_brackets:
            sure = [hit for hit in part.hits if hit.role is not Role.OTHER]
            named = max((hit.strength for hit in sure), default=named)
            roles |= {hit.role for hit in sure}
        elif named is not None:
            part.hits = [
                hit
                for hit in part.hits
                if hit.strength > named or hit.role in CREW_ROLES or hit.meaning.dominant
                or (hit.role in NARROWER and roles & {Role.DRUMS, Role.PERCUSSION})
            ]  # fmt: skip


def _names_both_sides(parts: Sequence[_Part], pure: Sequence[_Part]) -> bool:
    """Whether only all parts together name a left and a right: "Show L - Click R"."""

    def sides(some: Sequence[_Part]) -> list[str]:
        return sorted(item.word for part in some for item in part.items() if item.kind == "side")

    return sides(parts) == ["L", "R"] != sides(pure)


def _parts(text: str, tokens: Sequence[Token]) -> list[tuple[int, int]]:
    cuts = [
        place
        for place in range(1, len(tokens))
        if _SEGMENT.search(text[tokens[place - 1].end : tokens[place].start])
    ]
    return list(zip([0, *cuts], [*cuts, len(tokens)], strict=True))


class _Part:
    """A part of a name between dashes or brackets: its words, and those of them that name roles."""

    def __init__(self, text: str, tokens: Sequence[Token], vocabulary: Vocabulary) -> None:
        self.text = text
        self.tokens = tokens
        found = vocabulary.find(tokens)
        negated = _first_negation(tokens)
        self.is_pure = not _has_unknown_word(tokens, found)
        self.in_brackets = bool(tokens) and _opened_before(text, tokens[0].start)
        self.hits = [
            hit
            for hit in found
            if hit.first < negated
            and not self._is_title(hit)
            and (self.is_pure or hit.strength in (Strength.PLAIN, Strength.SURE))
        ]

    def _is_title(self, hit: Hit) -> bool:
        before = self.tokens[hit.first - 1].word if hit.first else ""
        after = [token.word for token in self.tokens[hit.after : hit.after + 2]]
        if after[:1] == ["to"]:
            after = after[1:]
        return before in side_words.TITLE_BEFORE or bool(after and after[0] in side_words.TITLE_AFTER)

    def items(self) -> list[Item]:
        """Role words, sides, joiners and words that name something unknown, in their order; a joiner sign
        before the part's first word counts."""
        starts = {hit.first: hit for hit in self.hits}
        inside = {place for hit in self.hits for place in range(hit.first, hit.after)}
        items: list[Item] = []
        for place, token in enumerate(self.tokens):
            if self._joiner_before(token):
                items.append(Item("joiner", "+"))
            if place in starts:
                items.append(Item("role", token.word, starts[place]))
            elif place in inside:
                continue
            elif token.word in side_words.SIDES:
                items.append(Item("side", side_words.SIDES[token.word]))
            elif token.word in side_words.JOINER_WORDS:
                items.append(Item("joiner", token.word))
            elif not token.is_number and len(token.word) > 2 and token.word not in side_words.NEUTRAL_WORDS:
                items.append(Item("word", token.word))
        return items

    def _joiner_before(self, token: Token) -> bool:
        place = token.start - 1
        while place >= 0 and not self.text[place].isalnum():
            if self.text[place] in side_words.JOINER_SIGNS:
                return True
            place -= 1
        return False


def _opened_before(text: str, place: int) -> bool:
    """Whether a bracket is open there."""
    before = text[:place]
    return any(before.rfind(opens) > before.rfind(closes) for opens, closes in ("()", "[]", "{}"))


def _first_negation(tokens: Sequence[Token]) -> int:
    """The place of the first "no", "without" or the like; past the end where there is none."""
    for place, token in enumerate(tokens[:-1]):
        if token.word in side_words.NEGATIONS and not tokens[place + 1].is_number:
            return place
    return len(tokens)


def _has_unknown_word(tokens: Sequence[Token], hits: Sequence[Hit]) -> bool:
    inside = {place for hit in hits for place in range(hit.first, hit.after)}
    return any(
        place not in inside and not token.is_number and len(token.word) > 1 and not _is_neutral(token.word)
        for place, token in enumerate(tokens)
    )


def _is_neutral(word: str) -> bool:
    return (
        word in side_words.NEUTRAL_WORDS
        or word in side_words.SIDES
        or word in side_words.JOINER_WORDS
        or word in words.BACKING_WORDS
        or word in words.LEAD_WORDS
        or word in side_words.NEGATIONS
    )
