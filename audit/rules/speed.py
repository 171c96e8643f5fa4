"""Rules on stems that slide away from the click, or run at another rate."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Severity
from audit.results import Drift, Pulse
from audit.rules.own_tempo import camp, camp_hit, own_tempi, own_tempo_hit
from audit.rules.phases import SLOW
from audit.rules.rule import MINUS, Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.whole_song import another_tempo
from audit.rules.whole_song_words import tempo_hit

RATIOS = {
    160 / 147: "44.1 kHz audio under a 48 kHz header (or 88.2 under 96)",
    147 / 160: "48 kHz audio under a 44.1 kHz header (or 96 under 88.2)",
    2.0: "audio of half the rate that the header claims",
    0.5: "audio of twice the rate that the header claims",
    320 / 147: "44.1 kHz audio under a 96 kHz header",
    147 / 320: "96 kHz audio under a 44.1 kHz header",
}

SIMPLE, FRAMES_OFF = (0.5, 2.0), 2
"""Ratios that music has among its own lengths; and what conversions round a length by."""


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
            "short_s": 120.0,
            "onsets": 30,
            "along": 20.0,
        },
    ),
    message="slides against the click: {ms_per_minute:+.1f} ms a minute, {slide_ms:+.0f} ms over the song (+ "
    "= later and later; {value:+.0f} ppm, between {low:.0f} and {high:.0f}, limit {limit:.0f}){beside}",
    cure="Bounce it again from the session at its own sample rate and tempo; if that session is gone, "
    "stretch the stem by {cure_ppm:+.0f} ppm. Look for a recorder on its own clock or a rate conversion "
    "that was off.",
    again="at the click's speed from start to end, not stretched",
    means="The stem plays a little too slowly or too fast: its distance from the click grows steadily, by "
    "more than {limit:g} ppm (1 ppm is 0.06 ms a minute) and more than {slide:g} ms over the song. Or it was "
    "made for another tempo than the song's click and other stems have. If all stems slide, or play at "
    "another tempo than the click, it is one warning for the song.",
    on_stage="In time at bar 1, beside the beat at the last chorus; nothing a fader can mend.",
    measured="A robust line through the distances of the stem's onsets from the song's beat pattern "
    "(audit.measure.slide), from at least {onsets:g} onsets; its bounds allow for sections that push or lie "
    "back. An error if the lower 95 % bound passes the limit, both halves slide the same way, the bounds "
    "lie within {sure:.0%} of the slope ({sure_short:.0%} where it is known over less than {short_s:.0f} "
    "s), and at least two other stems keep to the click; a warning from {near:g} ppm with a lower bound "
    "above {near_low:g}. Brass, swelling and sung stems: from {slow:g} ms over the song on, where their "
    "onsets fit its beat pattern ({slow_confidence:g}). Where those slide too, by {along:g} ppm and more (a "
    "band that gains on its click), the cure is for what it slides past them. If all slide alike it is said "
    "once: the click or all stems. So it is where no stem keeps to the click's beat or its parts, and two "
    "and more share another pulse (audit.measure.pulse): the click has another tempo than the music. Where "
    "others keep to it, a stem whose onsets gather in another tempo (0.6 and more in both halves, its "
    "strongest too, and on no part of the beat) was made for that: an error of drums within 35 %, of bass, "
    "guitars and keys within 12 %, a warning of others, not of effects. Of all but drums, percussion and "
    "loops the chords have to turn at that tempo too (audit.measure.own_turns): a tremolo and a wobble have "
    "a pulse of their own; below 1 % it is a warning without.",
    source="Own judgement: {limit:g} ppm is what ordinary crystals differ by (common practice ±10 to ±50 ppm "
    "[memory]).",
)
def drift_from_click(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    tempo = another_tempo(song)
    if tempo is not None:
        yield tempo_hit(tempo, song, show)
        return
    drifts = [
        (stem, stem.alignment.drift)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.drift is not None and not stem.silent
    ]
    others = own_tempi(song, show)
    if not drifts and not others:
        yield NotApplicable(reason="no click, or no stem with onsets enough over 20 s to tell a slope")
        return
    yield from (hit for hit in _of_other_tempi(song, others) if abs(hit.value or 0.0) > limit.value)
    told = {stem.name for stem, _ in others}
    drifts = [(stem, drift) for stem, drift in drifts if stem.name not in told]
    sliding = [(stem, drift) for stem, drift in drifts if _slides(stem, drift, limit)]
    steady = [drift for stem, drift in drifts if _keeps(stem, drift, limit)]
    if len(sliding) >= 3 and not steady and _alike([drift for _, drift in sliding]):
        worst = max((drift for _, drift in sliding), key=lambda drift: abs(drift.ppm))
        yield Hit(
            value=worst.ppm,
            severity=Severity.WARNING,
            message="all {stems} stems slide alike against the click, by {value:+.0f} ppm (limit "
            "{limit:.0f}): the click or all stems",
            cure="Bounce the click and the stems again from one session at one sample rate.",
            facts={"stems": len(sliding)},
        )
        return
    for stem, drift in sliding:
        apart = [other.ppm for other in steady if _tell_apart(other, drift)]
        if len(apart) >= 2:
            # A band that gains on the click takes its stems along: the fault is what this one slides more.
            others_ppm = median(apart) if abs(median(apart)) >= limit["along"] else 0.0
            yield Hit(
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


def _of_other_tempi(song: SongEvidence, others: list[tuple[StemEvidence, Pulse]]) -> Iterator[Hit]:
    alike = camp(song, others)
    if alike:
        yield camp_hit(alike, song)
    in_camp = {stem.name for stem, _ in alike}
    for stem, pulse in others:
        if stem.name not in in_camp:
            yield own_tempo_hit(stem, pulse, song)


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


@rule(
    id="wrong-rate-header",
    family="format",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=30, unit="onsets"),
    message="its hits meet the other stems' only if it runs at another rate, {ratio:.4f} times as long "
    "({fit:.0f} % then, {as_is:.0f} % as it is): {kind}",
    cure="Put the right rate into the header (no conversion), then convert it properly to the show's rate; "
    "or bounce it again.",
    again="with the sample rate in its header that its audio has",
    means="The file's header claims another sample rate than its audio was made at: it plays at the wrong "
    "speed and pitch. Judged from {limit:g} onsets on, or by the number of its frames.",
    on_stage="The stem runs away from the click from the first bar, a semitone and more out of tune.",
    measured="Onsets laid against the click and the other stems at 160/147, 2, 320/147 and their inverses "
    "(audit.measure.alignment). Or it holds, to the frame, as many as at least half of the song's others, "
    "two and more, whose headers name another rate, by one of these ratios: converted, it would hold more "
    "or fewer. Or it is by 160/147 or 320/147 longer or shorter than at least half of them, two and more, to "
    "two frames.",
    source="The ratios of 44.1, 48, 88.2 and 96 kHz; how sure it has to be: own measurement.",
)
def wrong_rate_header(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    by_frames, by_length = _of_the_others_frames(song), _of_the_others_length(song)
    if all(stem.alignment is None for stem in song.stems) and not by_frames | by_length:
        yield NotApplicable(reason="no click to tell by")
        return
    for stem in song.stems:
        wrong = stem.alignment.wrong_rate if stem.alignment is not None else None
        if wrong is not None and wrong.onsets >= limit.value:
            yield Hit(
                stem=stem.name,
                value=float(wrong.onsets),
                facts={
                    "ratio": wrong.ratio,
                    "fit": 100.0 * wrong.fit,
                    "as_is": 100.0 * wrong.fit_as_is,
                    "kind": RATIOS.get(wrong.ratio, "another sample rate"),
                },
            )
        elif stem.name in by_frames and stem.format is not None:
            frames, ratio = stem.format.frames, by_frames[stem.name]
            yield Hit(
                stem=stem.name,
                value=float(frames),
                unit="frames",
                message="holds {frames} frames as the song's other stems do, under another rate in its "
                "header, and so lasts {longer:.4f} times as long as they: {kind}",
                facts={
                    "ratio": ratio,
                    "frames": frames,
                    "longer": 1.0 / ratio,
                    "kind": RATIOS[ratio],
                },
            )
        elif stem.name in by_length and stem.format is not None:
            ratio = by_length[stem.name]
            yield Hit(
                stem=stem.name,
                value=float(stem.format.frames),
                unit="frames",
                message="holds {frames} frames, {longer:.4f} times as many as the song's other stems at that "
                "rate, to the frame or two: {kind}",
                facts={
                    "ratio": ratio,
                    "frames": stem.format.frames,
                    "longer": 1.0 / ratio,
                    "kind": RATIOS[ratio],
                },
            )


def at_wrong_rate(song: SongEvidence, limit: Limit) -> frozenset[str]:
    """The stems that are told so: limit is that of `wrong_rate_header`. They say nothing of the song's
    length, and are not to be converted."""
    heard = {
        stem.name
        for stem in song.stems
        if stem.alignment is not None
        and stem.alignment.wrong_rate is not None
        and stem.alignment.wrong_rate.onsets >= limit.value
    }
    return frozenset(heard | _of_the_others_frames(song).keys() | _of_the_others_length(song).keys())


def _of_the_others_frames(song: SongEvidence) -> dict[str, float]:
    """Stems that hold, to the frame, as many as at least half of the song's others, two and more, that have
    another rate: by name, how many times as long they would last at that. A converted one holds more or
    fewer."""
    forms = [
        (stem.name, stem.format) for stem in song.stems if stem.format is not None and stem.format.frames
    ]
    found = {}
    for name, form in forms:
        others = [other for other_name, other in forms if other_name != name]
        alike = [
            other
            for other in others
            if other.frames == form.frames and other.sample_rate_hz != form.sample_rate_hz
        ]
        same = sum(
            other.frames == form.frames and other.sample_rate_hz == form.sample_rate_hz for other in others
        )
        # Of two camps the smaller one is wrong, and of two alike nobody knows which.
        if len(alike) >= 2 and 2 * len(alike) >= len(others) and len(alike) > same + 1:
            ratio = form.sample_rate_hz / alike[0].sample_rate_hz
            near = next((one for one in RATIOS if abs(one / ratio - 1.0) < 1e-6), None)
            if near is not None:
                found[name] = near
    return found


def _of_the_others_length(song: SongEvidence) -> dict[str, float]:
    """Stems as long as the others would be at another rate: by name, how many times as long they would last
    at that. The rates' ratios alone that no cut of the music makes: half as long may be half the song."""
    forms = [
        (stem.name, stem.format) for stem in song.stems if stem.format is not None and stem.format.frames
    ]
    found = {}
    for name, form in forms:
        others = [other for other_name, other in forms if other_name != name]
        lengths = Counter(one.frames for one in others if one.sample_rate_hz == form.sample_rate_hz)
        frames, count = lengths.most_common(1)[0] if lengths else (0, 0)
        # Of two camps the smaller one is wrong, and of two alike nobody knows which.
        if count < 2 or 2 * count < len(others) or count <= lengths[form.frames] + 1:
            continue
        for ratio in RATIOS:
            if ratio not in SIMPLE and abs(form.frames * ratio - frames) <= FRAMES_OFF:
                found[name] = ratio
    return found


RULES = (drift_from_click, wrong_rate_header)
