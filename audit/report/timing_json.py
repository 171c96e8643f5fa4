"""How a stem lies against its song's click, as the JSON report tells it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.results import Pulse
from audit.rules.places import habits

Json = Mapping[str, Any]


def alignment_json(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> Json | None:
    """The three kinds of evidence, kept apart; null where there is no click or no music to tell by."""
    if stem.alignment is None:
        return None
    phase, drift, wrong = stem.alignment.phase, stem.alignment.drift, stem.alignment.wrong_rate
    beats, change = stem.alignment.beats, stem.alignment.rearranged
    bar = stem.alignment.bar_turns
    usual = habits(show, without=song.name).get(stem.role)
    return {
        "phase": {
            "offset_ms": phase.offset_ms,
            "from_others_ms": phase.from_others_ms,
            "interquartile_ms": phase.iqr_ms,
            "onsets": phase.onsets,
            "share": phase.share,
            "confidence": phase.confidence,
            "on_beat": phase.on_beat,
            "on_quarters": list(phase.quarters) if phase.quarters else None,
            "meets_others_at": [{"lag_ms": one.lag_ms, "height": one.height} for one in phase.lags],
            "against": [
                {"stem": one.stem, "lag_ms": one.lag_ms, "meetings": one.meetings} for one in phase.against
            ],
        }
        if phase
        else None,
        "beats": {
            "shift_beats": beats.shift_beats,
            "fit": beats.at_best,
            "fit_as_is": beats.at_zero,
            "fit_half_a_beat_late": beats.half_late,
            "fit_half_a_beat_early": beats.half_early,
            "fits_best_at_beats": beats.place.at_beats if beats.place else None,
            "gain_by_changes": beats.gain_by_changes,
            "gain_by_state": beats.gain_by_state,
            "second_beats": beats.second_beats,
            "second_fit": beats.at_second,
            "usual_fit": beats.usual,
            "sure": beats.sure,
            "sure_without_loudest": beats.sure_without_loudest,
            "saying_so": list(beats.saying_so),
            "against": list(beats.against),
        }
        if beats
        else None,
        "bar": {"turns": list(bar.turns), "begins": list(bar.begins), "bars": bar.bars, "sure": bar.sure}
        if bar
        else None,
        "pulse": _pulse(stem.alignment.pulse),
        "own_pulse": _pulse(stem.alignment.own_pulse),
        "rearranged": {
            "at_s": change.at_s,
            "shift_beats": change.shift_beats,
            "fit": change.at_best,
            "fit_as_is": change.at_zero,
            "sure_before": change.sure_before,
            "sure_after": change.sure_after,
            "sure_without_loudest": change.sure_without_loudest,
            "while_playing": change.while_playing,
            "saying_so": list(change.saying_so),
            "against": list(change.against),
        }
        if change
        else None,
        "habit": {"usual_ms": usual.usual_ms, "spread_ms": usual.spread_ms, "songs": usual.songs}
        if usual
        else None,
        "drift": {
            "ppm": drift.ppm,
            "low_ppm": drift.low_ppm,
            "high_ppm": drift.high_ppm,
            "first_half_ppm": drift.first_half_ppm,
            "second_half_ppm": drift.second_half_ppm,
            "slide_ms": drift.slide_ms,
            "onsets": drift.onsets,
        }
        if drift
        else None,
        "wrong_rate": {"ratio": wrong.ratio, "fit": wrong.fit, "fit_as_is": wrong.fit_as_is}
        if wrong
        else None,
    }


def _pulse(pulse: Pulse | None) -> Json | None:
    if pulse is None:
        return None
    return {
        "per_beat": pulse.per_beat,
        "tempo_ratio": pulse.tempo_ratio,
        "fit": pulse.fit,
        "fit_on_click": pulse.on_click,
        "onsets": pulse.onsets,
        "harmony": pulse.harmony,
        "turns": {"on_click": pulse.turns[0], "at_its_own_tempo": pulse.turns[1]} if pulse.turns else None,
    }


def timing_measures(stem: StemEvidence) -> Json:
    """Its two numbers among the stem's other measures."""
    phase = stem.alignment.phase if stem.alignment else None
    drift = stem.alignment.drift if stem.alignment else None
    return {"offset_ms": phase.offset_ms if phase else None, "drift_ppm": drift.ppm if drift else None}
