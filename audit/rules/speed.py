"""The rule on stems that slide away from the click, or keep to a tempo of their own."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Severity
from audit.results import Drift, Pulse
from audit.rules.own_tempo import SLIDES, camp, camp_hit, own_tempi, own_tempo_hit
from audit.rules.phases import SLOW
from audit.rules.rule import MINUS, Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.whole_song import another_tempo
from audit.rules.whole_song_words import tempo_hit


@rule(
    id="drift-from-click",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=50.0,
        unit="ppm",
        more={
            "slide": 10.0,
            "near": 40.0,
            "near_low": 25.0,
            "slow": 50.0,
            "slow_confidence": 0.5,
            "sure": 0.4,
            "sure_short": 0.3,
            "tempo": 500.0,
            "tempo_sure": 0.5,
            "tempo_most": 0.66,
            "short_s": 120.0,
            "onsets": 30,
            "along": 20.0,
        },
    ),
    message="slides against the click: {ms_per_minute:+.1f} ms a minute, {slide_ms:+.0f} ms over the song (+ "
    "= later and later; {value:+.0f} ppm, between {low:.0f} and {high:.0f}, limit {limit:g}){beside}",
    cure="Bounce it again from the session at its own sample rate and tempo; if that session is gone, "
    "stretch the stem by {cure_ppm:+.0f} ppm. Look for a recorder on its own clock or a rate conversion "
    "that was off.",
    cure_in_general="Bounce it again from the session at its own sample rate and tempo; if that session is "
    "gone, stretch the stem by what the finding says. Look for a recorder on its own clock or a rate "
    "conversion that was off.",
    again="at the click's speed from start to end, not stretched",
    means="The stem plays a little too slowly or too fast: its distance from the click grows steadily, by "
    "more than {limit:g} ppm (1 ppm is 0.06 ms a minute) and more than {slide:g} ms over the song. Or it was "
    "made for another tempo than the song's click and other stems have. If all stems slide, or play at "
    "another tempo than the click, it is one warning for the song.",
    on_stage="In time at bar 1, beside the beat at the last chorus; nothing a fader can mend.",
    measured="A robust line through the distances of the stem's onsets from the song's beat pattern, from "
    "at least {onsets:g} onsets; its bounds allow for sections that push or lie back. An error if the "
    "lower 95 % bound passes the limit, both halves slide the same way, the bounds lie within {sure:.0%} "
    "of the slope ({sure_short:.0%} where it is known over less than {short_s:.0f} s), and at least two "
    "other stems keep to the click; a warning from {near:g} ppm with a lower bound above {near_low:g}. "
    "Brass, swelling and sung stems: from {slow:g} ms over the song on, where their onsets fit its beat "
    "pattern ({slow_confidence:g}). Where those slide too, by {along:g} ppm and more (a band that gains on "
    "its click), the cure is for what it slides past them. If all slide alike it is said once: the click "
    "or all stems (from {tempo:g} ppm on, as far as no band does, though some stems do not tell so "
    "surely). So it is where no stem keeps to the click's beat or its parts, and two and more share "
    "another pulse: the click has another tempo than the music. Where others keep to it, a stem whose "
    "onsets gather in another tempo (0.6 and more in both halves, its strongest too, and on no part of the "
    "beat) was made for that: an error of drums within 35 %, of bass, guitars and keys within 12 %, a "
    "warning of others, not of effects. Of all but drums, percussion and loops the chords have to turn at "
    "that tempo too: a tremolo and a wobble have a pulse of their own; below 1 % it is a warning without.",
    source="Own judgement: {limit:g} ppm is what ordinary crystals differ by (common practice ±10 to ±50 ppm "
    "from memory).",
)
def drift_from_click(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    tempo = another_tempo(song)
    if tempo is not None:
        yield tempo_hit(tempo, song, show)
        return
    drifts, others = _drifts(song), own_tempi(song, show)
    if not drifts and not others:
        yield NotApplicable(reason="no click, or no stem with onsets enough over 20 s to tell a slope")
        return
    yield from _of_other_tempi(song, others, limit)
    told = {stem.name for stem, _ in others}
    yield from _sliding([(stem, drift) for stem, drift in drifts if stem.name not in told], limit)


def brought_off_ms(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Mapping[str | None, float]:
    """By stem that this rule tells, how far from the click its own speed may bring it within the song; under
    None what it tells of the whole song. limit: that in force. Of another tempo there is no telling."""
    lengths_s = {
        stem.name: stem.format.frames / stem.format.sample_rate_hz
        for stem in song.stems
        if stem.format is not None and stem.format.sample_rate_hz > 0
    }
    longest_s = max(lengths_s.values(), default=math.inf)
    return {
        hit.stem: abs(hit.value) * lengths_s.get(hit.stem or "", longest_s) / 1000.0
        if abs(hit.value) < 1e6 * SLIDES
        else math.inf
        for hit in drift_from_click.check(song, show, limit)
        if isinstance(hit, Hit) and hit.value is not None
    }


def _sliding(drifts: Sequence[tuple[StemEvidence, Drift]], limit: Limit) -> Iterator[Hit]:
    """Those that slide past two others that keep to the click; or, said once, that all do."""
    sliding = [(stem, drift) for stem, drift in drifts if _slides(stem, drift, limit)]
    steady = [drift for stem, drift in drifts if _keeps(stem, drift, limit)]
    if len(sliding) >= 3 and _slide_as_one([drift for _, drift in sliding], steady, limit):
        yield _all_slide([drift for _, drift in sliding])
        return
    for stem, drift in sliding:
        apart = [other.ppm for other in steady if _tell_apart(other, drift)]
        if len(apart) >= 2:
            yield _slide_hit(stem, drift, median(apart), limit)


def _slide_as_one(sliding: list[Drift], steady: Sequence[Drift], limit: Limit) -> bool:
    """Whether they slide alike, and nobody keeps to the click: surely nobody, where they slide as far as no
    band does and a click of another tempo makes them."""
    middle = abs(median(drift.ppm for drift in sliding))
    if middle < limit["tempo"]:
        return not steady and _alike(sliding)
    surely = [drift for drift in steady if drift.high_ppm - drift.low_ppm <= limit["tempo_sure"] * middle]
    # Who sings or strums around the beat may seem to slide farther.
    like_most = [drift for drift in sliding if _is_about(drift, median(one.ppm for one in sliding))]
    same_way = all(drift.ppm * sliding[0].ppm > 0.0 for drift in sliding)
    return not surely and same_way and len(like_most) >= max(3, limit["tempo_most"] * len(sliding))


def _drifts(song: SongEvidence) -> list[tuple[StemEvidence, Drift]]:
    return [
        (stem, stem.alignment.drift)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.drift is not None and not stem.silent
    ]


def _all_slide(drifts: Sequence[Drift]) -> Hit:
    return Hit(
        value=median(drift.ppm for drift in drifts),
        severity=Severity.WARNING,
        message="all {stems} stems slide alike against the click, by {value:+.0f} ppm (limit "
        "{limit:g}): the click or all stems",
        cure="Bounce the click and the stems again from one session at one sample rate.",
        facts={"stems": len(drifts)},
    )


def _slide_hit(stem: StemEvidence, drift: Drift, steady_ppm: float, limit: Limit) -> Hit:
    """steady_ppm: the middle of the stems that keep to the click."""
    # A band that gains on the click takes its stems along: the fault is what this one slides more.
    others_ppm = steady_ppm if abs(steady_ppm) >= limit["along"] else 0.0
    return Hit(
        stem=stem.name,
        value=drift.ppm,
        severity=Severity.ERROR if _nearest_zero(drift) > limit.value else Severity.WARNING,
        facts={
            "low": drift.low_ppm,
            "high": drift.high_ppm,
            "slide_ms": drift.slide_ms,
            "ms_per_minute": 0.06 * drift.ppm,
            "cure_ppm": others_ppm - drift.ppm,
            "others_ppm": others_ppm,
            "beside": _beside(others_ppm),
            "onsets": drift.onsets,
        },
    )


def _of_other_tempi(
    song: SongEvidence, others: list[tuple[StemEvidence, Pulse]], limit: Limit
) -> Iterator[Hit]:
    alike = camp(song, others)
    in_camp = {stem.name for stem, _ in alike}
    hits = [camp_hit(alike, song)] if alike else []
    hits += [own_tempo_hit(stem, pulse, song) for stem, pulse in others if stem.name not in in_camp]
    yield from (hit for hit in hits if abs(hit.value or 0.0) > limit.value)


def _beside(others_ppm: float) -> str:
    return f"; the others slide by {others_ppm:+.0f} ppm".replace("-", MINUS) if others_ppm else ""


def _nearest_zero(drift: Drift) -> float:
    """The bound that lies nearest to no drift, as a size; 0.0 where the bounds hold zero."""
    if drift.low_ppm <= 0.0 <= drift.high_ppm:
        return 0.0
    return min(abs(drift.low_ppm), abs(drift.high_ppm))


def _slides(stem: StemEvidence, drift: Drift, limit: Limit) -> bool:
    steady = all(half * drift.ppm > 0.0 for half in (drift.first_half_ppm, drift.second_half_ppm))
    sure = _nearest_zero(drift) > limit.value or (
        abs(drift.ppm) >= limit["near"] and _nearest_zero(drift) > limit["near_low"]
    )
    # Who pushes for one verse and lies back in the next slides, as far as two minutes can tell.
    short = abs(drift.slide_ms) < limit["short_s"] * abs(drift.ppm) / 1000.0
    sure_share = limit["sure_short" if short else "sure"]
    known = drift.high_ppm - drift.low_ppm <= 2.0 * sure_share * abs(drift.ppm)
    least_ms = limit["slow"] if stem.role in SLOW else limit["slide"]
    # Who sings around the beat slides by chance.
    phase = stem.alignment.phase if stem.alignment is not None else None
    around = stem.role in SLOW and phase is not None and phase.confidence < limit["slow_confidence"]
    far = abs(drift.slide_ms) > least_ms and drift.onsets >= limit["onsets"]
    return sure and known and steady and far and not around


def _keeps(stem: StemEvidence, drift: Drift, limit: Limit) -> bool:
    return (
        not _slides(stem, drift, limit)
        and min(abs(drift.low_ppm), abs(drift.high_ppm), abs(drift.ppm)) < limit.value
    )


def _tell_apart(other: Drift, drift: Drift) -> bool:
    """Whether the other stem's bounds leave out this one's slope."""
    return not other.low_ppm <= drift.ppm <= other.high_ppm


def _alike(drifts: list[Drift]) -> bool:
    middle = median(drift.ppm for drift in drifts)
    return all(abs(drift.ppm - middle) <= max(20.0, 0.2 * abs(middle)) for drift in drifts)


def _is_about(drift: Drift, ppm: float) -> bool:
    """Whether it slides so far, or may by its bounds."""
    return abs(drift.ppm - ppm) <= 0.2 * abs(ppm) or drift.low_ppm <= ppm <= drift.high_ppm


RULES = (drift_from_click,)
