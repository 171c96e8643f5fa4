"""A rule's limit as far as the settings move it. Workers read it too, so it loads no more than that."""

from __future__ import annotations

from dataclasses import replace

from audit.rules.rule import NO_LIMIT, Limit, Rule
from audit.settings.model import ShowSettings


def limit_in_force(rule: Rule, settings: ShowSettings) -> Limit:
    """The rule's limit, moved as far as the settings say."""
    own, said = rule.limit or NO_LIMIT, settings.limits.get(rule.id)
    if said is None:
        return own
    value = own.value if said.value is None else said.value
    return replace(own, value=value, more={**own.more, **said.more})
