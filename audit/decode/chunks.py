"""Walking a file's chunks: RIFF, AIFF, CAF and Wave64 differ only in how a chunk begins."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

from audit.decode.source import Source

MAX_CHUNKS = 4096
"""More are not walked: real files hold some ten; a file made of a million would cost minutes."""

_ZEROS_CHECKED = 4 << 20

_METADATA = frozenset(
    b"LIST|bext|iXML|axml|cue |smpl|inst|fact|PEAK|JUNK|junk|PAD |FLLR|id3 |ID3 |_PMX|afsp|umid|link|chna|"
    b"cart|minf|elm1|regn|levl|acid|strc|plst|DISP|ResU|LGWV|MARK|INST|NAME|AUTH|ANNO|COMT|APPL|(c) |info|"
    b"mark|free".split(b"|")
)
"""Chunks that stand behind the audio. One of these whose end is missing is still not audio."""

_WAVE64_TAILS = (
    bytes.fromhex("2e91cf11a5d628db04c10000"),  # riff, list
    bytes.fromhex("f3acd3118cd100c04f8edb8a"),  # every other
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How a chunk begins: its id, then its size."""

    id_bytes: int
    size_code: str  # struct code of the size field
    counts_itself: bool  # the size includes id and size field
    align: int  # the next chunk begins at a multiple of this, counted from the file's first byte

    @property
    def head_bytes(self) -> int:
        return self.id_bytes + struct.calcsize(self.size_code)


RIFF = Dialect(id_bytes=4, size_code="<I", counts_itself=False, align=2)
RIFX = Dialect(id_bytes=4, size_code=">I", counts_itself=False, align=2)
IFF = RIFX  # AIFF and AIFC
CAF = Dialect(id_bytes=4, size_code=">q", counts_itself=False, align=1)
WAVE64 = Dialect(id_bytes=16, size_code="<q", counts_itself=True, align=8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """One chunk as its first bytes describe it; its end may lie beyond the file's."""

    id: bytes  # four bytes, also in Wave64
    body: int  # offset of its first byte behind id and size
    size: int  # claimed length of the body; −1 in CAF: to the end of the file

    @property
    def end(self) -> int:
        return self.body + max(0, self.size)


def read_chunk(source: Source, offset: int, dialect: Dialect) -> Chunk | None:
    """The chunk that begins there; None where no chunk can begin."""
    head = source.at(offset, dialect.head_bytes)
    if len(head) < dialect.head_bytes or not all(0x20 <= byte < 0x7F for byte in head[:4]):
        return None
    if dialect.id_bytes == 16 and head[4:16] not in _WAVE64_TAILS:
        return None
    (size,) = struct.unpack(dialect.size_code, head[dialect.id_bytes :])
    if dialect.counts_itself:
        size -= dialect.head_bytes
    return Chunk(id=head[:4], body=offset + dialect.head_bytes, size=size)


def chunk_behind(source: Source, end: int, dialect: Dialect) -> Chunk | None:
    """The chunk behind one that ends there: at the padded place, or where a writer forgot the padding."""
    padded = -(-end // dialect.align) * dialect.align
    return read_chunk(source, padded, dialect) or (
        read_chunk(source, end, dialect) if padded != end else None
    )


def walk_chunks(
    source: Source, start: int, dialect: Dialect, long_sizes: dict[bytes, int] | None = None
) -> Iterator[Chunk]:
    """Every chunk from `start` until no more begins, at most MAX_CHUNKS.

    long_sizes: true sizes of chunks whose 32-bit field is all ones; the consumer may fill it on the way
    (RF64 keeps them in its first chunk).
    """
    chunk = read_chunk(source, start, dialect)
    for _ in range(MAX_CHUNKS):
        if chunk is None:
            return
        if long_sizes and chunk.size == 0xFFFF_FFFF and chunk.id in long_sizes:
            chunk = Chunk(id=chunk.id, body=chunk.body, size=long_sizes[chunk.id])
        yield chunk
        if chunk.end >= source.size:
            return
        chunk = chunk_behind(source, chunk.end, dialect)


def audio_follows(source: Source, end: int, dialect: Dialect, *, zeros_count: bool = False) -> bool:
    """Whether the bytes from `end` on are more audio, rather than further chunks, tags or filling.

    zeros_count: whether a file that goes on with nothing but zeros goes on with audio (silence).
    """
    for _ in range(MAX_CHUNKS):
        if _is_tag(source, end):
            return False
        chunk = chunk_behind(source, end, dialect)
        if chunk is None:
            return zeros_count or not _only_zeros(source, end)
        if chunk.end > source.size:
            return chunk.id not in _METADATA
        end = chunk.end
    return False


def _is_tag(source: Source, start: int) -> bool:
    """Too little for a chunk, or a tag that music players append."""
    rest = source.size - start
    if rest < 8:
        return True
    head = source.at(start, 8)
    return (rest == 128 and head.startswith(b"TAG")) or head == b"APETAGEX" or head.startswith(b"ID3")


def _only_zeros(source: Source, start: int) -> bool:
    """Judged by the first megabytes and the last bytes: a gigabyte of filling is not read twice."""
    tail = max(start, source.size - 65536)
    return not any(source.at(start, _ZEROS_CHECKED)) and not any(source.at(tail, 65536))
