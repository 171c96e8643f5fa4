"""What was done to a stem, in words."""

from __future__ import annotations

from collections.abc import Sequence

from audit.results import AudioChange, ChangeKind
from audit.units import clock, count

MOST_EDITS = 3


def changes_in_words(changes: Sequence[AudioChange]) -> str:
    """`louder by 1.2 dB; later by 441 samples (9.2 ms)`; for none, who can tell."""
    if not changes:
        return "other audio (`stemaudit verify` with the show's folder tells what was done)"
    edits = [change for change in changes if change.kind is ChangeKind.EDITED]
    words = [change_in_words(change) for change in changes if change.kind is not ChangeKind.EDITED]
    if edits:
        places = ", ".join(f"from {_clock(e.from_s)} to {_clock(e.to_s)}" for e in edits[:MOST_EDITS])
        more = f" and {len(edits) - MOST_EDITS} more places" if len(edits) > MOST_EDITS else ""
        words.append(f"edited {places}{more}")
    return "; ".join(words)


def change_in_words(change: AudioChange) -> str:
    """One of them."""
    value = change.value or 0.0
    size = abs(value)
    plain = {
        ChangeKind.METADATA: "only metadata differ, the audio is the same to the bit",
        ChangeKind.STORED: f"stored otherwise ({change.was}, now {change.now}), the audio is the same to the "
        "bit",
        ChangeKind.GAIN: f"{'louder' if value > 0 else 'quieter'} by {_number(size)} dB",
        ChangeKind.POLARITY: "upside down (other polarity)",
        ChangeKind.SHIFT: f"{'later' if value > 0 else 'earlier'} by "
        f"{count(abs(change.frames or 0), 'sample')} ({size:.1f} ms)",
        ChangeKind.LENGTH: _length(change),
        ChangeKind.LOWEST_BITS: "the same but for its lowest bits (dither, or another word length)",
        ChangeKind.RATE: f"at {change.now} instead of {change.was}",
        ChangeKind.CHANNELS: f"{change.now} instead of {change.was}",
        ChangeKind.SILENT: "silent now",
        ChangeKind.SOUNDS: "it sounds now and did not",
        ChangeKind.PROCESSED: "it sounds alike, but no sample is as it was (processed, or coded and decoded)",
        ChangeKind.OTHER: f"holds what was {change.now}" if change.now else "another recording",
        ChangeKind.UNREADABLE: f"it can no longer be decoded: {change.now}",
        ChangeKind.EDITED: f"edited from {_clock(change.from_s)} to {_clock(change.to_s)}",
    }
    return plain[change.kind]


def _length(change: AudioChange) -> str:
    longer = (change.value or 0.0) > 0
    seconds = abs(change.value or 0.0)
    by = f"{seconds:.3f} s" if seconds >= 0.001 else count(abs(change.frames or 0), "sample")
    if change.bars is not None:
        by = f"{count(abs(change.bars), 'bar')} ({by})"
    word = "longer" if longer else "shorter"
    if not change.placed:
        return f"{word} by {by} (`stemaudit verify` with the show's folder tells where)"
    if change.from_s is None:
        return f"{word} by {by} at its end"
    return f"{word} by {by}, {'put in' if longer else 'taken out'} at {_clock(change.from_s)}"


def _number(db: float) -> str:
    return f"{db:.1f}" if db >= 0.1 else f"{db:.2f}"


def _clock(seconds: float | None) -> str:
    return clock(seconds or 0.0)
