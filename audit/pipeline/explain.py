"""What was done to a stem, as people who bounce say it: louder, later, longer, edited from here to there."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from audit.facts import StemFormat
from audit.measure.sketch import levels_dbfs
from audit.measure.sketch_delta import SOUNDS_DBFS, WHOLE, Fit, Overlap, Resketch, laid_over
from audit.results import AudioChange, ChangeKind, Sketch
from audit.units import khz

GAIN_DB = 0.02
"""Less is the rounding of highest samples."""

BAR_S = 0.02
"""By so much whole bars may be off."""

GAP_CHUNKS = 4
"""Between two edited places; fewer and it is one."""


MOST_EDITS, FEW_EDITS, HALF = 6, 2, 0.75
"""Whoever edits does so in a few places; what differs in more, or in some and in much, was processed."""


def explain_audio(
    old: Sketch,
    new: Sketch,
    *,
    resketch: Resketch | None = None,
    bar_s: float | None = None,
    sounds_alike: Callable[[], bool] = lambda: False,
) -> tuple[AudioChange, ...]:
    """What was done to the audio, main change first; never empty. Only for stems whose audio differs.

    resketch: the new audio's sketch on another grid, where the audio is at hand. bar_s: length of a bar,
    where the song's click tells one. sounds_alike: their fingerprints do, whatever became of the samples.
    """
    if old.rate_hz != new.rate_hz:
        rate = AudioChange(kind=ChangeKind.RATE, was=khz(old.rate_hz), now=khz(new.rate_hz))
        return (rate,) if sounds_alike() else (rate, AudioChange(kind=ChangeKind.OTHER))
    sounded, sounds = _sounds(old), _sounds(new)
    if sounded != sounds:
        return (AudioChange(kind=ChangeKind.SOUNDS if sounds else ChangeKind.SILENT),)
    sides = _sides(old, new)
    if not sounds:
        return (*sides, *_length(old, new, None, bar_s)) or (AudioChange(kind=ChangeKind.LOWEST_BITS),)
    overlap = laid_over(old, new, resketch)
    edits = tuple(_edits(old, overlap, new)) if overlap is not None else ()
    if overlap is None or _all_over(overlap, len(edits)):
        unlike = ChangeKind.PROCESSED if sounds_alike() else ChangeKind.OTHER
        told = () if sides and unlike is ChangeKind.PROCESSED else (AudioChange(kind=unlike),)
        return (*sides, *told, *_length(old, new, None, bar_s))
    changes = (
        *_level(overlap.before),
        *_shift(old, overlap.before),
        *_length(old, new, overlap, bar_s),
        *edits,
        *sides,
    )
    return changes or (AudioChange(kind=ChangeKind.LOWEST_BITS),)


def explain_storage(old: StemFormat | None, new: StemFormat | None) -> AudioChange:
    """For a stem whose audio is the same to the bit, and whose file is not."""
    was, now = _stored(old), _stored(new)
    if was == now:
        return AudioChange(kind=ChangeKind.METADATA)
    return AudioChange(kind=ChangeKind.STORED, was=was, now=now)


def _stored(form: StemFormat | None) -> str:
    """`WAV, 24-bit`."""
    if form is None:
        return "nothing that can be read"
    width = (
        "lossy" if form.bits is None else f"{form.bits}-bit float" if form.is_float else f"{form.bits}-bit"
    )
    return f"{form.container}, {width}"


def _sounds(sketch: Sketch) -> bool:
    return bool((levels_dbfs(sketch) > SOUNDS_DBFS).any())


def _sides(old: Sketch, new: Sketch) -> tuple[AudioChange, ...]:
    if old.channels == new.channels:
        return ()
    words = {1: "mono", 2: "stereo"}
    was, now = (words.get(s.channels, f"{s.channels} channels") for s in (old, new))
    return (AudioChange(kind=ChangeKind.CHANNELS, was=was, now=now),)


def _level(fit: Fit) -> Iterator[AudioChange]:
    if fit.gain < 0.0:
        yield AudioChange(kind=ChangeKind.POLARITY)
    gain_db = 20.0 * float(np.log10(max(abs(fit.gain), 1e-9)))
    if abs(gain_db) >= GAIN_DB:
        yield AudioChange(kind=ChangeKind.GAIN, value=gain_db, unit="dB")


def _shift(old: Sketch, fit: Fit) -> Iterator[AudioChange]:
    if fit.lag_frames:
        shift_ms = 1000.0 * fit.lag_frames / old.rate_hz
        yield AudioChange(kind=ChangeKind.SHIFT, value=shift_ms, unit="ms", frames=fit.lag_frames)


def _length(old: Sketch, new: Sketch, overlap: Overlap | None, bar_s: float | None) -> Iterator[AudioChange]:
    """What was put in or taken out: at the place where the lag changes, else at the end."""
    lag = overlap.before.lag_frames if overlap else 0
    at_s = None
    if overlap is not None and overlap.behind is not None:
        put_in = overlap.behind.lag_frames - lag
        at_s = (overlap.split * old.chunk_frames + lag) / old.rate_hz
        yield _longer(put_in, old.rate_hz, bar_s, at_s)
        lag = overlap.behind.lag_frames
    at_end = new.frames - old.frames - lag
    if at_end and new.frames != old.frames:
        yield _longer(at_end, old.rate_hz, bar_s, None)


def _longer(frames: int, rate_hz: int, bar_s: float | None, at_s: float | None) -> AudioChange:
    seconds = frames / rate_hz
    bars = round(seconds / bar_s) if bar_s else 0
    whole = bars != 0 and bar_s is not None and abs(seconds - bars * bar_s) <= BAR_S
    return AudioChange(
        kind=ChangeKind.LENGTH,
        value=seconds,
        unit="s",
        frames=frames,
        bars=bars if whole else None,
        from_s=at_s,
    )


def _all_over(overlap: Overlap, edits: int) -> bool:
    nothing_same = not (overlap.before.same & overlap.sounding).any()
    return edits > MOST_EDITS or (edits > FEW_EDITS and overlap.share < HALF and nothing_same)


def _edits(old: Sketch, overlap: Overlap, new: Sketch) -> Iterator[AudioChange]:
    """Stretches of the old audio that are not found again, in the new audio's time."""
    if overlap.share >= WHOLE and not overlap.before.sure:
        return
    missing = ~overlap.found
    lag = overlap.before.lag_frames
    # What lies before the new audio's first frame or behind its last was cut off, and is told as length.
    starts = np.arange(len(missing)) * old.chunk_frames
    missing &= (starts + lag >= 0) & (starts + old.chunk_frames <= old.frames)
    if overlap.behind is None:
        missing &= starts + old.chunk_frames + lag <= new.frames
    elif overlap.split < len(missing):
        missing[max(0, overlap.split - 1) : overlap.split + 1] = False  # the seam itself
        gone = (overlap.before.lag_frames - overlap.behind.lag_frames) // old.chunk_frames
        if gone > 0:
            missing[max(0, overlap.split - gone - 1) : overlap.split + gone + 1] = False
    places = np.flatnonzero(missing)
    if not len(places):
        return
    ends = np.flatnonzero(np.diff(places) > GAP_CHUNKS)
    for first, last in zip(
        places[np.concatenate([[0], ends + 1])], places[np.concatenate([ends, [-1]])], strict=True
    ):
        moved = overlap.behind.lag_frames if overlap.behind and first >= overlap.split else lag
        yield AudioChange(
            kind=ChangeKind.EDITED,
            from_s=(int(first) * old.chunk_frames + moved) / old.rate_hz,
            to_s=((int(last) + 1) * old.chunk_frames + moved) / old.rate_hz,
        )
