"""Rules on the settings themselves: entries that fit nothing in the show."""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import IdleWaiver, ShowEvidence
from audit.findings import Severity
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule


@rule(
    id="idle-waiver",
    family="show",
    severity=Severity.NOTE,
    scope="show",
    message="the waiver of {rule} for {where} fits no finding{line}: {reason}",
    cure="Take it out of the settings: the fault is gone, or a name in it is not spelt as in the show.",
    means="A waiver in the settings fits no finding, or its last day is over.",
    on_stage="Nothing, yet: but a waiver nobody needs will hide the next fault of that kind.",
    measured="Every waiver against every finding of this scan. Not asked of rules that this scan left out, "
    "nor where only some songs were scanned.",
    source="common practice",
)
def idle_waiver(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.waivers:
        yield NotApplicable(reason="no waivers in the settings")
    for idle in show.idle_waivers:
        yield Hit(
            message=_OVER if idle.over else None,
            cure="Mend the fault it was for, or give it another last day." if idle.over else None,
            facts=_facts(show, idle),
        )


_OVER = "the waiver of {rule} for {where} ended on {until}{line}: {reason}"


def _facts(show: ShowEvidence, idle: IdleWaiver) -> dict[str, str | int | None]:
    waiver = idle.waiver
    song = "every song" if waiver.song == "*" else f"“{waiver.song}”"
    stem = "" if waiver.stem == "*" else f", stem “{waiver.stem}”"
    return {
        "rule": waiver.rule,
        "where": song + stem,
        "reason": f"“{waiver.reason}”",
        "line": f" ({show.settings.source}, line {waiver.line})" if waiver.line else "",
        "until": waiver.until.isoformat() if waiver.until else None,
        "over": idle.over,
    }


RULES = (idle_waiver,)
