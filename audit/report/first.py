"""What to mend first: the worst faults of the show, each kind once, in the order of what they do on stage."""

from __future__ import annotations

from dataclasses import dataclass

from audit.findings import Finding, Severity, ShowAudit

MOST_THINGS = 3

URGENCY: tuple[frozenset[str], ...] = (
    # Ears, loudspeakers and what the audience must never hear.
    frozenset({
        "full-scale-noise", "not-finite", "click-bleed", "timecode-bleed", "crew-on-audience-output",
        "output-overload",
    }),
    # The song cannot be begun, or band and crew have nothing to go by.
    frozenset({
        "unreadable-file", "empty-file", "not-on-disk", "set-list-missing", "missing-role", "click-missing",
        "silent-stem", "click-gap", "click-tempo", "click-extra", "timecode-unreadable", "unrouted-stem",
        "over-budget",
    }),
    # It plays, and is wrong from some place on.
    frozenset({
        "truncated-file", "zero-filled-tail", "unfinished-header", "damaged-audio", "length-mismatch",
        "sample-rate-mismatch", "wrong-rate-header", "mixed-versions", "stale-arrangement", "foreign-stem",
        "key-mismatch", "shifted-by-beats", "drift-from-click", "timecode-jump", "timecode-overlap",
        "timecode-rate", "duplicate-audio",
    }),
)  # fmt: skip
"""Common practice: danger first, then what stops a song, then what spoils it. The rest follows."""

LEVEL_RULES = frozenset({"crew-level-jump", "song-loudness-outlier", "role-level-outlier"})
STARTLING_DB = 10.0
"""So much louder than usual is a danger to ears, as those of the first rank. Own judgement: 10 dB are heard
as about twice as loud (ISO 532-1 [memory])."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One thing to do: findings of one rule and severity, in the order of the show."""

    findings: tuple[Finding, ...]

    @property
    def first(self) -> Finding:
        return self.findings[0]

    @property
    def songs(self) -> tuple[str, ...]:
        """The songs it concerns, each once; empty for the show as a whole."""
        return tuple(dict.fromkeys(song for finding in self.findings for song in finding.songs))


def fix_first(audit: ShowAudit, most: int = MOST_THINGS) -> list[Thing]:
    """At most `most` things: errors before warnings, then by what they do on stage, then those that concern
    most songs. Notes and waived findings are none."""
    groups: dict[tuple[str, Severity], list[Finding]] = {}
    for finding in audit.all_findings():
        if finding.waived is None and finding.severity is not Severity.NOTE:
            groups.setdefault((finding.rule, finding.severity), []).append(finding)
    things = [Thing(findings=tuple(group)) for group in groups.values()]
    things.sort(key=lambda thing: (thing.first.severity.rank, _urgency(thing), -len(thing.songs)))
    return things[:most]


def _urgency(thing: Thing) -> int:
    if thing.first.rule in LEVEL_RULES and any((f.value or 0.0) >= STARTLING_DB for f in thing.findings):
        return 0
    return next((rank for rank, rules in enumerate(URGENCY) if thing.first.rule in rules), len(URGENCY))
