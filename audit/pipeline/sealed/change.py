"""What was done to a stem, as people who bounce say it: louder, later, longer, edited from here to there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from audit.facts import StemFormat
from audit.measure.sketch import levels_dbfs
from audit.measure.sketch_delta import Overlap, laid_over
from audit.measure.sketch_fit import AtHand, sounding
from audit.measure.sketch_sides import sides_of
from audit.pipeline.sealed.change_of_sides import sides_change
from audit.pipeline.sealed.change_of_stretches import ridden, stretches
from audit.results import AudioChange, ChangeKind, Sketch
from audit.units import khz

GAIN_DB = 0.02
"""Less is the rounding of highest samples."""

CODED_DB, CODED_FROM_DBFS = 1.0, -50.0
"""A lossy codec moves the levels of what sounds, which are known to half a decibel, by less."""

CODED_S = 0.15
"""Silence that lossy codecs put before and behind (their frames have up to 1152 or 2048 samples, and some put
two of them before)."""

SOMEWHERE_S = 1.0
"""Where bars are alike by more than that, nobody can say which of them was taken out."""

BAR_S = 0.02
"""By so much whole bars may be off."""

MOST_EDITS, FEW_EDITS, HALF = 6, 2, 0.75
"""Whoever edits does so in a few places; what differs in more, or in some and in much, was processed."""

BarOfSong = Callable[[], float | None]
THIN = 0.6

Stored = tuple[StemFormat | None, StemFormat | None]


def audio_change(
    old: Sketch,
    new: Sketch,
    *,
    at_hand: AtHand | None = None,
    bar_of_song: BarOfSong = lambda: None,
    sounds_alike: Callable[[], bool] = lambda: False,
    stored: Stored = (None, None),
) -> tuple[AudioChange, ...]:
    """What was done to the audio, main change first; never empty. Only for stems whose audio differs.

    at_hand: the new audio, where it can be read again. bar_of_song: length of a bar in seconds, where the
    song's click tells one; asked where a length differs. sounds_alike: their fingerprints do, whatever became
    of the samples. stored: both formats.
    """
    pair = _Pair(
        old=old, new=new, at_hand=at_hand, bar_of_song=bar_of_song, sounds_alike=sounds_alike, stored=stored
    )
    if old.rate_hz != new.rate_hz:
        return _at_another_rate(pair)
    sounded, sounds = bool(sounding(old).any()), bool(sounding(new).any())
    if sounded != sounds:
        return (AudioChange(kind=ChangeKind.SOUNDS if sounds else ChangeKind.SILENT),)
    if not sounds:
        return (*_channels(old, new), *_length(pair, None)) or (_lowest_bits(stored),)
    overlap = laid_over(old, new, at_hand, coarser=_bits_differ(stored))
    coded = _coded(stored)
    if coded and (overlap is not None or sounds_alike()):
        return (*coded, *_channels(old, new), *_beside_coding(pair))
    if overlap is None:
        return _with_other_sides(pair) or (*coded, *_unlike(pair))
    return _as_it_lies(pair, overlap)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """Both sketches of a stem, and who can be asked for more; see `audio_change`."""

    old: Sketch
    new: Sketch
    at_hand: AtHand | None
    bar_of_song: BarOfSong
    sounds_alike: Callable[[], bool]
    stored: Stored


def _at_another_rate(pair: _Pair) -> tuple[AudioChange, ...]:
    """Nothing of it can be laid over the other: the ear decides whether more was done than resampling."""
    old, new = pair.old, pair.new
    rate = AudioChange(kind=ChangeKind.RATE, was=khz(old.rate_hz), now=khz(new.rate_hz))
    beside = _coded(pair.stored) if pair.sounds_alike() else (AudioChange(kind=ChangeKind.OTHER),)
    return (*beside, *_channels(old, new), rate)


def _as_it_lies(pair: _Pair, overlap: Overlap) -> tuple[AudioChange, ...]:
    """What is told where the new audio lies over the old one, or enough of it."""
    old, new = pair.old, pair.new
    channels, edits = _channels(old, new), tuple(stretches(old, overlap, new))
    all_over = _all_over(overlap, edits) or (_is_thin(overlap, new, edits) and pair.sounds_alike())
    # What became of one side alone would else be taken for edits, or for a change all over.
    if (channels or edits or all_over) and (sides := _with_other_sides(pair)):
        return sides
    shift = tuple(_shift(old, overlap.before.lag_frames))
    faded = any(edit.kind in (ChangeKind.FADED_IN, ChangeKind.FADED_OUT) for edit in edits)
    whole = None if faded else ridden(old, overlap)
    if whole is not None:
        return (*shift, whole, *_length(pair, overlap), *channels)
    if all_over:
        return _unlike(pair)
    changes = (*_level(overlap.before.gain), *shift, *_length(pair, overlap), *edits, *channels)
    return changes or (_lowest_bits(pair.stored),)


def _unlike(pair: _Pair) -> tuple[AudioChange, ...]:
    """Of a stem that differs all over: another recording, or the same one processed. That it was processed is
    not said where it has other channels: making mono of stereo changes all of it."""
    channels, alike = _channels(pair.old, pair.new), pair.sounds_alike()
    unlike = AudioChange(kind=ChangeKind.PROCESSED if alike else ChangeKind.OTHER)
    told = () if channels and alike else (unlike,)
    return (*channels, *told, *_length(pair, None))


def storage_change(old: StemFormat | None, new: StemFormat | None) -> AudioChange:
    """For a stem whose audio is the same to the bit, and whose file is not."""
    was, now = _stored(old), _stored(new)
    if was == now:
        return AudioChange(kind=ChangeKind.METADATA)
    return AudioChange(kind=ChangeKind.STORED, was=was, now=now)


def _stored(form: StemFormat | None) -> str:
    """`WAV, 24-bit`."""
    return "nothing that can be read" if form is None else f"{form.container}, {_width(form)}"


def _width(form: StemFormat) -> str:
    if form.bits is None:
        return "lossy"
    return f"{form.bits}-bit float" if form.is_float else f"{form.bits}-bit"


def _bits_differ(stored: Stored) -> bool:
    was, now = stored
    return was is not None and now is not None and (was.bits, was.is_float) != (now.bits, now.is_float)


def _lowest_bits(stored: Stored) -> AudioChange:
    was, now = stored
    if was is None or now is None or not _bits_differ(stored):
        return AudioChange(kind=ChangeKind.LOWEST_BITS)
    return AudioChange(kind=ChangeKind.LOWEST_BITS, was=_width(was), now=_width(now))


def _coded(stored: Stored) -> tuple[AudioChange, ...]:
    """Of a stem that a lossy codec was let at."""
    was, now = stored
    if was is None or now is None or not now.lossy or (was.lossy and was.container == now.container):
        return ()
    return (AudioChange(kind=ChangeKind.CODED, was=_stored(was), now=now.container),)


def _beside_coding(pair: _Pair) -> Iterator[AudioChange]:
    """What was done beside, as far as a codec lets it be told."""
    old, new = pair.old, pair.new
    common = min(len(levels_dbfs(old)), len(levels_dbfs(new)))
    was_db, now_db = levels_dbfs(old)[:common], levels_dbfs(new)[:common]
    apart_db = (now_db - was_db)[was_db > CODED_FROM_DBFS]
    by_db = float(np.median(apart_db)) if len(apart_db) else 0.0
    if abs(by_db) >= CODED_DB and (np.abs(apart_db - by_db) <= CODED_DB).mean() > HALF:
        yield AudioChange(kind=ChangeKind.GAIN, value=by_db, unit="dB")
    if abs(new.frames - old.frames) > CODED_S * old.rate_hz:
        yield _longer(new.frames - old.frames, old.rate_hz, pair.bar_of_song, None)


def _channels(old: Sketch, new: Sketch) -> tuple[AudioChange, ...]:
    if old.channels == new.channels:
        return ()
    words = {1: "mono", 2: "stereo"}
    was, now = (words.get(s.channels, f"{s.channels} channels") for s in (old, new))
    return (AudioChange(kind=ChangeKind.CHANNELS, was=was, now=now),)


def _with_other_sides(pair: _Pair) -> tuple[AudioChange, ...]:
    """Where left and right are not what they were; () where they are, or where that explains nothing."""
    old, new = pair.old, pair.new
    sides = sides_of(old, new, pair.at_hand)
    told, gain = sides_change(sides) if sides is not None else ((), 1.0)
    if sides is None or not told:
        return ()
    at_end = new.frames - old.frames - sides.lag_frames
    moved_within = new.frames == old.frames
    cut = () if moved_within or not at_end else (_longer(at_end, old.rate_hz, pair.bar_of_song, None),)
    return (*_channels(old, new), *told, *_level(gain), *_shift(old, sides.lag_frames), *cut)


def _level(gain: float, least_db: float = GAIN_DB) -> Iterator[AudioChange]:
    if gain < 0.0:
        yield AudioChange(kind=ChangeKind.POLARITY)
    gain_db = 20.0 * float(np.log10(max(abs(gain), 1e-9)))
    if abs(gain_db) >= least_db:
        yield AudioChange(kind=ChangeKind.GAIN, value=gain_db, unit="dB")


def _shift(old: Sketch, lag_frames: int) -> Iterator[AudioChange]:
    if lag_frames:
        shift_ms = 1000.0 * lag_frames / old.rate_hz
        yield AudioChange(kind=ChangeKind.SHIFT, value=shift_ms, unit="ms", frames=lag_frames)


def _length(pair: _Pair, overlap: Overlap | None) -> Iterator[AudioChange]:
    """What was put in or taken out: at the place where the lag changes, else at the end."""
    old, new, bar_of_song = pair.old, pair.new, pair.bar_of_song
    lag = overlap.before.lag_frames if overlap else 0
    at_s = None
    moved = overlap is not None and overlap.behind is not None
    if overlap is not None and overlap.behind is not None:
        put_in = overlap.behind.lag_frames - lag
        at_s, to_s = (
            (chunk * old.chunk_frames + lag) / old.rate_hz for chunk in (overlap.split, overlap.latest)
        )
        length = _longer(put_in, old.rate_hz, bar_of_song, at_s)
        yield replace(length, to_s=to_s) if to_s - at_s > SOMEWHERE_S else length
        lag = overlap.behind.lag_frames
    at_end = new.frames - old.frames - lag
    # A stem that was moved within its length has lost no more at one end than silence at the other.
    if at_end and (moved or new.frames != old.frames):
        yield _longer(at_end, old.rate_hz, bar_of_song, None)


def _longer(frames: int, rate_hz: int, bar_of_song: BarOfSong, at_s: float | None) -> AudioChange:
    seconds, bar_s = frames / rate_hz, bar_of_song()
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


def _is_thin(overlap: Overlap, new: Sketch, changes: Sequence[AudioChange]) -> bool:
    """Little of it lies as it lay, and none to the bit: what sounds alike all the same was processed."""
    if (overlap.before.same & overlap.sounding).any():
        return False
    edited = [change for change in changes if change.kind is ChangeKind.EDITED]
    edited_s = sum((change.to_s or 0.0) - (change.from_s or 0.0) for change in edited)
    return overlap.share < THIN or edited_s > THIN * new.frames / new.rate_hz


def _all_over(overlap: Overlap, changes: Sequence[AudioChange]) -> bool:
    nothing_same = not (overlap.before.same & overlap.sounding).any()
    # A filter changes the level too, note by note.
    kinds = {ChangeKind.EDITED, ChangeKind.RIDDEN} if nothing_same else {ChangeKind.EDITED}
    edits = sum(change.kind in kinds for change in changes)
    alike = (overlap.before.alike & overlap.sounding).sum() / max(1, overlap.sounding.sum())
    return edits > MOST_EDITS or (edits > FEW_EDITS and bool(alike < HALF) and nothing_same)
