"""What was done to a stem, in words."""

from __future__ import annotations

from collections.abc import Sequence

from audit.results import AudioChange, ChangeKind
from audit.units import clock, count

MOST_PLACES = 3


def changes_in_words(changes: Sequence[AudioChange]) -> str:
    """`louder by 1.2 dB; later by 441 samples (9.2 ms)`; "" for none."""
    words: list[str] = []
    told: set[ChangeKind] = set()
    for change in changes:
        if change.kind not in PLACED:
            words.append(change_in_words(change))
        elif change.kind not in told:
            told.add(change.kind)
            words.append(_places([other for other in changes if other.kind is change.kind]))
    return "; ".join(words)


PLACED = {
    ChangeKind.EDITED: "edited",
    ChangeKind.DIFFERS: "differs",
    ChangeKind.MUTED: "silent",
    ChangeKind.RIDDEN: "",
    ChangeKind.SAMPLE: "",
}
"""What can be in several places: said once, with all of them."""


def _places(changes: Sequence[AudioChange]) -> str:
    """`edited from 0:02.000 to 0:04.000, from 0:10.000 to 0:11.000 and 3 more places`."""
    kind, shown = changes[0].kind, changes[:MOST_PLACES]
    more = f" and {len(changes) - MOST_PLACES} more places" if len(changes) > MOST_PLACES else ""
    if kind is ChangeKind.SAMPLE:
        word = "sample differs" if len(changes) == 1 else "samples differ"
        return f"{len(changes)} {word} at {', '.join(_clock(change.from_s) for change in shown)}{more}"
    if kind is ChangeKind.RIDDEN:
        return ", ".join(_ridden(change) for change in shown) + more
    spans = ", ".join(f"from {_clock(change.from_s)} to {_clock(change.to_s)}" for change in shown)
    return f"{PLACED[kind]} {spans}{more}"


def _ridden(change: AudioChange) -> str:
    if change.from_s is None:
        return f"its level changes along the way, from {change.was} to {change.now} dB"
    value = change.value or 0.0
    word = "louder" if value > 0 else "quieter"
    return f"{word} by up to {_number(abs(value))} dB from {_clock(change.from_s)} to {_clock(change.to_s)}"


def change_in_words(change: AudioChange) -> str:
    """One of them."""
    if change.kind in PLACED:
        return _places([change])
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
        ChangeKind.FADED_IN: f"faded in from {_clock(change.from_s)} to {_clock(change.to_s)}",
        ChangeKind.FADED_OUT: f"faded out from {_clock(change.from_s)} to {_clock(change.to_s)}",
        ChangeKind.BROKEN_OFF: f"broken off at {_clock(change.from_s)} of {_clock(change.to_s)} "
        "(an interrupted copy?)",
        ChangeKind.DAMAGED: f"damaged inside: {change.now}",
        ChangeKind.LOWEST_BITS: _lowest_bits(change),
        ChangeKind.RATE: f"at {change.now} instead of {change.was}",
        ChangeKind.CHANNELS: f"{change.now} instead of {change.was}",
        ChangeKind.SIDES: change.now or "",
        ChangeKind.CODED: f"now {change.now}, which is lossy (was {change.was})",
        ChangeKind.SILENT: "silent now",
        ChangeKind.SOUNDS: "it sounds now and did not",
        ChangeKind.PROCESSED: "it sounds alike, but no sample is as it was (processed, or coded and decoded)",
        ChangeKind.OTHER: f"holds what was {change.now}" if change.now else "another recording",
        ChangeKind.UNREADABLE: _unreadable(change),
    }
    return plain[change.kind]


def _unreadable(change: AudioChange) -> str:
    if change.was is None:
        return f"it can no longer be decoded: {change.now}"
    return f"its bytes differ; it could not be decoded then, and cannot now: {change.now}"


def _lowest_bits(change: AudioChange) -> str:
    if change.was is None or change.now is None:
        return "the same but for its lowest bits (dither, or another word length on the way)"
    return f"{change.now} instead of {change.was}; the same but for its lowest bits"


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
    where = f"{'put in' if longer else 'taken out'} "
    if change.to_s is None:
        return f"{word} by {by}, {where}at {_clock(change.from_s)}"
    return f"{word} by {by}, {where}somewhere from {_clock(change.from_s)} to {_clock(change.to_s)}"


def _number(db: float) -> str:
    return f"{db:.1f}" if db >= 0.1 else f"{db:.2f}"


def _clock(seconds: float | None) -> str:
    return clock(seconds or 0.0)
