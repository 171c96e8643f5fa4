"""Which parts of a stem a content rule judges, and how a report names them."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from audit.evidence import PartEvidence, StemEvidence
from audit.facts import Role

TIMECODE = frozenset({Role.TIMECODE})
CLICK_AND_TIMECODE = frozenset({Role.CLICK, Role.TIMECODE})


def sounding_parts(stem: StemEvidence, *, without: Collection[Role] = ()) -> tuple[PartEvidence, ...]:
    """The parts that hold sound and whose role is none of `without`.

    Silence has no level, no polarity and no offset to judge: silent-stem alone speaks of it.
    """
    return tuple(part for part in stem.parts if not part.silent and part.role not in without)


def sounding_pairs(stem: StemEvidence, *, without: Collection[Role] = ()) -> tuple[PartEvidence, ...]:
    """Those of `sounding_parts` that have two sides. Click left and timecode right are two parts: no pair."""
    return tuple(
        part
        for part in sounding_parts(stem, without=without)
        if part.measures.stereo is not None and len(part.measures.peaks.channel_dbfs) == 2
    )


def where_in(stem: StemEvidence, part: PartEvidence) -> str:
    """` (timecode, channel 2)` where the file holds several parts, nothing where it holds one."""
    if len(stem.parts) < 2:
        return ""
    channels = [str(channel + 1) for channel in part.measures.channels]
    return f" ({part.role.value}, channel{'s' if len(channels) > 1 else ''} {'+'.join(channels)})"


def seconds_at(stem: StemEvidence, frame: int | None) -> float | None:
    """A frame as seconds from the start of the file; None where there is no frame, or no rate to tell by."""
    if frame is None or stem.format is None or stem.format.sample_rate_hz <= 0:
        return None
    return frame / stem.format.sample_rate_hz


def listed(names: Sequence[str], most: int = 6) -> str:
    """`Bass.wav, Pad.wav and 3 more`: a line that stays readable."""
    shown = ", ".join(names[:most])
    return f"{shown} and {len(names) - most} more" if len(names) > most else shown
