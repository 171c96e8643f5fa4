"""Rules on damage by too much level: clipped, clipped and turned down, over between the samples."""

from __future__ import annotations

import math
from collections.abc import Iterator

from audit.evidence import PartEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import FlatTops, PartMeasures
from audit.rules.parts import TIMECODE, seconds_at, sounding_parts, where_in
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.scrambled import full_scale_noise, is_noise
from audit.units import clock, count, grouped

SHORTEST_FOR_A_RATE_S = 30.0
"""Less sound than this counts as this much: a 2 s sample with two runs is not a stem with sixty a minute."""

SAME_LEVEL_DB = 0.1
"""Plateaus further than this below the highest sample are not what limits the waveform."""


@rule(
    id="sample-clipping",
    family="level",
    severity=Severity.ERROR,
    scope="stem",
    needs=("audio",),
    limit=Limit(value=3, unit="samples", more={"error_run": 10, "error_runs_per_minute": 20}),
    message="clipped{where}: {runs_text} at full scale, the longest {value:.0f} samples{longest_at} "
    "(limit {limit:g}); {rate_text} a minute",
    cure="Turn the track down before the clipping stage and bounce it again; turning the clipped file down "
    "does not mend it.",
    again="turned down before the stage that clips, with peaks below −1 dBTP",
    means="{limit:g} or more samples in a row stand at full scale: the tops of the waveform are cut off. An "
    "error from {error_run:g} in a row, or past {error_runs_per_minute:g} runs a minute of sound.",
    on_stage="It crackles or sounds harsh in the PA, and the sound engineer cannot take it out again. On a "
    "click it is a warning at most: it still counts, but it is as loud as a file can be, in somebody's ears.",
    measured="Runs of samples of one sign at full scale, counted in every channel and added up; the rate "
    "is taken over the time that sounds, at least 30 s. One or two samples at full scale are legal. "
    "Formats that can hold more than full scale (float) are first judged by their samples above it, a "
    "warning at most: the file still holds those tops. Float audio that never passes full scale is judged "
    "as any other: tops cut off at exactly 1.0 are lost. 16-bit audio in larger samples is judged by the "
    "full scale of 16 bits. Timecode is not judged: a square wave stands at full "
    "scale by design.",
    source="No agreed standard. Over counters have offered 3, 4, 8 and 16 full-scale samples in a row, "
    "and 4 was a usual limit for masters (common practice); 3 in a row is the usual software default "
    "(from memory). What makes it an error: own judgement. Full scale: AES17.",
)
def sample_clipping(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    parts = sounding_parts(stem, without=TIMECODE)
    if not parts:
        yield NotApplicable(reason="no sound in it but timecode, which stands at full scale by design")
    for part in parts:
        measures = part.measures
        if measures.clipping.over_full_scale >= limit.value:
            yield _over_full_scale(stem, part)
        elif measures.clipping.longest_frames >= limit.value:
            yield _clipped(stem, part, limit)


def _clipped(stem: StemEvidence, part: PartEvidence, limit: Limit) -> Hit:
    clipping = part.measures.clipping
    minutes = max(part.measures.activity.active_s, SHORTEST_FOR_A_RATE_S) / 60.0
    rate = clipping.runs / minutes
    long, often = clipping.longest_frames >= limit["error_run"], rate > limit["error_runs_per_minute"]
    error = (long or often) and part.role is not Role.CLICK
    by_rate = error and not long
    longest_at_s = seconds_at(stem, clipping.longest_at_frame)
    return Hit(
        value=rate if by_rate else float(clipping.longest_frames),
        limit=limit["error_runs_per_minute"] if by_rate else None,
        unit="runs a minute" if by_rate else None,
        message=_OFTEN if by_rate else None,
        sample=clipping.first_at_frame,
        at_s=seconds_at(stem, clipping.first_at_frame),
        severity=Severity.ERROR if error else Severity.WARNING,
        cure=_CLICK_CURE if part.role is Role.CLICK else None,
        facts={
            "where": where_in(stem, part),
            "runs": clipping.runs,
            "runs_text": count(clipping.runs, "place"),
            "long_runs": clipping.long_runs,
            "longest": clipping.longest_frames,
            "longest_at": "" if longest_at_s is None else f" at {clock(longest_at_s)}",
            "longest_at_s": longest_at_s,
            "runs_a_minute": rate,
            "rate_text": grouped(rate) if rate >= 100 else f"{rate:.1f}",
        },
    )


_OFTEN = (
    "clipped{where}: {runs_text} at full scale, the longest {longest} samples{longest_at}; {rate_text} a "
    "minute (limit {limit:g})"
)

_CLICK_CURE = (
    "Turn the click down at its source and bounce it again. It stands at full scale: turn your ear mix down "
    "before you check it."
)


def _over_full_scale(stem: StemEvidence, part: PartEvidence) -> Hit:
    peaks = part.measures.peaks
    return Hit(
        value=float(part.measures.clipping.over_full_scale),
        sample=peaks.sample_at_frame,
        at_s=seconds_at(stem, peaks.sample_at_frame),
        severity=Severity.WARNING,
        message="above full scale{where}: {value:.0f} samples (limit {limit:g}). The file keeps them; a "
        "converter, or a bounce to 16 or 24 bits, cuts off up to {over_db:.1f} dB of their tops",
        cure="Turn the track down by at least {over_db:.1f} dB at its source and bounce it again; nothing "
        "is lost in this file yet, so lowering the file itself mends it too.",
        facts={"where": where_in(stem, part), "over_db": _rounded_up(peaks.sample_dbfs)},
        again="at least {over_db:.1f} dB lower at its source",
    )


@rule(
    id="flattened-peaks",
    family="level",
    severity=Severity.WARNING,
    scope="stem",
    needs=("audio",),
    heeds=(sample_clipping,),
    limit=Limit(
        value=2,
        unit="plateaus",
        more={"share": 0.2, "many": 10, "alone_ms": 0.25, "pairs": 4, "pairs_share": 0.12},
    ),
    message="flattened peaks{where}: {value:.0f} tops are cut off at {level_dbfs:.1f} dBFS (limit "
    "{limit:g}), the longest {longest:d} samples: it was clipped, then turned down{true_peak}",
    cure="Find what clips before this file's fader (a plug-in, a bus, an older bounce), turn that down and "
    "bounce again.",
    again="turned down before the stage that clips, with peaks below −1 dBTP",
    means="The waveform is cut off flat in {limit:g} places or more ({pairs:g} where they are two samples "
    "long), or in a single one for {alone_ms:g} ms, at one level below full scale: it was clipped first and "
    "turned down afterwards.",
    on_stage="It is as harsh as any clipped track, but no meter shows an over.",
    measured="Plateaus of three or more equal samples at the part's own maximum, within 0.1 dB of its "
    "highest sample, which the waveform enters and leaves at a corner. Fewer than {many:g} count where the "
    "wave comes to exactly that level {limit:g} times or more and never beyond it, or where one lasts for "
    "{alone_ms:g} ms. Tops of two equal samples count from {pairs:g} different ones on, far above their "
    "neighbours, where they are {pairs_share:.0%} and more of all that come to that level: what a limiter "
    "makes equally high seldom lies so. Equal means within the dither of the file's own bits, or of 16. "
    "Waves that stand at "
    "that level for {share:.0%} of their sound or more are square by design. Not judged where "
    "sample-clipping speaks, nor on click, guide and timecode, which are made of corners or have a click "
    "mixed in.",
    source="Own measurement: a test for full scale misses audio that was turned down after it clipped, so "
    "the flat runs at the file's own maximum are looked for. The number: own judgement.",
)
def flattened_peaks(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    parts = [
        part
        for part in sounding_parts(stem)
        if part.audience and not clips(part.measures, limit.of(sample_clipping))
    ]
    if not parts:
        yield NotApplicable(reason="nothing for the audience in it that is not clipped at full scale")
    for part in parts:
        if _has_plateaus(stem, part.measures, limit):
            yield _flattened(stem, part, limit)
        elif _has_pairs(part.measures, limit):
            yield _flattened_in_pairs(stem, part, limit)


def _flattened(stem: StemEvidence, part: PartEvidence, limit: Limit) -> Hit:
    tops = part.measures.flat_tops
    several = _are_several(tops, limit)
    return Hit(
        value=float(tops.plateaus) if several else 1.0,
        limit=None if several else 1.0,
        message=None if several else _ONE_TOP,
        sample=tops.first_at_frame,
        at_s=seconds_at(stem, tops.first_at_frame),
        facts={
            "where": where_in(stem, part),
            "level_dbfs": tops.level_dbfs,
            "longest": tops.longest_frames,
            "share_of_sound": tops.share,
            "true_peak": _true_peak(part),
        },
    )


def _flattened_in_pairs(stem: StemEvidence, part: PartEvidence, limit: Limit) -> Hit:
    tops = part.measures.flat_tops
    return Hit(
        value=float(tops.pairs),
        limit=limit["pairs"],
        message=_PAIRS,
        sample=tops.pairs_at_frame,
        at_s=seconds_at(stem, tops.pairs_at_frame),
        facts={
            "where": where_in(stem, part),
            "level_dbfs": tops.pairs_dbfs,
            "among": tops.pairs_among,
            "true_peak": _true_peak(part),
        },
    )


def _true_peak(part: PartEvidence) -> str:
    true_dbtp = part.measures.peaks.true_dbtp
    return f"; its true peak is +{true_dbtp:.2f} dBTP" if true_dbtp > 0.0 else ""


_ONE_TOP = (
    "a flattened peak{where}: one top is cut off at {level_dbfs:.1f} dBFS for {longest:d} samples: it was "
    "clipped, then turned down{true_peak}"
)

_PAIRS = (
    "flattened peaks{where}: {value:.0f} of {among:d} tops at {level_dbfs:.1f} dBFS are cut off for two "
    "samples (limit {limit:g}): it was clipped, then turned down{true_peak}"
)


@rule(
    id="true-peak-over",
    family="level",
    severity=Severity.WARNING,
    scope="stem",
    needs=("audio",),
    heeds=(sample_clipping, flattened_peaks, full_scale_noise),
    limit=Limit(value=0.0, unit="dBTP"),
    message="true peak{where} {value:+.2f} dBTP, limit {limit:+.2f} dBTP; highest sample "
    "{sample_dbfs:+.2f} dBFS",
    cure="Turn the track down by at least {over_db:.1f} dB, or set its limiter to true peak, and bounce "
    "again.",
    cure_in_general="Turn the track down by what it is over, or set its limiter to true peak, and bounce "
    "again.",
    again="at least {over_db:.1f} dB lower, or with a limiter for true peaks",
    means="The waveform between samples rises above {limit:+.1f} dBTP.",
    on_stage="The converter clips what the sample meter never showed: an edge on the loudest hits in the PA.",
    measured="Highest value of the interpolated signal over all channels. Told only where sample-clipping "
    "finds no run of full-scale samples, flattened-peaks no flat tops and full-scale-noise no noise: those "
    "are the same fault, and the graver one. Click, guide and "
    "timecode are not judged: ticks and square waves overshoot by design, and no audience hears the edge.",
    source="ITU-R BS.1770-5 Annex 2 (the measure); the limit: own judgement, the converter's full scale.",
)
def true_peak_over(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    if is_noise(stem, limit.of(full_scale_noise)):
        yield NotApplicable(reason="noise in place of sound: see full-scale-noise")
        return
    parts = [
        part
        for part in sounding_parts(stem)
        if part.audience and not clips(part.measures, limit.of(sample_clipping))
    ]
    parts = [part for part in parts if not _is_flattened(stem, part.measures, limit.of(flattened_peaks))]
    if not parts:
        yield NotApplicable(reason="nothing for the audience in it that is not clipped")
    for part in parts:
        peaks = part.measures.peaks
        if peaks.true_dbtp > limit.value:
            yield Hit(
                value=peaks.true_dbtp,
                at_s=peaks.true_at_s,
                facts={
                    "where": where_in(stem, part),
                    "sample_dbfs": peaks.sample_dbfs,
                    "over_db": _rounded_up(peaks.true_dbtp - limit.value),
                },
            )


def clips(measures: PartMeasures, limit: Limit) -> bool:
    """Whether sample-clipping, at this limit, has something to say of it."""
    least = limit.value
    return measures.clipping.longest_frames >= least or measures.clipping.over_full_scale >= least


def _is_flattened(stem: StemEvidence, measures: PartMeasures, limit: Limit) -> bool:
    return _has_plateaus(stem, measures, limit) or _has_pairs(measures, limit)


def _has_pairs(measures: PartMeasures, limit: Limit) -> bool:
    tops = measures.flat_tops
    enough = tops.pairs >= limit["pairs"] and tops.pairs >= limit["pairs_share"] * tops.pairs_among
    return enough and measures.peaks.sample_dbfs - tops.pairs_dbfs <= SAME_LEVEL_DB


def _has_plateaus(stem: StemEvidence, measures: PartMeasures, limit: Limit) -> bool:
    tops = measures.flat_tops
    at_the_top = measures.peaks.sample_dbfs - tops.level_dbfs <= SAME_LEVEL_DB
    longest_s = seconds_at(stem, tops.longest_frames) or 0.0
    enough = _are_several(tops, limit) or 1000.0 * longest_s >= limit["alone_ms"]
    return enough and tops.share < limit["share"] and at_the_top


def _are_several(tops: FlatTops, limit: Limit) -> bool:
    return tops.plateaus >= limit["many"] or min(tops.plateaus, tops.touches) >= limit.value


def _rounded_up(level_db: float) -> float:
    """To the next 0.1 dB: an advice that is rounded down would not be enough."""
    return math.ceil(round(level_db * 10, 6)) / 10


RULES = (sample_clipping, flattened_peaks, true_peak_over)
