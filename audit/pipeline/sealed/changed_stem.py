"""What differs between two copies of one stem whose bytes do."""

from __future__ import annotations

import numpy as np

from audit.measure.broken_sample import broken_sample
from audit.measure.sketch import flips_of, hashes_of
from audit.pipeline.sealed.change import audio_change, storage_change
from audit.pipeline.sealed.show_copies import Copy
from audit.pipeline.sealed.sketching import heard_alike
from audit.pipeline.sealed.zero_tail import ends_in_zeros
from audit.results import AudioChange, ChangeKind, Sketch

MOST_CHUNKS = 4
"""Chunks of a quarter second in which single samples are searched for: each takes some tenths of a second."""


def explain(old: Copy, new: Copy) -> tuple[tuple[AudioChange, ...], bool]:
    """What differs, and whether the audio does."""
    if new.audio is None and old.audio is None:
        failures = (one.failure or "it holds no audio" for one in (old, new))
        return (AudioChange(kind=ChangeKind.UNREADABLE, was=next(failures), now=next(failures)),), True
    if new.audio is None:
        return (AudioChange(kind=ChangeKind.UNREADABLE, now=new.failure or "it holds no audio"),), True
    if old.audio is None:
        return (AudioChange(kind=ChangeKind.SOUNDS, was=old.failure),), True
    if old.audio == new.audio:
        return (storage_change(old.format, new.format),), False
    assert old.sketch is not None
    assert new.sketch is not None
    if new.broken_off != old.broken_off:
        whole, part = (old.sketch, new.sketch) if new.broken_off else (new.sketch, old.sketch)
        if _begins(whole, part):
            ends = (one.frames / one.rate_hz for one in (part, whole))
            return (AudioChange(kind=ChangeKind.BROKEN_OFF, from_s=next(ends), to_s=next(ends)),), True
    for one, other in ((new, old), (old, new)):
        if (end_s := ends_in_zeros(one, other)) is not None:
            whole_s = old.sketch.frames / old.sketch.rate_hz
            return (AudioChange(kind=ChangeKind.BROKEN_OFF, from_s=end_s, to_s=whole_s),), True
    if (new.damaged is None) != (old.damaged is None):
        return (AudioChange(kind=ChangeKind.DAMAGED, now=new.damaged or old.damaged),), True
    if samples := _broken_samples(old.sketch, new.sketch, new):
        return samples, True
    changes = audio_change(
        old.sketch,
        new.sketch,
        at_hand=new.at_hand,
        bar_of_song=lambda: old.bar_s,
        sounds_alike=lambda: heard_alike(old.fingerprint, new.fingerprint),
        stored=(old.format, new.format),
    )
    return changes, True


def _begins(old: Sketch, new: Sketch) -> bool:
    """Whether the new one is the beginning of the old one, to the bit; its last chunk may be cut."""
    whole = new.frames // new.chunk_frames
    same = (old.rate_hz, old.channels) == (new.rate_hz, new.channels) and new.frames < old.frames
    return same and bool((hashes_of(old)[:whole] == hashes_of(new)[:whole]).all())


def _broken_samples(old: Sketch, new: Sketch, at_hand: Copy) -> tuple[AudioChange, ...]:
    """The single samples that differ, where nothing else does; () where more does, or nobody can tell."""
    shapes = [(sketch.rate_hz, sketch.channels, sketch.frames) for sketch in (old, new)]
    if shapes[0] != shapes[1] or at_hand.at_hand is None or not (len(old.flips) and len(new.flips)):
        return ()
    chunks = np.flatnonzero(hashes_of(old) != hashes_of(new)).tolist()
    if not 0 < len(chunks) <= MOST_CHUNKS:
        return ()
    found = []
    for number in chunks:
        first = number * old.chunk_frames
        chunk = at_hand.chunk(first, min(old.chunk_frames, old.frames - first))
        flipped = int(flips_of(old)[number] ^ flips_of(new)[number])
        place = broken_sample(chunk, flipped, int(hashes_of(old)[number]))
        if place is None:
            return ()
        frame = first + place[0]
        found.append(AudioChange(kind=ChangeKind.SAMPLE, frames=frame, from_s=frame / old.rate_hz))
    return tuple(found)
