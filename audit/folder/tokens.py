"""A name cut into words: whole words, with accents and letter case folded away."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container
from dataclasses import dataclass
from functools import lru_cache

# Combining marks that no precomposed letter took up stay with their letter.
_CHUNK = re.compile(r"(?:[^\W_][\u0300-\u036f\u3099\u309a]*)+")
_LETTERS_OR_DIGITS = re.compile(r"\d+|\D+")
_HUMP = re.compile(r"(?<=[^\W\d_A-Z])(?=[A-Z])")
_CAPITALS_THEN_WORD = re.compile(r"^([A-Z]{2,})([a-z]+)$")

# Letters that compatibility decomposition leaves whole.
_WITHOUT_STROKE = str.maketrans(
    {"œ": "oe", "æ": "ae", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "ı": "i", "þ": "th"}
)


@dataclass(frozen=True, slots=True)
class Token:
    """One word or number of a name; `start` and `end` are its place in the name as it was cut."""

    word: str
    start: int
    end: int

    @property
    def is_number(self) -> bool:
        return self.word.isdigit()


def compose(name: str) -> str:
    """The name in Unicode form NFC, so that a Mac's decomposed names and everybody else's are alike."""
    return name if name.isascii() else unicodedata.normalize("NFC", name)


@lru_cache(maxsize=20_000)
def fold(word: str) -> str:
    """The word without letter case and accents: "Órgão" and "ORGAO" are one word.

    Unpaired surrogates (bytes of a name that are not text) pass through.
    """
    if word.isascii():
        return word.lower()
    plain = unicodedata.normalize("NFKD", word.casefold().translate(_WITHOUT_STROKE))
    return "".join(sign for sign in plain if unicodedata.category(sign) != "Mn").casefold()


def cut(name: str, known: Container[str] = ()) -> list[Token]:
    """The words and numbers of a name, which should be in NFC (`compose`).

    A run of letters and digits that `known` holds stays whole ("B3", "BGVs"); others are cut between letters
    and digits and at capitals ("Gtr2", "LeadVox"). Capitals that run into a small-lettered word are cut so
    that both halves are known ("DRUMloop"), else before the last capital ("BGVox").
    """
    tokens: list[Token] = []
    for chunk in _CHUNK.finditer(name):
        if fold(chunk.group()) in known:
            tokens.append(Token(fold(chunk.group()), chunk.start(), chunk.end()))
            continue
        for run in _LETTERS_OR_DIGITS.finditer(chunk.group()):
            place = chunk.start() + run.start()
            for piece in _humps(run.group(), known):
                tokens.append(Token(fold(piece), place, place + len(piece)))
                place += len(piece)
    return tokens


def _humps(run: str, known: Container[str]) -> list[str]:
    if run.isupper() or run.islower() or fold(run) in known:
        return [run]
    pieces: list[str] = []
    for piece in _HUMP.split(run):
        capitals = _CAPITALS_THEN_WORD.match(piece)
        if capitals is None or fold(piece) in known:
            pieces.append(piece)
            continue
        head, tail = capitals.groups()
        if not (fold(head) in known and fold(tail) in known):
            head, tail = head[:-1], head[-1] + tail
        pieces += [head, tail]
    return pieces
