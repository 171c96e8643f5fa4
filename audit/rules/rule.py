"""What a rule is: its words, its limit, its question. All that is ever said of a rule is read from here."""

from __future__ import annotations

import string
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, TypeAlias

from audit.evidence import Need, ShowEvidence
from audit.findings import Fact, Severity
from audit.units import grouped

Scope = Literal["stem", "song", "show"]
Family = Literal[
    "files", "format", "length", "timing", "level", "damage", "identity", "bleed", "timecode", "show",
    "machine", "seal",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The number a rule decides by. `more` names further bounds of the same rule; texts may use them all.

    `beside` holds the limits in force of the rules that this one heeds, by id: settings may have moved them.
    """

    value: float
    unit: str
    more: Mapping[str, float] = field(default_factory=dict)
    beside: Mapping[str, Limit] = field(default_factory=dict)

    def __getitem__(self, name: str) -> float:
        return self.more[name]

    def of(self, heeded: Rule) -> Limit:
        """The limit in force of a rule that this one heeds."""
        return self.beside[heeded.id]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One place where a rule's question was answered with "yes, that is the fault".

    `facts` fill the message's placeholders and go into the JSON as `measured`. `severity`, `message`, `cure`,
    `again` (empty: no new bounce helps in this case), `limit` and `unit` replace the rule's own where a rule
    knows several cases; value and limit are those of the test that decided.
    """

    stem: str | None = None
    songs: tuple[str, ...] = ()  # show scope only: the songs it names
    value: float | None = None
    at_s: float | None = None
    sample: int | None = None
    severity: Severity | None = None
    confidence: float = 1.0
    message: str | None = None
    cure: str | None = None
    again: str | None = None
    limit: float | None = None
    unit: str | None = None
    facts: Mapping[str, Fact] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class NotApplicable:
    """The question does not arise here (no click in the song, too few songs to compare)."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unanswered:
    """The question arises and could not be answered."""

    reason: str
    stem: str | None = None


Outcome: TypeAlias = "Hit | NotApplicable | Unanswered"
ShowCheck: TypeAlias = "Callable[[ShowEvidence, Limit], Iterator[Outcome]]"

MINUS = "−"


class Wording(string.Formatter):
    """Fills a text; numbers below zero carry a real minus sign, as everywhere in the reports, and whole ones
    of five figures and more stand in groups of three."""

    def format_field(self, value: Any, format_spec: str) -> str:
        words: str = super().format_field(value, format_spec)
        whole = (isinstance(value, int) and format_spec in ("", "d")) or format_spec == ".0f"
        if isinstance(value, (int, float)) and whole and abs(value) >= 10_000:
            words = grouped(value)
        return words.replace("-", MINUS) if isinstance(value, (int, float)) else words


_WORDING = Wording()

NO_LIMIT = Limit(value=float("nan"), unit="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule. Texts may use `{limit}` and `Limit.more`; message, cure and again also the hit's facts."""

    id: str
    family: Family
    severity: Severity
    scope: Scope
    needs: tuple[Need, ...]
    limit: Limit | None
    message: str  # what stands in the report; `{value}` is the measured number, `{unit}` its unit
    cure: str  # what to do about it, in the imperative
    cure_in_general: str  # the same without a finding's figures; empty where the cure has none
    again: str | None  # what to ask of a new bounce, after its format ("1 bar earlier"); None: it is no cure
    means: str  # what the fault is
    on_stage: str  # what it does to the show
    measured: str  # how it is found
    source: str  # a document with its section, "common practice", or "own judgement" / "own measurement"
    check: Callable[..., Iterator[Outcome]]
    over_show: ShowCheck | None = None  # for what a stem or song rule has to say once about the whole show
    heeds: tuple[Rule, ...] = ()  # the rules whose limits this one reads too, to keep silent where they speak

    def own_limit(self) -> Limit:
        """Its limit without any settings, with those of the rules that it heeds."""
        beside = {heeded.id: heeded.own_limit() for heeded in self.heeds}
        return replace(self.limit or NO_LIMIT, beside=beside)

    def text(self, template: str, limit: Limit | None = None, /, **words: Any) -> str:
        """One of the rule's texts with its numbers filled in."""
        limit = limit or self.limit or NO_LIMIT
        return _WORDING.vformat(template, (), {"limit": limit.value, **limit.more, **words})


def rule(
    *,
    id: str,
    family: Family,
    severity: Severity,
    scope: Scope,
    message: str,
    cure: str,
    again: str | None,
    means: str,
    on_stage: str,
    measured: str,
    source: str,
    cure_in_general: str = "",
    needs: tuple[Need, ...] = (),
    limit: Limit | None = None,
    over_show: ShowCheck | None = None,
    heeds: tuple[Rule, ...] = (),
) -> Callable[[Callable[..., Iterator[Outcome]]], Rule]:
    """Turn a check into a Rule. The check's arguments follow its scope:

    stem: `(stem, limit)`; song: `(song, show, limit)`; show: `(show, limit)`. Stems that lack a `need` are
    reported as unmeasured and are not shown to the check.
    """

    def bind(check: Callable[..., Iterator[Outcome]]) -> Rule:
        return Rule(
            id=id, family=family, severity=severity, scope=scope, needs=needs, limit=limit, message=message,
            cure=cure, cure_in_general=cure_in_general, again=again, means=means, on_stage=on_stage,
            measured=measured, source=source, check=check, over_show=over_show, heeds=heeds,
        )  # fmt: skip

    return bind
