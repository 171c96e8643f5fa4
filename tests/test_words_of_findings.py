"""What findings say, as a reader reads it: numbers with the right endings, no more figures than anyone can
use, grouped, in the unit that suits them. Over every planted fault of the rules' tests and over the demo."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from audit.findings import Finding, ShowAudit
from audit.report.figures import measured_words
from audit.rules.catalogue import RULES
from tests.test_rule_texts import all_findings

NOUNS = "beat|bar|frame|sample|stem|song|file|place|semitone|error|warning|channel|note|output|hole|tick|name"
START = r"(?<![\w.,:/−-])"
"""Before a number: no digit, point, sign or letter that makes it another one."""

WRONG = {
    "a plural after one": re.compile(rf"{START}1 (?:{NOUNS})s\b"),
    "a singular after many": re.compile(rf"{START}(?:[02-9]|\d[\d  ]*\d|\d+\.\d+) (?:{NOUNS})\b(?! of a)"),
    "five figures in one piece": re.compile(rf"{START}\d{{5,}}(?![\d:])"),
    "milliseconds that are seconds": re.compile(r"\d{4,}(?:\.\d+)? ms|\d[ \u00a0]\d{3}(?:\.\d+)? ms"),
    "more digits than anyone can use": re.compile(r"\d\.\d{5,}|\d{3,}\.\d{2,} (?:dB|LU|ms|%)"),
    "a hundred per cent of others": re.compile(r"(?<! to )100 % of the other"),
    "a hyphen for a minus": re.compile(r"(?<![\w.])-\d"),
    "a unit behind a bare number of likeness": re.compile(r"\d (?:correlation|fit)\b"),
    "two spaces": re.compile(r"\S  \S"),
}

BAR_1 = re.compile(r"\bbar 1\b|\bbeat 1\b|channel \d+|outputs? [\d and,]+")
"""Numbers that count nothing."""


def texts(finding: Finding) -> Iterator[str]:
    for text in (finding.message, finding.advice, finding.again, measured_words(finding)):
        yield BAR_1.sub("…", text)


def slips(finding: Finding) -> list[str]:
    return [
        f"{finding.rule}: {name}: {found[0]!r} in {text!r}"
        for text in texts(finding)
        for name, pattern in WRONG.items()
        if (found := pattern.search(text))
    ]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_planted_faults_read_well(rule):
    found = list(all_findings(rule))
    assert found
    assert [slip for finding in found for slip in slips(finding)] == []


def test_the_demo_reads_well(demo_scan: ShowAudit):
    found = list(demo_scan.all_findings())
    assert len(found) > 20
    assert [slip for finding in found for slip in slips(finding)] == []


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("1 frames, limit 0", "a plural after one"),
        ("measured 4 beat", "a singular after many"),
        ("moved by 91429 samples", "five figures in one piece"),
        ("measured 11273 ms", "milliseconds that are seconds"),
        ("at −12.345678 dBFS", "more digits than anyone can use"),
        ("100 % of the other songs", "a hundred per cent of others"),
        ("at -12 dBFS", "a hyphen for a minus"),
        ("measured −0.99 correlation", "a unit behind a bare number of likeness"),
    ],
)
def test_each_pattern_finds_what_it_is_for(text: str, name: str):
    assert WRONG[name].search(text)


@pytest.mark.parametrize(
    "text", ["21 beats", "1.1 ms late", "0:31.000", "02:00:16:24", "91\u00a0429 samples", "2.5 s"]
)
def test_no_pattern_minds_what_is_right(text: str):
    assert [name for name, pattern in WRONG.items() if pattern.search(text)] == []
