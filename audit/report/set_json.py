"""What the settings ask, in the JSON report: the set list of the night, and the outputs of a song."""

from __future__ import annotations

from typing import Any

from audit.evidence import SongEvidence
from audit.findings import ShowAudit
from audit.report.verdict import night_verdict
from audit.rules.neighbours import worst_step
from audit.rules.setlist import in_no_set, lengths_of


def set_list_json(audit: ShowAudit) -> dict[str, Any] | None:
    """None where the scan was for no set list. Its verdict is that of its songs alone."""
    show = audit.evidence
    order = show.order
    if order is None:
        return None
    verdict = night_verdict(audit)
    lengths = lengths_of(show)
    worst = worst_step(show)
    return {
        "name": order.set_list.name,
        "source": order.set_list.source,
        "verdict": None if verdict is None else verdict.value,
        "songs": [
            {"name": place.name, "song": place.song, "half": place.half + 1, "begins_s": begins_s}
            for place, begins_s in zip(order.places, order.begins_s(lengths), strict=True)
        ],
        "length_s": order.length_s(lengths),
        "without_length": order.without_length(lengths),
        "time_s": order.time_s,
        "missing": [place.name for place in order.missing],
        "in_no_set": in_no_set(show, [order, *show.orders]),
        "largest_step": None if worst is None else {"songs": worst.songs, "lu": worst.by_lu},
    }


def outputs_json(song: SongEvidence) -> list[dict[str, Any]] | None:
    """The sum of each output; None where the settings have no patch for the song."""
    if song.outputs is None:
        return None
    return [
        {
            "output": out.output,
            "true_peak_dbtp": out.peaks.true_dbtp,
            "true_peak_at_s": out.peaks.true_at_s,
            "sample_peak_dbfs": out.peaks.sample_dbfs,
            "from_stems": out.from_stems,
        }
        for out in song.outputs
    ]
