"""What is said of a rule outside a report: the page of `explain`, and the table of the README."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from audit.rules.rule import NO_LIMIT, Limit, Rule, Wording

WIDTH = 78
NOT_KNOWN_YET = "…"


class _Unknown:
    """Stands for a fact that only a finding knows."""

    def __format__(self, spec: str) -> str:
        return NOT_KNOWN_YET


class _Filler(Wording):
    def get_value(self, key: int | str, args: Sequence[Any], kwargs: Mapping[str, Any]) -> Any:
        return kwargs.get(str(key), _Unknown())


def fill(template: str, limit: Limit | None) -> str:
    """A text with the limit's numbers in it; facts of a finding that does not exist appear as `…`."""
    limit = limit or NO_LIMIT
    words = {"limit": limit.value, **limit.more}
    if math.isnan(limit.value):
        del words["limit"]
    # What begins with something that only a finding knows begins with what follows it.
    return _Filler().vformat(template, (), words).removeprefix(NOT_KNOWN_YET).lstrip()


def limit_words(rule: Rule) -> str:
    """`10 ms; sounding dbfs −50`: the number a rule decides by, then its further bounds. Empty without
    one."""
    if rule.limit is None:
        return ""
    number = f"{_number(rule.limit.value)} {rule.limit.unit}".rstrip()
    more = [f"{name.replace('_', ' ')} {_number(bound)}" for name, bound in rule.limit.more.items()]
    return "; ".join([number, *more])


def explain(rule: Rule) -> str:
    """Everything there is to say of a rule, as plain text of at most 78 columns, with a line end at its
    end."""
    sections = [
        ("What it means", fill(rule.means, rule.limit)),
        ("On stage", fill(rule.on_stage, rule.limit)),
        ("What to do", fill(rule.cure_in_general or rule.cure, rule.limit)),
        ("How it is measured", fill(rule.measured, rule.limit)),
        ("Limit", limit_words(rule)),
        ("Source", fill(rule.source, rule.limit)),
    ]
    lines = [f"{rule.id}: {rule.severity.value}, family {rule.family}"]
    for heading, text in sections:
        if text:
            lines += ["", heading]
            lines += textwrap.wrap(
                text, WIDTH, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False
            )
    return "\n".join(lines) + "\n"


def table_markdown(rules: Iterable[Rule]) -> str:
    """The README's table: one row a rule, a row before each family. With a line end at its end."""
    rows = ["| rule | severity | what it says | limit | source |", "|---|---|---|---|---|"]
    family = None
    for rule in rules:
        if rule.family != family:
            family = rule.family
            rows.append(f"| **{family}** | | | | |")
        number = f"{_number(rule.limit.value)} {rule.limit.unit}".rstrip() if rule.limit else "–"
        cells = [
            rule.id,
            rule.severity.value,
            fill(rule.means, rule.limit),
            number,
            fill(rule.source, rule.limit),
        ]
        rows.append("| " + " | ".join(_cell(cell) for cell in cells) + " |")
    return "\n".join(rows) + "\n"


def _cell(text: str) -> str:
    """Text that Markdown shows as it is."""
    escaped = " ".join(text.split()).replace("\\", "\\\\")
    for char in "|*<>_`":
        escaped = escaped.replace(char, "\\" + char)
    return escaped


def _number(value: float) -> str:
    return f"{value:g}".replace("-", "−")
