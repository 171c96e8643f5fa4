"""A finding's value lies beyond its limit: both are of the test that decided, in one unit."""

from __future__ import annotations

import pytest

from audit.findings import Finding, ShowAudit
from audit.rules.catalogue import RULES
from tests.test_rule_texts import CASES, all_findings

NUMBERED = tuple(rule for rule in RULES if rule.limit is not None)

TOO_LITTLE = frozenset({"silent-stem", "silent-channel", "dual-mono", "opposite-polarity", "click-count-in",
                        "timecode-unreadable"})  # fmt: skip
"""What lies under its limit is the fault."""

NO_NUMBER = frozenset({"awkward-name", "mixed-versions", "padded-bit-depth", "click-tempo"})
"""Rules whose planted faults are told without a value: names, marks, bits, halved time."""


def is_beyond(finding: Finding) -> bool:
    """At the limit counts: where a bound is met, texts say "from … on"."""
    value, limit = finding.value, finding.limit
    assert value is not None
    assert limit is not None
    slack = 1e-6 * max(1.0, abs(limit))
    too_little = finding.rule in TOO_LITTLE
    if finding.rule == "timecode-level":  # too low, or too hot
        too_little = limit <= -40.0
    if finding.rule == "timecode-late":  # late, or running too short before the click
        too_little = "the settings ask" in finding.message
    if too_little:
        return value <= limit + slack
    return (value if limit < 0.0 else abs(value)) >= limit - slack


@pytest.mark.parametrize("rule", NUMBERED, ids=lambda rule: rule.id)
def test_every_planted_value_lies_beyond_its_limit(rule):
    found = [one for one in all_findings(rule) if one.value is not None]
    assert bool(found) is (rule.id not in NO_NUMBER)
    inside = [
        f"{one.message}: {one.value:g} {one.unit}, limit {one.limit:g}" for one in found if not is_beyond(one)
    ]
    assert inside == []


def test_every_value_of_the_demo_lies_beyond_its_limit(demo_scan: ShowAudit):
    found = [one for one in demo_scan.all_findings() if one.value is not None and one.limit is not None]
    assert len(found) > 10
    assert [one.rule for one in found if not is_beyond(one)] == []


def test_all_rules_with_cases_are_walked():
    assert {rule.id for rule in NUMBERED} <= set(CASES)
