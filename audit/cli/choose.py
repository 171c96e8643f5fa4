"""Names typed by a person: rules found by name, with the nearest ones where the name is not quite right."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import TYPE_CHECKING

from audit.errors import UsageError
from audit.report.words import listed

if TYPE_CHECKING:
    from audit.rules.rule import Rule


def find_rule(name: str) -> Rule:
    """The rule of this name. Raises UsageError that offers the nearest names."""
    from audit.rules.catalogue import RULES

    by_id = {rule.id: rule for rule in RULES}
    wanted = name.strip().lower().replace("_", "-").replace(" ", "-")
    if wanted in by_id:
        return by_id[wanted]
    near = nearest(wanted, by_id)
    guess = f"did you mean {listed(near)}? " if near else ""
    raise UsageError(f"{name}: no rule has this name; {guess}`stemaudit rules` lists them all")


def nearest(name: str, known: Iterable[str]) -> list[str]:
    """Up to three known names that somebody may have meant: spelt alike, or sharing a word."""
    known = list(known)
    words = {word for word in name.split("-") if len(word) > 2}
    sharing = [other for other in known if words & set(other.split("-")) or (name and name in other)]
    alike = get_close_matches(name, known, n=3, cutoff=0.55)
    return list(dict.fromkeys([*[other for other in alike if other in sharing], *alike, *sharing]))[:3]


def choose_rules(only: list[str], skip: list[str]) -> tuple[Rule, ...] | None:
    """The rules to ask: None for all. Each entry is a name or several with commas between them.

    Raises UsageError for an unknown name, for an entry without any, or where nothing is left to ask.
    """
    if not only and not skip:
        return None
    from audit.rules.catalogue import RULES

    wanted, unwanted = _named(only, "--only"), _named(skip, "--skip")
    chosen = tuple(rule for rule in RULES if (rule in wanted or not wanted) and rule not in unwanted)
    if not chosen:
        raise UsageError("--only and --skip leave no rule to ask: drop one of them")
    return chosen


def _named(entries: list[str], option: str) -> list[Rule]:
    found: list[Rule] = []
    for entry in entries:
        names = [name for name in entry.split(",") if name.strip()]
        if not names:
            # An unset variable of somebody's script: asking everything would be the opposite of the wish.
            raise UsageError(f"{option}: no rule is named: give a rule's name, or leave {option} out")
        found += map(find_rule, names)
    return found
