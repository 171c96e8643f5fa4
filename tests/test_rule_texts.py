"""Every rule is complete: all its words, a name of the fixed list, cases that find or stay silent."""

from __future__ import annotations

import importlib
import inspect
import re
import string
from collections.abc import Iterator
from pathlib import Path

import pytest

from audit.findings import Finding
from audit.rules.catalogue import RULES
from audit.rules.rule import Rule
from audit.rules.rule import rule as rule_decorator
from audit.rules.texts import NOT_KNOWN_YET, WIDTH, explain, fill, limit_words, table_markdown
from tests.rules.cases import Case, check

ROOT = Path(__file__).parent.parent

FIXED = {
    "files": {
        "error": "unreadable-file empty-file truncated-file unfinished-header zero-filled-tail damaged-audio "
        "not-on-disk not-finite full-scale-noise name-clash missing-role mixed-versions",
        "warning": "wrong-extension lossy-file two-versions stems-in-archive mix-beside-parts",
        "note": "awkward-name stray-file",
    },
    "format": {
        "error": "sample-rate-mismatch wrong-rate-header",
        "warning": "bit-depth-mismatch channel-count-mismatch upsampled-source lossy-source "
        "origin-time-mismatch",
        "note": "padded-bit-depth",
    },
    "length": {
        "error": "length-mismatch stale-arrangement",
        "warning": "cut-tail cut-head",
    },
    "timing": {
        "error": "offset-from-click shifted-by-beats drift-from-click click-missing click-gap click-extra "
        "click-tempo",
        "warning": "click-count-in",
    },
    "level": {
        "error": "sample-clipping silent-stem opposite-polarity output-overload",
        "warning": "flattened-peaks true-peak-over silent-channel dc-offset role-level-outlier "
        "crew-level-jump song-loudness-outlier",
        "note": "dual-mono channel-imbalance",
    },
    "damage": {"error": "dropout repeated-block", "warning": "splice-click"},
    "identity": {
        "error": "duplicate-audio key-mismatch foreign-stem",
        "warning": "swapped-stems comb-pair",
    },
    "bleed": {"error": "click-bleed timecode-bleed"},
    "timecode": {
        "error": "timecode-unreadable timecode-jump timecode-rate timecode-flag timecode-start "
        "timecode-overlap",
        "warning": "timecode-late timecode-level",
    },
    "show": {
        "error": "unrouted-stem crew-on-audience-output too-many-outputs set-list-missing",
        "warning": "split-pair output-moved set-overruns",
        "note": "loudness-step idle-waiver idle-setting",
    },
    "machine": {"error": "over-budget", "warning": "tight-budget rate-change"},
    "seal": {
        "error": "changed-since-seal decayed-since-seal missing-since-seal",
        "note": "new-since-seal",
    },
}
"""The project's fixed ids: family -> severity -> names. More may be added, none of these is ever renamed."""

PLACE = {
    rule_id: (family, severity)
    for family, by_severity in FIXED.items()
    for severity, names in by_severity.items()
    for rule_id in names.split()
}

CASE_MODULES = sorted(Path(__file__).parent.glob("rules/test_*.py"))


def gathered() -> dict[str, tuple[Case, ...]]:
    """The CASES of every module in tests/rules."""
    found: dict[str, tuple[Case, ...]] = {}
    for path in CASE_MODULES:
        module = importlib.import_module(f"tests.rules.{path.stem}")
        for rule_id, cases in getattr(module, "CASES", {}).items():
            assert rule_id not in found, f"{rule_id} has cases in two modules"
            found[rule_id] = tuple(cases)
    return found


CASES = gathered()
every_rule = pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)


def cases_of(rule: Rule, kind: str) -> list[Case]:
    return [case for case in CASES.get(rule.id, ()) if case.kind == kind]


def all_findings(rule: Rule) -> Iterator[Finding]:
    for case in CASES.get(rule.id, ()):
        yield from check(rule.id, case)


def test_every_fixed_id_has_its_rule():
    assert {rule.id for rule in RULES} == set(PLACE)


def test_ids_are_unique():
    ids = [rule.id for rule in RULES]
    assert sorted(set(ids)) == sorted(ids)


def test_families_stand_together_in_the_order_of_the_list():
    families = [rule.family for rule in RULES]
    assert list(dict.fromkeys(families)) == [family for family in FIXED if family in families]
    assert sorted(families, key=list(FIXED).index) == families


@every_rule
def test_id_family_and_severity_are_the_fixed_ones(rule: Rule):
    assert re.fullmatch(r"[a-z]+(-[a-z]+){0,3}", rule.id)
    assert (rule.family, rule.severity.value) == PLACE[rule.id]


@every_rule
@pytest.mark.parametrize("field", ["message", "cure", "means", "on_stage", "measured", "source"])
def test_no_text_is_missing(rule: Rule, field: str):
    text = getattr(rule, field)
    assert len(text.split()) >= 2, f"{rule.id} says next to nothing in {field}"
    assert text == text.strip()
    assert "  " not in text


@every_rule
def test_sentences_are_finished_and_messages_are_none(rule: Rule):
    for text in (rule.cure, rule.means, rule.on_stage, rule.measured):
        assert text.endswith((".", ")")), text
        assert not text[0].islower(), text
    assert not rule.message.endswith(".")


@every_rule
def test_explanations_need_nothing_but_the_limit(rule: Rule):
    """Only message and cure may use what a single finding knows."""
    for text in (rule.means, rule.on_stage, rule.measured, rule.source):
        filled = rule.text(text)
        assert "{" not in filled
        assert "nan" not in filled.split()


def test_no_text_rounds_a_limit_to_a_whole_number():
    """Settings may ask 7.5: told as 8, what lies between would contradict itself."""
    rounding = re.compile(r"\{limit[^}:]*:[^}]*\.0f\}")
    sources = sorted((ROOT / "audit" / "rules").glob("*.py"))
    found = [f"{path.name}: {text}" for path in sources for text in rounding.findall(path.read_text("utf-8"))]
    assert len(sources) > 60
    assert found == []


@every_rule
def test_a_limit_has_a_unit(rule: Rule):
    if rule.limit is not None:
        assert rule.limit.unit.strip()
        assert limit_words(rule).startswith(f"{rule.limit.value:g}".replace("-", "−"))


@every_rule
def test_explain_says_everything(rule: Rule):
    page = explain(rule)
    assert page.splitlines()[0].startswith(f"{rule.id}: {rule.severity.value}")
    assert "{" not in page
    flat = " ".join(page.split())
    for text in (rule.means, rule.on_stage, rule.measured, rule.source):
        assert " ".join(rule.text(text).split()) in flat
    assert max(map(len, page.splitlines())) <= WIDTH
    assert " ".join((rule.cure_in_general or rule.cure).split()) in flat or "{" in rule.cure
    if rule.limit is not None:
        assert limit_words(rule) in flat


@every_rule
def test_planted_faults_are_found(rule: Rule):
    cases = cases_of(rule, "planted")
    assert len(cases) >= 2, f"{rule.id} needs two planted faults of different size"
    assert all(case.expected for case in cases)
    found = [tuple(check(rule.id, case)) for case in cases]
    assert all(found)
    assert len({repr(findings) for findings in found}) >= 2, "the same finding twice is one planted fault"


@every_rule
def test_clean_shows_are_silent(rule: Rule):
    cases = cases_of(rule, "clean")
    assert cases, f"{rule.id} needs a clean case"
    for case in cases:
        assert not case.expected
        assert case.show.songs, "a show without songs is silent for the wrong reason"
        assert check(rule.id, case) == []


@every_rule
def test_the_limit_stands_where_it_is_said_to_stand(rule: Rule):
    at, past = cases_of(rule, "at limit"), cases_of(rule, "past limit")
    assert at, f"{rule.id} needs a case at its limit"
    assert past, f"{rule.id} needs a case past its limit"
    for case in at:
        assert not case.expected
        assert check(rule.id, case) == []
    for case in past:
        assert check(rule.id, case)


@every_rule
def test_the_rules_own_message_is_spoken_by_a_case(rule: Rule):
    """A template that no case fills could hold a name that no hit gives."""
    pattern = "".join(
        re.escape(literal) + (".*" if name is not None else "")
        for literal, name, _, _ in string.Formatter().parse(rule.message)
    )
    messages = [finding.message for finding in all_findings(rule)]
    assert any(re.fullmatch(pattern, message, re.DOTALL) for message in messages)


MENDED_OTHERWISE = frozenset({
    "not-on-disk", "wrong-extension", "origin-time-mismatch", "dual-mono", "channel-imbalance",
    "swapped-stems", "changed-since-seal",
})  # fmt: skip
"""A bounce is named in the cure, and something else is to be done first."""


def test_no_rule_is_made_without_saying_what_a_new_bounce_should_be():
    assert inspect.signature(rule_decorator).parameters["again"].default is inspect.Parameter.empty


@every_rule
def test_what_is_asked_of_a_new_bounce_goes_with_the_cure(rule: Rule):
    says_bounce = re.search(r"\b[Bb]ounce", rule.cure) is not None
    if rule.again is None:
        assert not says_bounce or rule.id in MENDED_OTHERWISE, rule.cure
        assert not any(finding.again for finding in all_findings(rule))
        return
    asked = [finding.again for finding in all_findings(rule) if finding.again]
    assert asked, "no case words it"
    for text in asked:
        assert "{" not in text
        assert not text.endswith((".", ";"))
        assert text.strip() == text


@every_rule
def test_no_message_shows_python(rule: Rule):
    for finding in all_findings(rule):
        for text in (finding.message, finding.advice):
            assert not re.search(r"\bNone\b|\bnan\b|\binf\b|\[\]|\('|dict|<Role", text), text


def test_cases_belong_to_rules():
    assert set(CASES) <= {rule.id for rule in RULES}
    assert len(CASE_MODULES) >= 8


def test_the_table_has_one_row_a_rule():
    rows = table_markdown(RULES).splitlines()
    assert len(rows) == 2 + len(RULES) + len({rule.family for rule in RULES})
    assert all(len(re.findall(r"(?<!\\)\|", row)) == 6 for row in rows)
    assert [row.split(" | ")[0].removeprefix("| ") for row in rows[2:] if "**" not in row] == [
        rule.id for rule in RULES
    ]


def test_the_readme_shows_the_table():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    match = re.search(r"<!-- rules:start -->\n(.*?)<!-- rules:end -->", readme, re.DOTALL)
    assert match, "README.md has no <!-- rules:start --> … <!-- rules:end -->"
    assert match[1].strip() == table_markdown(RULES).strip(), (
        "README.md differs from the rules: put `table_markdown(RULES)` between the markers"
    )


@every_rule
def test_explain_stands_without_a_findings_figures(rule: Rule):
    """Its cure too; nothing in it speaks of this program's own files, or marks that nobody explains."""
    page = explain(rule)
    assert NOT_KNOWN_YET not in page
    assert not re.search(r"\baudit\.\w|\btests?\.\w|\.\./|\[memory\]", page)
    assert "{" not in rule.cure_in_general
    assert bool(rule.cure_in_general) == (NOT_KNOWN_YET in fill(rule.cure, rule.limit))


def test_explain_begins_no_text_with_what_only_a_finding_knows():
    assert fill("{farther}Move it {samples} samples", None) == "Move it … samples"
    assert not re.search(r"\n\n[^\n]+\n  …", "\n\n".join(explain(rule) for rule in RULES))
