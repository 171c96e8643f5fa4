"""How much audio a file really holds, against what its header says, and the words for the difference."""

from __future__ import annotations

from dataclasses import dataclass

from audit.results import Cause, ContainerFault, FaultKind
from audit.units import clock, count, grouped

_STREAM_32 = ((0x7FFF_0000, 0x8000_0000), (0xFFFF_0000, 0xFFFF_FFFF))
# Writers that cannot go back (pipes) leave the largest signed or unsigned 32-bit number in the header,
# less their own header's size (0xFFFFFFFF and about 0x7FFFFFFF: own measurement).


def is_stream_size(claimed: int) -> bool:
    """Whether a 32-bit size is a streaming writer's stand-in for "unknown"."""
    return any(low <= claimed <= high for low, high in _STREAM_32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """Frames that can be read, and what is wrong with the header's count of them."""

    frames: int
    fault: ContainerFault | None


def settle_extent(
    *,
    claimed_bytes: int | None,
    present_bytes: int,
    more_follows: bool,
    frame_bytes: int,
    rate_hz: int,
    align: int = 1,
) -> Extent:
    """Weigh the header's claim against the file.

    claimed_bytes: length of the audio by the header; None where it was never filled in.
    present_bytes: from the audio's first byte to the end of the file.
    more_follows: what stands behind the claimed end is audio, not further chunks.
    align: chunks are padded to a multiple of this. Some writers count the padding as audio (ffmpeg's RF64 and
    Wave64, libsndfile's AIFF), so a rest that padding explains is no ragged frame.
    Source: own measurement of how libsndfile 1.2.2 and ffmpeg 5.1.9 read such files, which differs.
    """
    there = present_bytes // frame_bytes
    if claimed_bytes is None:
        if there == 0:
            return Extent(frames=0, fault=empty("no audio follows its header"))
        return Extent(frames=there, fault=_unfinished("the header gives no length", there, rate_hz, there))
    promised = claimed_bytes // frame_bytes
    if claimed_bytes > present_bytes:
        if there == 0:
            words = f"the header promises {grouped(promised)} samples, none is there"
            return Extent(frames=0, fault=empty(words))
        return Extent(frames=there, fault=truncated(promised, there, rate_hz))
    if more_follows and there > promised:
        words = f"the header counts {grouped(promised)} samples"
        return Extent(frames=there, fault=_unfinished(words, there, rate_hz, there - promised))
    if promised == 0:
        return Extent(frames=0, fault=empty("it holds not one sample"))
    ragged = claimed_bytes % frame_bytes
    is_padding = ragged < align and claimed_bytes % align == 0
    if ragged and not is_padding:
        words = f"the last sample is ragged: {ragged} of its {frame_bytes} bytes are there"
        fault = ContainerFault(
            kind=FaultKind.TRUNCATED, detail=words, value=1.0, unit="frames", at_frame=promised
        )
        return Extent(frames=promised, fault=fault)
    return Extent(frames=promised, fault=None)


def truncated(promised: int, there: int, rate_hz: int) -> ContainerFault:
    """The header promises more frames than the file holds."""
    missing_s = (promised - there) / rate_hz
    return ContainerFault(
        kind=FaultKind.TRUNCATED,
        detail=f"{_missing_words(promised - there, missing_s)} missing: the header promises "
        f"{grouped(promised)} samples, {grouped(there)} are there",
        value=missing_s,
        unit="s",
        at_frame=there,
    )


def _missing_words(frames: int, seconds: float) -> str:
    """Below a millisecond in samples: "0:00.000 missing" would say that nothing is."""
    return clock(seconds) if seconds >= 0.001 else count(frames, "sample")


def cut_short(promised_bytes: int, there_bytes: int) -> ContainerFault:
    """As `truncated`, where only bytes can be counted."""
    return ContainerFault(
        kind=FaultKind.TRUNCATED,
        detail=f"the header promises {grouped(promised_bytes)} bytes, {grouped(there_bytes)} are there",
        value=float(promised_bytes - there_bytes),
        unit="bytes",
    )


def _unfinished(words: str, there: int, rate_hz: int, uncounted: int) -> ContainerFault:
    uncounted_s = uncounted / rate_hz
    return ContainerFault(
        kind=FaultKind.UNFINISHED,
        detail=f"{words}, {grouped(there)} are there: {clock(uncounted_s)} that it does not count"
        if uncounted < there
        else f"{words}, {clock(uncounted_s)} is there ({grouped(there)} samples)",
        value=uncounted_s,
        unit="s",
    )


def empty(words: str) -> ContainerFault:
    """Zero bytes or zero frames."""
    return ContainerFault(kind=FaultKind.EMPTY, detail=words)


def unreadable(words: str, at_frame: int | None = None, *, cause: Cause = Cause.FILE) -> ContainerFault:
    """It cannot be decoded (from that frame on)."""
    return ContainerFault(kind=FaultKind.UNREADABLE, detail=words, at_frame=at_frame, cause=cause)


def damaged(words: str, at_frame: int | None = None) -> ContainerFault:
    """It decodes to something else than was stored."""
    return ContainerFault(kind=FaultKind.DAMAGED, detail=words, at_frame=at_frame)
