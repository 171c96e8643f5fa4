"""The word that a song's stems all begin with, short for its title: "TTM Bass", "TTM EG Crunch".

    shared_beginning(names) -> the word, folded, or None
    behind(name, word)      -> the rest of a name that begins with it, or None

A title is taken off a stem's name by itself (`roles.read_name`); of its abbreviation nobody knows but by the
company that it keeps. It tells nothing of what a stem is, and stands in the way of short words that do.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from audit.folder.roles import read_name, without_track_number
from audit.folder.tokens import compose, cut

FEWEST, SHARE = 4, 0.6
"""So many stems, and of all of them so many."""


def shared_beginning(names: Iterable[str]) -> str | None:
    """names: without their endings. None where fewer begin alike, or with a word that names a role."""
    firsts = [word for name in names if (word := _first_word(name)) is not None]
    word, times = next(iter(Counter(firsts).most_common(1)), ("", 0))
    if times < FEWEST or times < SHARE * len(firsts) or word.isdigit() or not read_name(word).is_guess:
        return None
    return word


def behind(name: str, word: str) -> str | None:
    """What stands behind the word that the name begins with; None where nothing does, or it does not."""
    bare = without_track_number(compose(name))
    tokens = cut(bare)
    if len(tokens) < 2 or tokens[0].word != word:
        return None
    return bare[tokens[1].start :]


def _first_word(name: str) -> str | None:
    tokens = cut(without_track_number(compose(name)))
    return tokens[0].word if tokens else None
