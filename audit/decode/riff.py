"""RIFF/WAVE, RF64 and BW64: Microsoft's chunks, EBU Tech 3306 and ITU-R BS.2088 for the long files."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

from audit.decode.chunks import MAX_CHUNKS, RIFF, RIFX, Chunk, Dialect, audio_follows, walk_chunks
from audit.decode.container import Coded, Header, RefusedError, other_form
from audit.decode.extent import cut_short, is_stream_size, settle_extent
from audit.decode.source import Source
from audit.decode.waveformat import WaveFormat, fit_to_audio, read_bext_time, read_wave_format
from audit.facts import StemFormat
from audit.units import grouped

UNKNOWN_32 = 0xFFFF_FFFF
UNKNOWN_64 = 0xFFFF_FFFF_FFFF_FFFF

_PIECES, _PIECE_FRAMES = 32, 64

CONTAINERS = {b"RIFF": "WAV", b"RIFX": "WAV", b"RF64": "RF64", b"BW64": "BW64"}


@dataclass(slots=True, kw_only=True)
class WaveChunks:
    """What a walk over a WAVE file's chunks found."""

    format: WaveFormat | None = None
    data: Chunk | None = None
    time_reference_frames: int | None = None
    ds64: bool = False
    seen: int = 0
    long_sizes: dict[bytes, int] = field(default_factory=dict)


def parse_riff(source: Source) -> Header | Coded:
    """Header of a WAVE file; raises RefusedError where no audio can be found in it."""
    head = source.at(0, 12)
    magic, form = head[:4], head[8:]
    if form != b"WAVE":
        raise other_form("a RIFF file", form, "WAVE audio")
    dialect = RIFX if magic == b"RIFX" else RIFF
    found = collect_wave_chunks(source, 12, dialect)
    data, wave = require_audio(found)
    claimed = _claimed_bytes(source, data, found, dialect, long=magic in (b"RF64", b"BW64"))
    return wave_header(source, CONTAINERS[magic], wave, data, claimed, found, dialect)


def collect_wave_chunks(source: Source, start: int, dialect: Dialect) -> WaveChunks:
    """Walks all chunks, also those behind the audio where its length lets them be found."""
    found = WaveChunks()
    big_endian = dialect is RIFX
    for chunk in walk_chunks(source, start, dialect, found.long_sizes):
        found.seen += 1
        if chunk.id == b"ds64" and not found.ds64:
            found.ds64 = True
            found.long_sizes.update(_read_ds64(source.at(chunk.body, min(chunk.size, 28 + 12 * 64))))
        elif chunk.id == b"fmt " and found.format is None:
            found.format = read_wave_format(source.at(chunk.body, min(chunk.size, 64)), big_endian=big_endian)
        elif chunk.id == b"bext" and found.time_reference_frames is None:
            body = source.at(chunk.body, min(chunk.size, 346))
            found.time_reference_frames = read_bext_time(body, big_endian=big_endian)
        elif chunk.id == b"data" and (found.data is None or found.data.size == 0):
            found.data = chunk
    return found


def _read_ds64(body: bytes) -> dict[bytes, int]:
    """True sizes by chunk id. Layout: riffSize, dataSize, sampleCount (u64), table length (u32), table."""
    if len(body) < 28:
        return {}
    _riff, data, _frames, rows = struct.unpack("<QQQI", body[:28])
    sizes = {b"data": data}
    for row in range(min(rows, (len(body) - 28) // 12)):
        name, size = struct.unpack_from("<4sQ", body, 28 + 12 * row)
        sizes[name] = size
    return sizes


def require_audio(found: WaveChunks) -> tuple[Chunk, WaveFormat]:
    """The two chunks without which nothing can be decoded."""
    if found.data is None:
        if found.seen >= MAX_CHUNKS:
            raise RefusedError(f"no audio among its first {grouped(MAX_CHUNKS)} chunks")
        raise RefusedError("it has no audio chunk ('data')")
    if found.format is None:
        raise RefusedError("it has no format chunk ('fmt ')")
    return found.data, found.format


def _claimed_bytes(
    source: Source, data: Chunk, found: WaveChunks, dialect: Dialect, *, long: bool
) -> int | None:
    """Length of the audio by the header; None where the header was never finished."""
    present = source.size - data.body
    if data.size in (UNKNOWN_32, UNKNOWN_64):
        return None  # RF64 without ds64, or a stream
    if data.size == 0:
        return None if audio_follows(source, data.body, dialect, zeros_count=True) else 0
    if not long and data.size > present and is_stream_size(data.size):
        return None
    return data.size


def wave_header(
    source: Source, container: str, wave: WaveFormat, data: Chunk, claimed: int | None, found: WaveChunks,
    dialect: Dialect,
) -> Header | Coded:  # fmt: skip
    """Puts format and faults together. Audio without a plain layout (ADPCM …) is left to libsndfile."""
    present = source.size - data.body
    if wave.fault is not None:
        wave = fit_to_audio(wave, _sample_audio(source, data.body, wave.block_align))
    layout, frame_bytes = wave.layout, wave.frame_bytes
    if layout is None or frame_bytes is None:
        cut = claimed is not None and claimed > present
        return Coded(
            container=container,
            faults=(cut_short(claimed or 0, present),) if cut else (),
            time_reference_frames=found.time_reference_frames,
        )
    more = claimed is not None and claimed < present
    extent = settle_extent(
        claimed_bytes=claimed,
        present_bytes=present,
        more_follows=more and audio_follows(source, data.body + (claimed or 0), dialect),
        frame_bytes=frame_bytes,
        rate_hz=wave.rate_hz,
        align=dialect.align,
    )
    is_float = layout.encoding in ("FLOAT", "DOUBLE")
    stem_format = StemFormat(
        container=container,
        encoding=layout.encoding,
        sample_rate_hz=wave.rate_hz,
        channels=wave.channels,
        frames=extent.frames,
        bits=None if layout.lossy else 8 * layout.sample_bytes if is_float else wave.valid_bits,
        is_float=is_float,
        lossy=layout.lossy,
        time_reference_frames=found.time_reference_frames,
        data_offset_bytes=data.body,
        frame_bytes=frame_bytes,
    )
    faults = tuple(fault for fault in (extent.fault, wave.fault) if fault is not None)
    return Header(format=stem_format, faults=faults, layout=layout)


def _sample_audio(source: Source, begin: int, frame_bytes: int) -> bytes:
    """A few kilobytes from all over the audio, each piece a whole number of frames of that size."""
    frames = (source.size - begin) // max(1, frame_bytes)
    step = max(1, frames // _PIECES)
    return b"".join(
        source.at(begin + piece * step * frame_bytes, _PIECE_FRAMES * frame_bytes)
        for piece in range(min(_PIECES, frames))
    )
