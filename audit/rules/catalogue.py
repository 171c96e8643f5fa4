"""Every rule there is, in the order of the families. A new rule is one name in its module's RULES."""

from __future__ import annotations

from audit.rules.rule import Rule

RULES: tuple[Rule, ...] = ()
