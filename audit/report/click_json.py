"""A song's click in the JSON report."""

from __future__ import annotations

from typing import Any

from audit.evidence import SongEvidence


def song_click(song: SongEvidence) -> dict[str, Any] | None:
    """Everything known of the click; None where the song has none, or none was found in its click stem."""
    click = song.click
    if click is None:
        return None
    return {
        "stem": song.click_stem,
        "first_beat_s": click.first_beat_s,
        "bpm": click.bpm,
        "beats": len(click.beats_s),
        "metre": click.metre,
        "count_in_beats": click.count_in_beats,
        "ticks_a_beat": click.subdivision,
        "runs": [
            {
                "first_beat_s": click.beats_s[run.first_beat],
                "beats": run.beats,
                "bpm_first": run.bpm_first,
                "bpm_last": run.bpm_last,
                "steady": run.steady,
                "tempi": [
                    {"at_s": one.at_s, "bpm_first": one.bpm_first, "bpm_last": one.bpm_last}
                    for one in run.tempi
                ],
            }
            for run in click.runs
        ],
        "gaps": [{"at_s": gap.at_s, "beats": gap.beats} for gap in click.gaps],
        "extras": [
            {"at_s": extra.at_s, "off_ms": 1000.0 * extra.off_s, "instead_of_beat": extra.instead}
            for extra in click.extras
        ],
        "tempo_changes": [{"at_s": change.at_s, "ratio": change.ratio} for change in click.changes],
        "pauses": [{"start_s": pause.start_s, "end_s": pause.end_s} for pause in click.pauses],
        "jumps": [
            {
                "at_s": jump.at_s,
                "by_ms": 1000.0 * jump.by_s,
                "stems_on_old_beats": jump.kept,
                "stems_on_new_beats": jump.went,
            }
            for jump in click.jumps
        ],
        "miscounts": [
            {
                "at_s": one.at_s,
                "next_bar_s": one.next_bar_s,
                "beats_too_many": one.beats,
                "beats_a_bar": one.bar,
                "stems_on_old_bars": one.kept,
            }
            for one in click.miscounts
        ],
        "beats_s": click.beats_s,
        "accents": click.accents,
    }
