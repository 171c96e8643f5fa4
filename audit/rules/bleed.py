"""Rules on what leaks: click and timecode in stems that the audience hears."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Severity
from audit.results import Leak
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.ticking import Ticks, ticks_alone


@rule(
    id="timecode-bleed",
    family="bleed",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=-60.0, unit="dBFS"),
    message="timecode can be heard in it, at {value:+.0f} dBFS{under} (limit {limit:+g} dBFS)",
    cure="In the session, look for a send or an input that carries the timecode, mute it, and bounce this "
    "stem again. A live recording that holds it: gate or replace the rests. Turn the PA and the ears down "
    "before you check.",
    again="without the timecode in it",
    means="The song's timecode, or another one, sounds in a stem that the audience hears, at {limit:+g} dBFS "
    "or more.",
    on_stage="Timecode is a harsh buzz, and it never stops: in the first quiet bar the whole hall hears it.",
    measured="The song's own timecode is searched for, to within 12 ms, where the stem is quietest: every "
    "frequency counts by how little else there is. In stems that rest it is also read frame by frame, from "
    "whatever machine it is. Level: the height of its wave. Stems that the song's sum leaves out are asked "
    "too. A leak from another machine under music that never rests is not found.",
    source="Method: matched filter on whitened audio (generalised least squares). The limit: own judgement; "
    "what lies lower is under a hall's noise.",
)
def timecode_bleed(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for stem in song.stems:
        leak = _worst([part.timecode_leak for part in stem.parts])
        if leak is not None and leak.level_dbfs >= limit.value:
            yield Hit(
                stem=stem.name,
                at_s=leak.best_at_s,
                sample=_sample(stem, leak.best_at_s),
                value=leak.level_dbfs,
                facts=_facts(leak),
            )


@rule(
    id="click-bleed",
    family="bleed",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=-35.0,
        unit="dB",
        more={
            "rest": -50.0,
            "warning": -55.0,
            "alone": -60.0,
            "early": 0.5,
            "late": 6.0,
            "unsteady": 0.1,
            "very_unsteady": 0.15,
        },
    ),
    message="the song's click can be heard in it, {under_db:.0f} dB under the stem, its ticks at "
    "{level_dbfs:+.0f} dBFS{rest}{late} (limit {limit:+g} {unit})",
    cure="In the session, look for a click send or a bus that carries the click into this stem, mute it, and "
    "bounce the stem again. Turn the PA and the ears down before you check; the count-in and the rests tell "
    "most.",
    again="without the click in it",
    means="The click of this very song sounds in a stem that the audience hears: {limit:+g} dB against the "
    "stem's loudness or louder, or {rest:+g} dBFS in a rest of 2 s. A warning down to {warning:+g} dB, and "
    "where it looks like a headphone that a microphone heard.",
    on_stage="The audience hears the count-in and every beat of the quiet parts.",
    measured="The click's own sound is searched for at its own beats, to within 12 ms, in the 96 quietest of "
    "them: every frequency counts by how little else there is; other delays tell what chance does. Beats "
    "that the stem itself strikes are left out, so drums that play all of them are not judged. A stem that "
    "plays the click's sound with other accents, pauses or between the beats uses it as music. Headphone "
    "spill: {early:g} to {late:g} ms late, and unsteady by {unsteady:.0%} or more. A room makes another "
    "sound of it: a warning, too, is a stem other than drums, loops and percussion that ticks with every "
    "beat of the count-in to 3 ms, with the click's accents, at {alone:+g} dBFS or louder and 12 dB or more "
    "below its own loudest sample.",
    source="Method: matched filter on whitened audio (generalised least squares). Limits: own judgement.",
)
def click_bleed(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if song.click is None:
        yield NotApplicable(reason="no click in the song")
        return
    for stem in song.stems:
        leak = _worst([part.click_leak for part in stem.parts])
        decided = _decided(leak, limit) if leak is not None else None
        if leak is None or decided is None:
            ticks = ticks_alone(stem, song)
            if ticks is not None and ticks.level_dbfs >= limit["alone"]:
                yield _ticking_hit(stem, ticks, limit)
        else:
            spill = _is_spill(leak, limit)
            yield Hit(
                stem=stem.name,
                at_s=leak.best_at_s,
                sample=_sample(stem, leak.best_at_s),
                value=decided.value,
                limit=decided.limit,
                unit=decided.unit,
                severity=decided.spilt if spill else decided.severity,
                message=SPILL if spill else None,
                cure=SPILL_CURE if spill else None,
                facts={**_facts(leak), "spill": spill},
            )


def _ticking_hit(stem: StemEvidence, ticks: Ticks, limit: Limit) -> Hit:
    return Hit(
        stem=stem.name,
        at_s=ticks.first_s,
        sample=_sample(stem, ticks.first_s),
        value=ticks.level_dbfs,
        limit=limit["alone"],
        unit="dBFS",
        severity=Severity.WARNING,
        confidence=0.9,
        message="ticks with the click on all {beats} beats of the count-in, at {level_dbfs:+.0f} dBFS (limit "
        "{limit:+g} dBFS): the click by way of a loudspeaker or headphones",
        cure=SPILL_CURE,
        facts={"beats": ticks.beats, "level_dbfs": ticks.level_dbfs, "late_ms": ticks.late_ms, "spill": True},
    )


def timecode_told(song: SongEvidence, show: ShowEvidence, limit: Limit) -> dict[str, float]:
    """By stem the level of the timecode that `timecode_bleed` says leaks into it, in dBFS; limit: its own,
    in force."""
    return {
        outcome.stem: outcome.value
        for outcome in timecode_bleed.check(song, show, limit)
        if isinstance(outcome, Hit) and outcome.stem is not None and outcome.value is not None
    }


def leaks_told(song: SongEvidence, show: ShowEvidence, timecode: Limit, click: Limit) -> dict[str, float]:
    """By stem the level of the timecode or click that these rules say leaks into it, in dBFS, the louder one;
    timecode, click: their limits in force."""
    told: dict[str, float] = {}
    for outcome in (*timecode_bleed.check(song, show, timecode), *click_bleed.check(song, show, click)):
        if isinstance(outcome, Hit) and outcome.stem is not None:
            level_dbfs = outcome.facts["level_dbfs"]
            assert isinstance(level_dbfs, float)
            told[outcome.stem] = max(level_dbfs, told.get(outcome.stem, level_dbfs))
    return told


SPILL = (
    "the song's click can be heard in it, {under_db:.0f} dB under the stem, its ticks at {level_dbfs:+.0f} "
    "dBFS{rest}{late} (limit {limit:+g} {unit}): likely headphone spill"
)

SPILL_CURE = (
    "Listen to the rests, quietly. If it shows in the hall, gate or cut them, or record with closed "
    "headphones turned down."
)


def _is_spill(leak: Leak, limit: Limit) -> bool:
    return (
        leak.delay_ms is not None
        and limit["early"] <= leak.delay_ms <= limit["late"]
        and leak.spread >= limit["unsteady"]
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Decision:
    """The test that a leak did not pass, with what it says of a leak and of headphone spill."""

    value: float
    limit: float
    unit: str
    severity: Severity
    spilt: Severity


def _decided(leak: Leak, limit: Limit) -> _Decision | None:
    """The severest test first, of two that are alike the one against the stem's loudness."""
    if leak.relative_db is None:
        return None
    if leak.relative_db >= limit.value:
        return _Decision(
            value=leak.relative_db, limit=limit.value, unit="dB", severity=Severity.ERROR,
            spilt=Severity.WARNING,
        )  # fmt: skip
    if leak.in_rest and leak.level_dbfs >= limit["rest"]:
        return _Decision(
            value=leak.level_dbfs, limit=limit["rest"], unit="dBFS", severity=Severity.ERROR,
            spilt=Severity.WARNING,
        )  # fmt: skip
    if leak.relative_db >= limit["warning"]:
        return _Decision(
            value=leak.relative_db, limit=limit["warning"], unit="dB", severity=Severity.WARNING,
            spilt=Severity.NOTE,
        )  # fmt: skip
    return None


def _worst(leaks: list[Leak | None]) -> Leak | None:
    return max((leak for leak in leaks if leak is not None), key=lambda leak: leak.level_dbfs, default=None)


def _sample(stem: StemEvidence, at_s: float) -> int | None:
    return round(at_s * stem.format.sample_rate_hz) if stem.format else None


def _facts(leak: Leak) -> dict[str, float | int | str | bool | None]:
    under_db = None if leak.relative_db is None else -leak.relative_db
    return {
        "under": "" if under_db is None else f", {under_db:.0f} dB under the stem",
        "under_db": under_db,
        "level_dbfs": leak.level_dbfs,
        "late": ""
        if leak.delay_ms is None or abs(leak.delay_ms) < 0.15
        else f", {leak.delay_ms:.1f} ms late",
        "rest": ", heard alone in its rests" if leak.in_rest else "",
        "delay_ms": leak.delay_ms,
        "spread": leak.spread,
        "in_rest": leak.in_rest,
        "low_hz": leak.low_hz,
        "high_hz": leak.high_hz,
        "places": leak.places,
        "surety": leak.surety,
    }


RULES = (click_bleed, timecode_bleed)
