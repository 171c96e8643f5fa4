"""What to mend first: the worst faults of the show, each kind once, in the order of what they do on stage;
and the songs in the order that goes with it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from audit.findings import Finding, Severity, ShowAudit, SongAudit, Verdict

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
    not_tonight: bool = False  # only songs have it that are not in the night's set list

    @property
    def first(self) -> Finding:
        return self.findings[0]

    @property
    def songs(self) -> tuple[str, ...]:
        """The songs it concerns, each once; empty for the show as a whole."""
        return tuple(dict.fromkeys(song for finding in self.findings for song in finding.songs))


def fix_first(audit: ShowAudit, most: int = MOST_THINGS) -> list[Thing]:
    """At most `most` things: what concerns the night's set list before all else, where there is one; errors
    before warnings, then by what they do on stage, then those that concern most songs, then in the order of
    `worst_first`. Notes and waived findings are none. The night's songs and the others are things apart, also
    where they have the same fault."""
    tonight = audit.evidence.order.songs if audit.evidence.order is not None else None
    groups: dict[tuple[str, Severity, bool], list[Finding]] = {}
    for finding in audit.all_findings():
        if finding.waived is None and finding.severity is not Severity.NOTE:
            key = (finding.rule, finding.severity, _is_elsewhere(finding, tonight))
            groups.setdefault(key, []).append(finding)
    things = [
        Thing(findings=tuple(group), not_tonight=elsewhere) for (_, _, elsewhere), group in groups.items()
    ]
    order = {song.evidence.name: place for place, song in enumerate(worst_first(audit))}
    things.sort(key=lambda thing: (thing.not_tonight, _thing_key(thing, order)))
    return things[:most]


def worst_first(audit: ShowAudit) -> list[SongAudit]:
    """The songs by verdict, then by what their worst fault does on stage, then by their number of faults."""
    verdicts = list(Verdict)

    def key(song: SongAudit) -> tuple[int, tuple[int, int], int, int]:
        counted = _counted(audit, song)
        worst = min(map(urgency, counted), default=NOT_URGENT)
        errors = sum(finding.severity is Severity.ERROR for finding in counted)
        return verdicts.index(audit.verdict(song)), worst, -errors, errors - len(counted)

    return sorted(audit.songs, key=key)


def worst_fault(audit: ShowAudit, song: SongAudit) -> Finding | None:
    """What to read first of this song: its most urgent error or warning, its own before the whole show's."""
    own = song.findings
    return min(_counted(audit, song), key=lambda f: (f.severity.rank, f not in own, urgency(f)), default=None)


def urgency(finding: Finding) -> tuple[int, int]:
    """Errors before warnings, then by what they do on stage; the lowest first."""
    if finding.rule in LEVEL_RULES and (finding.value or 0.0) >= STARTLING_DB:
        return finding.severity.rank, 0
    rank = next((rank for rank, rules in enumerate(URGENCY) if finding.rule in rules), len(URGENCY))
    return finding.severity.rank, rank


NOT_URGENT = (len(Severity), 0)


def _is_elsewhere(finding: Finding, tonight: Collection[str] | None) -> bool:
    """Whether it concerns only songs that are not in the night's set list. tonight: None without one."""
    return tonight is not None and bool(finding.songs) and not any(s in tonight for s in finding.songs)


def _thing_key(thing: Thing, order: Mapping[str, int]) -> tuple[tuple[int, int], int, int]:
    first_song = min((order[name] for name in thing.songs if name in order), default=-1)
    return min(map(urgency, thing.findings)), -len(thing.songs), first_song


def _counted(audit: ShowAudit, song: SongAudit) -> list[Finding]:
    return [
        finding
        for finding in audit.findings_of(song)
        if finding.waived is None and finding.severity is not Severity.NOTE
    ]
