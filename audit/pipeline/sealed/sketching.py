"""One file read once for a seal or against one: what its audio is, in a hash and a sketch."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from audit.decode.blocks import open_blocks
from audit.decode.header import read_header
from audit.decode.pieces import read_pieces
from audit.errors import BadSamplesError, UnreadableAudioError
from audit.facts import StemFormat
from audit.measure.chroma import ChromaMeter
from audit.measure.content import ContentMeter
from audit.measure.fingerprint import FingerprintMeter, matches
from audit.measure.samples import Samples, check_rate
from audit.measure.sketch import SketchMeter
from audit.results import FaultKind, Fingerprint, Sketch

LIKENESS = 0.77
"""Fingerprints that agree so far are of one recording. Own measurement: one that was dulled, resampled or had
its lows taken out agrees to 0.81 and more; other notes struck at the very same moments, to 0.72."""

HOP_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketched:
    """What one file holds."""

    format: StemFormat | None
    audio_hash: str | None  # None: silence, or nothing that can be decoded
    sketch: Sketch | None = None
    failure: str | None = None
    broken_off: bool = False  # its header says more than it holds
    damaged: str | None = None  # what its container tells of damage inside


def sketch_file(path: Path, *, first_frame: int = 0) -> Sketched:
    """Never raises for a bad file. first_frame: the grid's first; below zero, silence stands before it."""
    header = read_header(path, size_bytes=path.stat().st_size if path.exists() else 0)
    shape = header.format
    if shape is None:
        return Sketched(
            format=None, audio_hash=None, failure=header.faults[0].detail if header.faults else ""
        )
    try:
        check_rate(shape.sample_rate_hz)
        content = ContentMeter(shape.sample_rate_hz, shape.channels)
        sketch = SketchMeter(shape.sample_rate_hz, shape.channels, first_frame=first_frame)
        with open_blocks(path, header) as reader:
            for block in reader:
                finite = np.nan_to_num(block, copy=False, nan=0.0, posinf=0.0, neginf=0.0)
                content.add(finite)
                sketch.add(finite)
            faults = (*header.faults, *reader.faults)
    except (UnreadableAudioError, BadSamplesError) as error:
        return Sketched(format=shape, audio_hash=None, failure=str(error))
    made = sketch.result()
    if not made.frames:
        return Sketched(
            format=shape, audio_hash=None, failure=faults[0].detail if faults else "it holds no audio"
        )
    broken_off = any(fault.kind is FaultKind.TRUNCATED for fault in faults)
    damaged = next((fault.detail for fault in faults if fault.kind is FaultKind.DAMAGED), None)
    return Sketched(
        format=shape, audio_hash=content.result(), sketch=made, broken_off=broken_off, damaged=damaged
    )


def read_frames(path: Path, starts: Sequence[int], frames: int = 1) -> Samples:
    """So many frames from each of these on, ascending; shape (starts · frames, channels).

    Silence before the file's first frame and behind its last. Raises UnreadableAudioError where it went.
    """
    header = read_header(path, size_bytes=path.stat().st_size if path.exists() else 0)
    found: Samples = np.concatenate(list(read_pieces(path, header, starts, frames)), axis=0)
    return found


def fingerprint_file(path: Path) -> bytes:
    """The words of the whole file's fingerprint; empty where nothing can be decoded."""
    header = read_header(path, size_bytes=path.stat().st_size)
    if header.format is None:
        return b""
    channels = header.format.channels
    try:
        prints: list[FingerprintMeter] = []
        chroma = ChromaMeter(
            header.format.sample_rate_hz, channels, also=lambda channel, power: prints[0].add(channel, power)
        )
        prints.append(FingerprintMeter(channels, chroma.bin_hz))
        with open_blocks(path, header) as reader:
            for block in reader:
                chroma.add(np.asfortranarray(np.nan_to_num(block, nan=0.0, posinf=0.0, neginf=0.0)))
        return packed(prints[0].result(None, chroma.hop_s))
    except (UnreadableAudioError, BadSamplesError):
        return b""


def packed(print_: Fingerprint | None) -> bytes:
    """Its words, little-endian."""
    return b"" if print_ is None else np.array(print_.words, dtype="<u4").tobytes()


def heard_alike(one: bytes, other: bytes) -> bool:
    """Whether two fingerprints are of one recording, wherever it begins."""
    if not one or not other:
        return False
    first, second = (
        Fingerprint(
            hop_s=HOP_S,
            words=array("I", np.frombuffer(words, dtype="<u4").astype("I").tobytes()),
            spectrum_db=(),
        )
        for words in (one, other)
    )
    found = matches(first, second)
    return bool(found) and found[0].likeness >= LIKENESS
