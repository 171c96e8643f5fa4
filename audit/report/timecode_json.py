"""Timecode in the JSON report."""

from __future__ import annotations

from typing import Any

from audit.evidence import SongEvidence
from audit.results import TimecodeTrack


def song_timecode(song: SongEvidence) -> dict[str, Any] | None:
    """The song's timecode: its range, what it is, and every place where it leaves its count; None without.

    start and end are the first and the last frame's numbers in the order of time (drop-frame counting with a
    semicolon), rate is "23.976", "24", "25", "29.97 NDF", "29.97 DF" or "30". Where a song has several, the
    first that can be read.
    """
    for stem, part in song.timecode_parts:
        track = part.measures.timecode
        if track is not None:
            return {"stem": stem.name, **_track(track)}
    return None


def _track(track: TimecodeTrack) -> dict[str, Any]:
    rate = track.rate
    return {
        "channel": track.channel,
        "start": track.first.text(rate),
        "end": track.last.text(rate),
        "rate": rate.text,
        "drop_frame": rate.drop_frame,
        "jumps": track.jump_count,
        "start_s": track.start_s,
        "end_s": track.end_s,
        "frames": track.frames,
        "frames_per_s": track.frames_per_s,
        "off_ppm": track.off_ppm,
        "drop_flags": track.drop_flags,
        "dropped_minutes": track.dropped_minutes,
        "plain_minutes": track.plain_minutes,
        "user_bits": track.user_bits,
        "user_bits_change": track.user_bits_change,
        "backward": track.backward,
        "level_dbfs": track.level_dbfs,
        "lowest_level_dbfs": track.lowest_level_dbfs,
        "lowest_level_at_s": track.lowest_level_at_s,
        "edge_error": track.edge_error,
        "runs": [
            {
                "start": run.first.text(rate),
                "end": run.last.text(rate),
                "start_s": run.start_s,
                "end_s": run.end_s,
            }
            for run in track.runs
        ],
        "jump_list": [
            {
                "kind": jump.kind.value,
                "at_s": jump.at_s,
                "before": jump.before.text(rate),
                "after": jump.after.text(rate),
                "frames": jump.frames,
                "silent": jump.silent,
            }
            for jump in track.jumps
        ],
    }
