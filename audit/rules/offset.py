"""Rule on a waveform that does not stand around zero."""

from __future__ import annotations

import math
from collections.abc import Iterator

from audit.evidence import PartEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.parts import TIMECODE, sounding_parts, where_in
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import clock, to_db

END_BELOW_DB, END_ABOVE_DB = 1.0, 3.0
"""The last 50 ms hold an offset and little else where their RMS lies this near its level."""


@rule(
    id="dc-offset",
    family="level",
    severity=Severity.WARNING,
    scope="stem",
    needs=("audio",),
    limit=Limit(value=-50.0, unit="dBFS", more={"shortest_s": 5.0}),
    message="DC offset{where}: the mean is {percent:+.2f} % of full scale ({value:.1f} dBFS, limit "
    "{limit:g} dBFS)",
    cure="Put a high-pass filter (10 to 20 Hz) on the track, or use the editor's DC removal, and bounce "
    "again; check the plug-in or the interface input it came from.",
    again="without the DC offset, through a high-pass filter of 10 to 20 Hz",
    means="A constant is added to the waveform: it stands off zero by more than {limit:g} dBFS (−50 "
    "dBFS is 0.3 % of full scale), all the way or for a while.",
    on_stage="Starts, stops and edits thump in the PA, and headroom is lost on one side.",
    measured="The offset that stands under the sound of each channel, over the whole file and over its "
    "worst full 10 s: a mean that comes and goes with the notes is the instrument's waveform (many "
    "sampled and pulse-wave sounds lean to one side) and no offset. Where the level hardly changes the "
    "two cannot be told apart, and it is told only if the very first sample is already off zero, or the "
    "last 50 ms (before zeros at the end) hold the offset and little else. A shorter one is seen where it "
    "is twice the RMS of the sound about it, in rests and between strokes, for a second and more: under "
    "louder sound it looks like lopsided notes, and what swings faster is rumble. A lopsided sound behind "
    "a coupling below 0.5 Hz swings to the other side in its rests, slowly enough to be told. Files under "
    "{shortest_s:g} s have no steady mean: half a wave of a low note would pass for an offset. Of a click "
    "it is told only where it also stands between the ticks for a second and more: one-sided ones have a "
    "mean by design. Timecode is not judged.",
    source="Own judgement: −50 dBFS; no normative limit was found (from memory). Own measurement on sampled "
    "instruments: a mean has to stand by itself to be an offset. The shortest length: the mean of a "
    "full-scale tone of frequency f over T seconds is at most 1/(π·f·T), which is −53 dBFS for the lowest "
    "note of a piano, 27.5 Hz, and 5 s.",
)
def dc_offset(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    parts = sounding_parts(stem, without=TIMECODE)
    if not parts:
        yield NotApplicable(reason="no sound in it but timecode")
    elif stem.format is None or stem.format.duration_s < limit["shortest_s"]:
        yield NotApplicable(reason="too short to have a steady mean")
    else:
        for part in parts:
            levels = part.measures.levels
            mean_dbfs, worst_dbfs = to_db(abs(levels.dc_offset)), to_db(abs(levels.dc_worst_window))
            click = part.role is Role.CLICK
            if click and not _between_ticks(part, limit):
                continue
            if mean_dbfs > limit.value and (click or _told_apart(part) or _stands(part, mean_dbfs)):
                yield Hit(
                    value=mean_dbfs,
                    facts={"where": where_in(stem, part), "percent": 100 * levels.dc_offset},
                )
            elif worst_dbfs > limit.value >= mean_dbfs:
                yield Hit(
                    value=worst_dbfs,
                    at_s=levels.dc_worst_at_s,
                    message="DC offset wanders{where}: in the 10 s from {from_text} the mean is "
                    "{percent:+.2f} % of full scale ({value:.1f} dBFS, limit {limit:g} dBFS)",
                    facts={
                        "where": where_in(stem, part),
                        "percent": 100 * levels.dc_worst_window,
                        "from_text": clock(levels.dc_worst_at_s, millis=False),
                    },
                )
            elif (wander_dbfs := to_db(abs(levels.dc_wander))) > limit.value:
                yield Hit(
                    value=wander_dbfs,
                    at_s=levels.dc_wander_at_s,
                    message="DC offset comes and goes{where}: for {seconds:.1f} s from {from_text} the "
                    "waveform stands at {percent:+.2f} % of full scale ({value:.1f} dBFS, limit {limit:g} "
                    "dBFS)",
                    facts={
                        "where": where_in(stem, part),
                        "seconds": levels.dc_wander_s,
                        "percent": 100 * levels.dc_wander,
                        "from_text": clock(levels.dc_wander_at_s),
                    },
                )


def _between_ticks(part: PartEvidence, limit: Limit) -> bool:
    """Whether a click's offset shows in the whole and by itself: each alone may be what its ticks leave (own
    measurement, on one-sided pulses, bumps and decays with and without noise or a coupling under them)."""
    levels = part.measures.levels
    return min(to_db(abs(levels.dc_offset)), to_db(abs(levels.dc_wander))) > limit.value and (
        levels.dc_offset * levels.dc_wander > 0.0
    )


def _told_apart(part: PartEvidence) -> bool:
    """Whether the measure could tell offset from waveform; it gives the plain mean where it could not."""
    return part.measures.levels.dc_offset != part.measures.levels.dc_mean


def _stands(part: PartEvidence, level_dbfs: float) -> bool:
    """Whether an offset of this level is there apart from the sound: from frame 0 on, or at the end."""
    activity = part.measures.activity
    # The end's RMS is that of all channels together, and the offset may be in one of them.
    shared_db = 10.0 * math.log10(len(part.measures.channels))
    lowest, highest = level_dbfs - shared_db - END_BELOW_DB, level_dbfs + END_ABOVE_DB
    ends = (activity.end_rms_dbfs, activity.before_tail_rms_dbfs)
    return activity.first_sound_frame == 0 or any(lowest <= end <= highest for end in ends)


RULES = (dc_offset,)
