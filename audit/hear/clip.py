"""A few seconds of a stem around a place, made safe to play, with four counts that lead to the place.

    cut_clip(path, frame_of, channel=…) -> Clip

The place is always at second 4 of the clip: beeps at 0, 1, 2 and 3 s count to it like a bar of 4/4 at 60 bpm,
under them the stem already sounds, and what lies before the file's start is silence.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from audit.decode.blocks import BLOCK_FRAMES, open_blocks
from audit.decode.header import Header, read_header
from audit.errors import AuditError, UnreadableAudioError, UsageError
from audit.facts import CREW_ROLES
from audit.folder.elsewhere import is_elsewhere
from audit.folder.roles import read_name
from audit.hear.caps import Caps, caps_for, turned_down
from audit.hear.noise import NoiseMeter
from audit.measure.nature import NatureMeter
from audit.measure.samples import Samples, check_rate
from audit.results import ContainerFault, FaultKind
from audit.units import clock, from_db

LEAD_S = 4
AFTER_S = 4
BEAT_S = 1.0
FADE_S = 0.25
BEEP_S, BEEP_HZ, BEEP_BELOW_CAP_DB = 0.06, 1000.0, 12.0

MOST_CHANNELS = 2
"""Stems of more are added up: few players say what they do with the third channel of a file."""

CREW_SHARE = 0.5
"""From this share of bi-phase mark or of ticks on a clip is played as softly as the crew's stems. Lower than
what names a part (0.8): to be wrong costs 12 dB only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """What is written. `samples`: float32, shape (frames, 1 or 2)."""

    samples: Samples
    rate_hz: int
    place_frame: int  # of the stem
    place_s: float  # of the clip
    caps: Caps
    down_db: float
    channels: int  # of the stem
    taken: str  # which of them the clip holds, in words; empty: all of them


def cut_clip(path: Path, frame_of: Callable[[int], int], *, channel: int | None = None) -> Clip:
    """Cuts and tames a clip.

    frame_of: rate in Hz → the frame of the place. channel: 1-based, None for all. The stem is opened
    read-only and streamed up to the end of the clip. Raises UsageError for a place or channel that is not
    there, UnreadableAudioError for a stem that cannot be decoded so far.
    """
    state = path.stat()
    blocks_there: int | None = getattr(state, "st_blocks", None)
    header = read_header(
        path, size_bytes=state.st_size, elsewhere=is_elsewhere(state),
        allocated_bytes=None if blocks_there is None else blocks_there * 512,
    )  # fmt: skip
    shape = header.format
    if shape is None or shape.channels < 1:
        reason = header.faults[0].detail if header.faults else "its header cannot be read"
        raise UnreadableAudioError(f"{path.name}: cannot be heard: {reason}")
    rate_hz = shape.sample_rate_hz
    check_rate(rate_hz)
    if channel is not None and not 1 <= channel <= shape.channels:
        raise UsageError(f"--channel {channel}: {path.name} has {shape.channels}, counted from 1")
    place = frame_of(rate_hz)
    noise = NoiseMeter(shape)
    samples = _window(path, header, place, channel, noise)
    crew = bool(CREW_ROLES & set(_roles(path))) or _sounds_like_crew(samples, rate_hz)
    caps = caps_for(noise=noise.noise, crew=crew)
    samples, down_db = turned_down(_faded(samples, rate_hz), rate_hz, caps)
    counted = samples + _count(len(samples), rate_hz, caps)[:, None]
    counted, more_db = turned_down(counted, rate_hz, caps)
    return Clip(
        samples=counted, rate_hz=rate_hz, place_frame=place, place_s=float(LEAD_S), caps=caps,
        down_db=down_db + more_db, channels=shape.channels, taken=_taken(channel, shape.channels),
    )  # fmt: skip


def _taken(channel: int | None, channels: int) -> str:
    if channel is not None and channels > 1:
        return f"channel {channel} of {channels}"
    if channels > MOST_CHANNELS:
        return f"its {channels} channels together, each at 1/{channels}; --channel N takes one of them"
    return ""


def _roles(path: Path) -> tuple[object, ...]:
    said = read_name(path.stem)
    return (said.role, *said.channel_roles)


def _window(path: Path, header: Header, place: int, channel: int | None, noise: NoiseMeter) -> Samples:
    """The frames around the place, as many as the clip is long; silence where the stem has none.

    noise: gets all that is read, every channel of it.
    """
    assert header.format is not None
    rate_hz, channels = header.format.sample_rate_hz, header.format.channels
    block = max(1024, min(BLOCK_FRAMES, 2 * BLOCK_FRAMES // channels))
    width = 1 if channel is not None or channels > MOST_CHANNELS else channels
    window = np.zeros(((LEAD_S + AFTER_S) * rate_hz, width), dtype=np.float32)
    first = place - LEAD_S * rate_hz
    with open_blocks(path, replace(header, md5=None), block) as reader:  # a few seconds tell no checksum
        at = 0
        for block_read in reader:
            if at >= first + len(window):
                break
            heard = np.nan_to_num(block_read, nan=0.0, posinf=0.0, neginf=0.0)
            noise.add(heard)
            low, high = max(at, first), min(at + len(heard), first + len(window))
            if low < high:
                inside = heard[low - at : high - at]
                noise.add_clip(inside)
                window[low - first : high - first] = _narrowed(inside, channel, width)
            at += len(heard)
        if place > at + rate_hz // 1000:  # a report's milliseconds may be rounded past the last frame
            raise _too_far(path, (*header.faults, *reader.faults), place, at, rate_hz)
    return window


def _narrowed(block: Samples, channel: int | None, width: int) -> Samples:
    # Float garbage can be 1e38: its square would be infinite, and no level could be told.
    block = np.asarray(np.clip(block, -1e6, 1e6), dtype=np.float32)
    if channel is not None:
        return np.asarray(block[:, channel - 1 : channel], dtype=np.float32)
    if block.shape[1] == width:
        return block
    return np.asarray(block.mean(axis=1, keepdims=True), dtype=np.float32)


def _too_far(
    path: Path, faults: tuple[ContainerFault, ...], place: int, frames: int, rate_hz: int
) -> AuditError:
    asked, length = clock(place / rate_hz), clock(frames / rate_hz)
    cutting = [fault for fault in faults if fault.kind is not FaultKind.WRONG_EXTENSION]
    if cutting or frames == 0:
        why = cutting[0].detail if cutting else "it holds no audio that can be decoded"
        return UnreadableAudioError(f"{path.name}: can be heard up to {length} only: {why}")
    return UsageError(f"{path.name}: there is nothing at {asked}: it is {length} ({frames} samples) long")


def _sounds_like_crew(samples: Samples, rate_hz: int) -> bool:
    meter = NatureMeter(rate_hz, samples.shape[1])
    meter.add(samples)
    natures = [meter.result(channel) for channel in range(samples.shape[1])]
    return any(max(nature.timecode_share, nature.tick_share) >= CREW_SHARE for nature in natures)


def _faded(samples: Samples, rate_hz: int) -> Samples:
    """Both ends come and go within a quarter second."""
    frames = round(FADE_S * rate_hz)
    half = 0.5 - 0.5 * np.cos(np.pi * (np.arange(frames) + 0.5) / frames)
    rise: Samples = half.astype(np.float32)[:, None]
    faded: Samples = samples.copy()
    faded[:frames] *= rise
    faded[-frames:] *= rise[::-1]
    return faded


def _count(length: int, rate_hz: int, caps: Caps) -> npt.NDArray[np.float32]:
    """Four soft beeps, a second apart, the last one second before the place."""
    wave = np.zeros(length, dtype=np.float32)
    time_s = np.arange(round(BEEP_S * rate_hz)) / rate_hz
    beep = np.sin(np.pi * time_s / BEEP_S) ** 2 * np.sin(2.0 * np.pi * BEEP_HZ * time_s)
    beep *= from_db(caps.peak_db - BEEP_BELOW_CAP_DB)
    for beat in range(LEAD_S):
        at = round(beat * BEAT_S * rate_hz)
        wave[at : at + len(beep)] += beep.astype(np.float32)
    return wave
