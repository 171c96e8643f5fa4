"""The word tables of words.py made ready for reading: phrases found in a row of words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from audit.facts import Role
from audit.folder import side_words, words
from audit.folder.tokens import Token, fold
from audit.folder.words import Strength

Row = tuple[Role, Strength, str]


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a word or phrase of the tables says."""

    role: Role
    strength: Strength
    counts: bool = False  # a count-in: gives way to a click
    dominant: bool = False  # an effects word: decides wherever it stands


@dataclass(frozen=True, slots=True)
class Hit:
    """A word or phrase of the tables found in a name: tokens `first` up to, not including, `after`."""

    meaning: Meaning
    first: int
    after: int

    @property
    def role(self) -> Role:
        return self.meaning.role

    @property
    def strength(self) -> Strength:
        return self.meaning.strength


class Vocabulary:
    """Phrases and what they mean. Later rows replace earlier ones: a show's own can go on top."""

    def __init__(self, rows: Iterable[Row]) -> None:
        self._meanings: dict[tuple[str, ...], Meaning] = {}
        for role, strength, text in rows:
            for phrase in _entries(text):
                self._put(phrase, Meaning(role, strength, dominant=phrase in words.DOMINANT_WORDS))
        for phrase in _entries(words.COUNT_WORDS):
            strength = Strength.HINT if phrase in ("count", "counts") else Strength.SURE
            self._put(phrase, Meaning(Role.GUIDE, strength, counts=True))
        self.longest_phrase = max(map(len, self._meanings))
        self.whole_words = (
            frozenset(key[0] for key in self._meanings if len(key) == 1) | side_words.NEUTRAL_WORDS
        )

    def _put(self, phrase: str, meaning: Meaning) -> None:
        parts = tuple(fold(phrase).split())  # not cut at digits: "b3" is an organ, "B 3" is the third of B
        self._meanings[parts] = meaning
        self._meanings[("".join(parts),)] = meaning

    def find(self, tokens: Sequence[Token]) -> list[Hit]:
        """All phrases in the tokens, the longest at every place, from left to right without overlap."""
        hits: list[Hit] = []
        place = 0
        while place < len(tokens):
            for length in range(min(self.longest_phrase, len(tokens) - place), 0, -1):
                key = tuple(token.word for token in tokens[place : place + length])
                if key in self._meanings:
                    hits.append(Hit(self._meanings[key], place, place + length))
                    place += length
                    break
            else:
                place += 1
        return hits


def _entries(text: str) -> list[str]:
    return [entry.strip() for entry in text.split(",") if entry.strip()]


@lru_cache(maxsize=1)
def built_in() -> Vocabulary:
    """The vocabulary of words.py."""
    return Vocabulary(words.ROLE_WORDS)
