"""What a report is made from: findings, what could not be answered, and the verdicts that follow."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import TypeAlias

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import PassedOver

Fact: TypeAlias = "str | int | float | bool | tuple[Fact, ...] | None"


class Severity(str, Enum):
    """How much a finding matters. Order: error > warning > note."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the worst."""
        return ("error", "warning", "note").index(self.value)


class Verdict(str, Enum):
    """What a musician needs to know of a song. Order: error > incomplete > warning > clear."""

    ERROR = "error"
    INCOMPLETE = "incomplete"
    WARNING = "warning"
    CLEAR = "clear"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One fault, worded: what, where, measured against which limit, and the cure."""

    rule: str
    severity: Severity
    songs: tuple[str, ...]
    stem: str | None
    message: str
    advice: str
    again: str = ""  # what to ask of a new bounce; empty where none is the cure
    at_s: float | None = None
    sample: int | None = None
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    confidence: float = 1.0
    waived: Mapping[str, str | None] | None = None  # its waiver's `reason`, and `until`
    measured: Mapping[str, Fact] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unmeasured:
    """A question that should have been answered and was not. Never counts as passed."""

    rule: str
    stem: str | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SongAudit:
    """One song with its findings, worst first."""

    evidence: SongEvidence
    findings: tuple[Finding, ...]
    unmeasured: tuple[Unmeasured, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowAudit:
    """The whole result of a scan."""

    evidence: ShowEvidence
    songs: tuple[SongAudit, ...]
    show_findings: tuple[Finding, ...]
    not_applicable: Mapping[str, int]  # rule -> how often its question did not arise
    sample_rate_hz: int | None  # the show's, where there is one
    bits: int | None
    version: str
    # By song, worked out once: a show's songs are many, and each asks for its own.
    _named: Mapping[str, tuple[Finding, ...]] = field(init=False, repr=False, compare=False)
    _locked: frozenset[str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        named: dict[str, tuple[Finding, ...]] = {}
        for finding in self.show_findings:
            for name in dict.fromkeys(finding.songs):
                named[name] = (*named.get(name, ()), finding)
        object.__setattr__(self, "_named", named)
        object.__setattr__(self, "_locked", frozenset(entry.song for entry in self.unread if entry.song))

    def findings_of(self, song: SongAudit) -> tuple[Finding, ...]:
        """The song's own findings and the show's that name it, worst first."""
        named = self._named.get(song.evidence.name, ())
        return tuple(sorted(song.findings + named, key=lambda finding: finding.severity.rank))

    def verdict(self, song: SongAudit) -> Verdict:
        worst = {finding.severity for finding in self.findings_of(song) if finding.waived is None}
        if Severity.ERROR in worst:
            return Verdict.ERROR
        if song.unmeasured or song.evidence.name in self._locked:
            return Verdict.INCOMPLETE
        return Verdict.WARNING if Severity.WARNING in worst else Verdict.CLEAR

    def all_findings(self) -> Iterator[Finding]:
        """Every finding once: each song's own, then the show's."""
        for song in self.songs:
            yield from song.findings
        yield from self.show_findings

    def total(self, severity: Severity) -> int:
        """How many findings of this severity are not waived."""
        return sum(f.severity is severity and f.waived is None for f in self.all_findings())

    @property
    def unread(self) -> tuple[PassedOver, ...]:
        """What should have been audited and could not even be opened: a locked folder, a link to nowhere."""
        return tuple(entry for entry in self.evidence.show.passed_over if entry.unread)

    @property
    def incomplete(self) -> bool:
        return bool(self.unread) or any(song.unmeasured for song in self.songs)

    def exceeds(self, threshold: Severity | None) -> bool:
        """Whether a finding that is not waived stands at or above `threshold` (None: never)."""
        if threshold is None:
            return False
        return any(f.severity.rank <= threshold.rank and f.waived is None for f in self.all_findings())
