"""The cases every rule must have: planted faults that are found, clean shows that are not spoken of.

Each module of this folder that tests a family declares

    CASES: dict[str, tuple[Case, ...]] = {
        "true-peak-over": (
            planted("a little over", show(...), Expected(stem="Bass.wav", value=0.4)),
            planted("far over", show(...), Expected(stem="Bass.wav", value=3.0)),
            clean("a loud master under the limit", show(...)),
            at_limit("exactly 0.0 dBTP", show(...)),
            past_limit("0.1 dB over", show(...), Expected(stem="Bass.wav", value=0.1)),
        ),
    }

    @pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
    def test_case(rule_id, case):
        check(rule_id, case)

tests/test_rule_texts.py gathers the CASES of all modules, runs every case again, and fails for a rule without
two planted cases (with different findings), a clean case, one at and one past its limit. A rule
without a number takes the nearest thing that is no fault as "at", and the least thing that is one as "past".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import pytest

from audit.evidence import ShowEvidence
from audit.findings import Fact, Finding, Severity
from audit.rules.rule import Limit
from tests.evidence import audit_with, find_rule

Kind = Literal["planted", "clean", "at limit", "past limit"]


@dataclass(frozen=True, kw_only=True)
class Expected:
    """One finding, as far as the test wants to know it. What is None here may be anything."""

    severity: Severity | str | None = None  # None: the rule's own
    stem: str | None = None  # None: the finding is about the song or the show
    songs: tuple[str, ...] | None = None
    value: float | None = None  # within `within`
    within: float = 0.05
    at_s: float | None = None  # within 1 ms
    says: tuple[str, ...] = ()  # words that stand in the message
    advises: tuple[str, ...] = ()  # words that stand in the advice
    facts: Mapping[str, Fact] = field(default_factory=dict)

    def meets(self, finding: Finding) -> bool:
        severity = Severity(self.severity) if self.severity else find_rule(finding.rule).severity
        return (
            finding.severity is severity
            and finding.stem == self.stem
            and (self.songs is None or finding.songs == self.songs)
            and _near(finding.value, self.value, self.within)
            and _near(finding.at_s, self.at_s, 0.001)
            and all(word in finding.message for word in self.says)
            and all(word in finding.advice for word in self.advises)
            and all(finding.measured.get(name) == fact for name, fact in self.facts.items())
        )


@dataclass(frozen=True, kw_only=True)
class Case:
    """A show and exactly what one rule has to say of it."""

    kind: Kind
    name: str
    show: ShowEvidence
    expected: tuple[Expected, ...]
    limits: Mapping[str, Limit] | None = None


def planted(name: str, show: ShowEvidence, *expected: Expected, **more: Any) -> Case:
    assert expected, "a planted fault has to be found"
    return Case(kind="planted", name=name, show=show, expected=expected, **more)


def clean(name: str, show: ShowEvidence, **more: Any) -> Case:
    return Case(kind="clean", name=name, show=show, expected=(), **more)


def at_limit(name: str, show: ShowEvidence, **more: Any) -> Case:
    return Case(kind="at limit", name=name, show=show, expected=(), **more)


def past_limit(name: str, show: ShowEvidence, *expected: Expected, **more: Any) -> Case:
    assert expected, "just past the limit is a finding"
    return Case(kind="past limit", name=name, show=show, expected=expected, **more)


def listed(cases: Mapping[str, Sequence[Case]]) -> list[Any]:
    """The table as pytest parameters, one a case, with ids that read as reasons."""
    return [
        pytest.param(rule_id, case, id=f"{rule_id}: {case.kind}: {case.name}")
        for rule_id, table in cases.items()
        for case in table
    ]


def check(rule_id: str, case: Case) -> list[Finding]:
    """Run one case: each expected finding is there, and no other. Gives the findings."""
    found = list(audit_with(rule_id, case.show, limits=case.limits).all_findings())
    unexpected = list(found)
    for wanted in case.expected:
        match = next((finding for finding in unexpected if wanted.meets(finding)), None)
        assert match is not None, f"not found: {wanted}\nleft over: {unexpected}"
        unexpected.remove(match)
    assert not unexpected, f"nobody asked for: {unexpected}"
    for finding in found:
        assert finding.message.strip()
        assert finding.advice.strip()
        assert "{" not in finding.message + finding.advice or _names_hold_braces(case.show)
    return found


def _near(found: float | None, wanted: float | None, within: float) -> bool:
    return wanted is None or (found is not None and abs(found - wanted) <= within)


def _names_hold_braces(show: ShowEvidence) -> bool:
    names = [song.name for song in show.songs] + [stem.name for song in show.songs for stem in song.stems]
    return any("{" in name for name in names)
