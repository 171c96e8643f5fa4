"""Measures in the JSON report: each key, and where its value stands among the results.

A table an object of the report. Where nothing was measured all of its keys are there, and null: a script
that reads the report never has to ask first whether a key exists.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from audit.facts import StemFormat
from audit.report.words import visible
from audit.results import MixMeasures, PartMeasures, StemMeasures

Json = dict[str, Any]

Subject = TypeVar("Subject")
Keys = Mapping[str, Callable[[Subject], object]]

FORMAT: Keys[StemFormat] = {
    "container": lambda form: form.container,
    "encoding": lambda form: form.encoding,
    "sample_rate_hz": lambda form: form.sample_rate_hz,
    "channels": lambda form: form.channels,
    "frames": lambda form: form.frames,
    "bits": lambda form: form.bits,
    "float": lambda form: form.is_float,
    "lossy": lambda form: form.lossy,
    "time_reference_frames": lambda form: form.time_reference_frames,
}
PART: Keys[PartMeasures] = {
    "integrated_lufs": lambda part: part.loudness.integrated_lufs,
    "max_momentary_lufs": lambda part: part.loudness.max_momentary_lufs,
    "max_momentary_at_s": lambda part: part.loudness.max_momentary_at_s,
    "max_short_term_lufs": lambda part: part.loudness.max_short_term_lufs,
    "loudness_range_lu": lambda part: part.loudness.range_lu,
    "true_peak_dbtp": lambda part: part.peaks.true_dbtp,
    "true_peak_at_s": lambda part: part.peaks.true_at_s,
    "sample_peak_dbfs": lambda part: part.peaks.sample_dbfs,
    "sample_peak_at_frame": lambda part: part.peaks.sample_at_frame,
    "channel_peaks_dbfs": lambda part: part.peaks.channel_dbfs,
    "silent": lambda part: part.peaks.sample_dbfs == -math.inf,
    "rms_dbfs": lambda part: part.levels.rms_dbfs,
    "active_rms_dbfs": lambda part: part.levels.active_rms_dbfs,
    "crest_db": lambda part: part.levels.crest_db,
    "dc_offset": lambda part: part.levels.dc_offset,
    "dc_worst_window": lambda part: part.levels.dc_worst_window,
    "dc_worst_at_s": lambda part: part.levels.dc_worst_at_s,
    "offset_ms": lambda part: None,  # a stem's only: timing_json lays its own over these
    "drift_ppm": lambda part: None,
    "first_sound_frame": lambda part: part.activity.first_sound_frame,
    "last_sound_frame": lambda part: part.activity.last_sound_frame,
    "active_s": lambda part: part.activity.active_s,
    "end_rms_dbfs": lambda part: part.activity.end_rms_dbfs,
    "zero_tail_frames": lambda part: part.activity.zero_tail_frames,
    "clipped_runs": lambda part: part.clipping.runs,
    "clipped_long_runs": lambda part: part.clipping.long_runs,
    "longest_clip_frames": lambda part: part.clipping.longest_frames,
    "first_clip_at_frame": lambda part: part.clipping.first_at_frame,
    "samples_over_full_scale": lambda part: part.clipping.over_full_scale,
    "flat_tops": lambda part: part.flat_tops.plateaus,
    "flat_top_level_dbfs": lambda part: part.flat_tops.level_dbfs,
    "correlation": lambda part: part.stereo and part.stereo.correlation,
    "sides_identical": lambda part: part.stereo and part.stereo.difference_db == -math.inf,
    "difference_db": lambda part: part.stereo and part.stereo.difference_db,
    "mid_side_db": lambda part: part.stereo and part.stereo.mid_side_db,
    "imbalance_db": lambda part: part.stereo and part.stereo.imbalance_db,
    "timecode_share": lambda part: part.nature.timecode_share,
    "tick_share": lambda part: part.nature.tick_share,
}
WHOLE_FILE: Keys[StemMeasures] = {
    "decoded_frames": lambda audio: audio.frames,
    "bits_in_use": lambda audio: audio.bits_in_use,
    "content_hash": lambda audio: audio.content_hash,
    "not_finite": lambda audio: audio.not_finite,
    "md5_checked": lambda audio: audio.md5_checked,
}
MIX: Keys[MixMeasures] = {
    "integrated_lufs": lambda mix: mix.loudness.integrated_lufs,
    "true_peak_dbtp": lambda mix: mix.peaks.true_dbtp,
    "loudness_range_lu": lambda mix: mix.loudness.range_lu,
    "max_momentary_lufs": lambda mix: mix.loudness.max_momentary_lufs,
    "max_momentary_at_s": lambda mix: mix.loudness.max_momentary_at_s,
    "max_short_term_lufs": lambda mix: mix.loudness.max_short_term_lufs,
    "sample_peak_dbfs": lambda mix: mix.peaks.sample_dbfs,
    "true_peak_at_s": lambda mix: mix.peaks.true_at_s,
}


def format_json(form: StemFormat | None) -> Json:
    """How a stem is stored; all null where the header could not be read (`failure` says why)."""
    return _values(FORMAT, form)


def part_json(part: PartMeasures | None) -> Json:
    """Every measure of a part, flat. All null where nothing could be decoded."""
    return _values(PART, part)


def whole_file_json(audio: StemMeasures | None) -> Json:
    """What was learned of the file as a whole; all null where nothing could be decoded."""
    return _values(WHOLE_FILE, audio)


def mix_json(mix: MixMeasures | None, failure: str | None) -> Json:
    """The song as the audience hears it. All null where no stem belongs to the sum (a click-only song), and
    where it was not measured: `unmeasured` then says why."""
    return {
        **_values(MIX, mix),
        "silent": mix is not None and mix.peaks.sample_dbfs == -math.inf,
        "unmeasured": failure,
        "from_stems": mix.from_stems if mix else (),
        "left_out": [
            {"stem": stem, "reason": visible(reason)} for stem, reason in (mix.left_out if mix else ())
        ],
    }


def _values(keys: Keys[Subject], subject: Subject | None) -> Json:
    return {key: None if subject is None else value_of(subject) for key, value_of in keys.items()}
