"""The ids that are fixed, also those whose rules are still to come."""

from __future__ import annotations

from tests.test_rule_texts import FIXED

FIXED_IDS = frozenset(
    rule for by_severity in FIXED.values() for rules in by_severity.values() for rule in rules.split()
)
