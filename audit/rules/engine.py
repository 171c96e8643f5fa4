"""Runs the rules over stems, songs and the show, and words what they found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Finding, ShowAudit, SongAudit, Unmeasured
from audit.rules.customs import usual_bits, usual_rate
from audit.rules.rule import NO_LIMIT, Hit, Limit, NotApplicable, Outcome, Rule, Unanswered
from audit.rules.silence import by_silence_in_force, silent_stem


@dataclass(slots=True)
class _Tally:
    """What the rules said so far."""

    findings: dict[str, list[Finding]] = field(default_factory=dict)
    unmeasured: dict[str, list[Unmeasured]] = field(default_factory=dict)
    show_findings: list[Finding] = field(default_factory=list)
    not_applicable: Counter[str] = field(default_factory=Counter)


def judge(
    show: ShowEvidence,
    rules: Sequence[Rule],
    *,
    version: str,
    limits: Mapping[str, Limit] | None = None,
) -> ShowAudit:
    """Ask every rule about every stem, song and the show.

    limits: those of the show's settings, by rule id; they replace the rule's own.
    """
    limits = limits or {}
    show = by_silence_in_force(show, _in_force(silent_stem, limits))
    tally = _Tally()
    for song in show.songs:
        tally.findings[song.name] = []
        tally.unmeasured[song.name] = []
    for rule in rules:
        limit = _in_force(rule, limits)
        if rule.scope == "show":
            _run_over_show(rule, limit, show, tally)
        else:
            for song in show.songs:
                _run_over_song(rule, limit, song, show, tally)
        if rule.over_show is not None:
            _gather(rule, limit, rule.over_show(_able(show, rule), limit), None, tally)
    return ShowAudit(
        evidence=show,
        songs=tuple(
            SongAudit(
                evidence=song,
                findings=_worst_first(tally.findings[song.name]),
                unmeasured=tuple(tally.unmeasured[song.name]),
            )
            for song in show.songs
        ),
        show_findings=_worst_first(tally.show_findings),
        not_applicable=dict(sorted(tally.not_applicable.items())),
        sample_rate_hz=usual_rate(show),
        bits=usual_bits(show),
        version=version,
    )


def _in_force(rule: Rule, limits: Mapping[str, Limit]) -> Limit:
    limit = limits.get(rule.id) or rule.limit or NO_LIMIT
    beside = {heeded.id: _in_force(heeded, limits) for heeded in rule.heeds}
    return replace(limit, beside=beside) if beside else limit


def _run_over_song(rule: Rule, limit: Limit, song: SongEvidence, show: ShowEvidence, tally: _Tally) -> None:
    able = _able_song(song, rule)
    _note_missing(rule, song, tally)
    if rule.scope == "stem":
        for stem in able.stems:
            outcomes: Iterable[Outcome] = rule.check(stem, limit)
            _gather(rule, limit, (_about(outcome, stem.name) for outcome in outcomes), song.name, tally)
    else:
        _gather(rule, limit, rule.check(able, show, limit), song.name, tally)


def _run_over_show(rule: Rule, limit: Limit, show: ShowEvidence, tally: _Tally) -> None:
    for song in show.songs:
        _note_missing(rule, song, tally)
    _gather(rule, limit, rule.check(_able(show, rule), limit), None, tally)


def _note_missing(rule: Rule, song: SongEvidence, tally: _Tally) -> None:
    for stem in song.stems:
        for need in rule.needs:
            reason = stem.missing(need)
            if reason is not None:
                tally.unmeasured[song.name].append(Unmeasured(rule=rule.id, stem=stem.name, reason=reason))
                break


def _able_song(song: SongEvidence, rule: Rule) -> SongEvidence:
    """The song with only those stems that can answer this rule."""
    able = tuple(stem for stem in song.stems if not any(stem.missing(need) for need in rule.needs))
    return song if len(able) == len(song.stems) else replace(song, stems=able)


def _able(show: ShowEvidence, rule: Rule) -> ShowEvidence:
    return replace(show, songs=tuple(_able_song(song, rule) for song in show.songs))


def _about(outcome: Outcome, stem: str) -> Outcome:
    if isinstance(outcome, (Hit, Unanswered)) and outcome.stem is None:
        return replace(outcome, stem=stem)
    return outcome


def _gather(
    rule: Rule, limit: Limit, outcomes: Iterable[Outcome] | Iterator[Outcome], song: str | None, tally: _Tally
) -> None:
    for outcome in outcomes:
        if isinstance(outcome, NotApplicable):
            tally.not_applicable[rule.id] += 1
        elif isinstance(outcome, Unanswered):
            where = [song] if song is not None else list(tally.unmeasured)
            for name in where:
                tally.unmeasured[name].append(
                    Unmeasured(rule=rule.id, stem=outcome.stem, reason=outcome.reason)
                )
        elif song is not None:
            tally.findings[song].append(_worded(rule, limit, outcome, (song,)))
        else:
            tally.show_findings.append(_worded(rule, limit, outcome, outcome.songs))


def _worded(rule: Rule, limit: Limit, hit: Hit, songs: tuple[str, ...]) -> Finding:
    bound = limit.value if hit.limit is None else hit.limit
    unit = limit.unit if hit.unit is None else hit.unit
    words = {"unit": unit, **hit.facts, "value": hit.value, "limit": bound}
    has_number = hit.value is not None
    again = rule.again if hit.again is None else hit.again
    return Finding(
        rule=rule.id,
        severity=hit.severity or rule.severity,
        songs=songs,
        stem=hit.stem,
        message=rule.text(hit.message or rule.message, limit, **words),
        advice=rule.text(hit.cure or rule.cure, limit, **words),
        again=rule.text(again, limit, **words) if again else "",
        at_s=hit.at_s,
        sample=hit.sample,
        value=hit.value,
        limit=bound if has_number and rule.limit is not None else None,
        unit=unit if has_number and rule.limit is not None else None,
        confidence=hit.confidence,
        measured=dict(hit.facts),
    )


def _worst_first(findings: list[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda f: (f.severity.rank, f.stem or "", f.at_s or 0.0)))
