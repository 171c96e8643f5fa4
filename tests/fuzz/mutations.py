"""Breaking files on purpose: their structure, not only their bytes.

    broken(specimen, rng) -> (bytes, what was done)

Chunked containers have their sizes, counts and order changed, chunks doubled, dropped, nested and moved,
foreign headers put in front, fields of the format chunk set to values at the edges; streams have bits turned
over, bytes lost, doubled and zeroed. One to three changes a file.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from tests.fuzz.specimens import Specimen

EDGES = (0, 1, 2, 3, 4, 7, 8, 0x7F, 0xFF, 0x100, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFE,
         0xFFFFFFFF)  # fmt: skip
RATES = (0, 1, 7, 8_000, 44_100, 48_000, 192_000, 384_001, 0x7FFFFFFF, 0xFFFFFFFF)
CHANNELS = (0, 1, 2, 3, 6, 64, 255, 256, 1024, 65_535)
BITS = (0, 1, 7, 8, 12, 16, 20, 24, 31, 32, 33, 64, 128, 65_535)
TAGS = (0, 1, 2, 3, 6, 7, 0x11, 0x31, 0x55, 0x161, 0xFFFE, 0xFFFF)
FOREIGN = (
    b"ID3\x04\x00\x00\x00\x00\x02\x01" + bytes(257), b"ID3\x03\x00\x00\x7f\x7f\x7f\x7f", b"\xef\xbb\xbf",
    bytes(512), b"RIFF\xff\xff\xff\xffWAVE", b"fLaC", b"OggS", b"\xff\xfb\x90\x00", b"<html>", b"PK\x03\x04",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chunk:
    start: int
    size_at: int
    size_bytes: int
    body: int
    end: int


def broken(specimen: Specimen, rng: Random) -> tuple[bytes, str]:
    """The specimen with one to three things wrong; the words say which, for a report of what failed."""
    data, done = specimen.data, []
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        chunks = _chunks(data, specimen.kind)
        ways = STREAM if specimen.kind == "stream" or not chunks or rng.random() < 0.15 else CHUNKED
        way = rng.choice(ways)
        data = way(data, chunks, specimen.kind, rng)
        done.append(way.__name__.strip("_"))
    return data, f"{specimen.name}: {', '.join(done)}"


def _chunks(data: bytes, kind: str) -> list[_Chunk]:
    """The chunks of the top level, as far as they can be read."""
    first, name, size, order = {
        "riff": (12, 4, 4, "<"), "form": (12, 4, 4, ">"), "caf": (8, 4, 8, ">"), "w64": (40, 16, 8, "<"),
    }.get(kind, (0, 0, 0, "<"))  # fmt: skip
    found: list[_Chunk] = []
    at = first
    while name and at + name + size <= len(data) and len(found) < 40:
        (length,) = struct.unpack_from(order + ("I" if size == 4 else "Q"), data, at + name)
        body = at + name + size
        end = min(len(data), at + length if kind == "w64" else body + length)
        end = max(body, end)
        found.append(_Chunk(start=at, size_at=at + name, size_bytes=size, body=body, end=end))
        at = end + (-length % 8 if kind == "w64" else length % 2 if size == 4 else 0)
    return found


def _packed(value: int, size: int, kind: str) -> bytes:
    order = "little" if kind in ("riff", "w64") else "big"
    return (value % (1 << 8 * size)).to_bytes(size, order)  # type: ignore[arg-type]


def _at(data: bytes, at: int, new: bytes) -> bytes:
    return data[:at] + new + data[at + len(new) :]


def _size(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    one = rng.choice(chunks)
    length = one.end - one.body
    value = rng.choice(
        (*EDGES, length - 2, length - 1, length + 1, length + 2, 2 * length, len(data), 1 << 62)
    )
    return _at(data, one.size_at, _packed(value, one.size_bytes, kind))


def _outer_size(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    at, size = (16, 8) if kind == "w64" else (4, 4)
    return _at(data, at, _packed(rng.choice((*EDGES, len(data))), size, kind))


def _format_field(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    """A field of the chunk that says rate, channels and bits, wherever this container has it."""
    one = next((c for c in chunks if data[c.start : c.start + 4] in (b"fmt ", b"COMM", b"desc")), chunks[0])
    fields = {
        "form": ((0, 2, CHANNELS), (2, 4, EDGES), (6, 2, BITS), (8, 2, EDGES), (10, 4, EDGES),
                 (18, 4, EDGES)),
        "caf": ((0, 8, EDGES), (8, 4, EDGES), (12, 4, EDGES), (16, 4, EDGES), (20, 4, EDGES),
                (24, 4, CHANNELS), (28, 4, BITS)),
    }.get(kind, ((0, 2, TAGS), (2, 2, CHANNELS), (4, 4, RATES), (8, 4, EDGES), (12, 2, EDGES), (14, 2, BITS),
                 (16, 2, EDGES), (18, 2, BITS), (20, 4, EDGES), (24, 2, TAGS)))  # fmt: skip
    at, size, values = rng.choice(fields)
    return _at(data, min(one.body + at, len(data) - size), _packed(rng.choice(values), size, kind))


def _any_field(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    """Two or four bytes anywhere in a chunk that holds no audio."""
    small = [c for c in chunks if 4 <= c.end - c.body < 2000] or chunks
    one, size = rng.choice(small), rng.choice((2, 4))
    return _at(
        data, rng.randint(one.body, max(one.body, one.end - size)), _packed(rng.choice(EDGES), size, kind)
    )


def _double(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    one, other = rng.choice(chunks), rng.choice(chunks)
    return data[: other.start] + data[one.start : one.end] + data[other.start :]


def _drop(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    one = rng.choice(chunks)
    return data[: one.start] + data[one.end :]


def _exchange(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    parts = [data[one.start : one.end] for one in chunks]
    rng.shuffle(parts)
    return data[: chunks[0].start] + b"".join(parts)


def _nest(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    """A chunk inside another one, again and again."""
    one = rng.choice(chunks)
    inner = data[one.start : min(one.end, one.start + 400)]
    for _ in range(rng.choice((1, 2, 50))):
        inner = b"LIST" + _packed(len(inner) + 4, one.size_bytes, kind) + b"adtl" + inner
    return data[: one.start] + inner + data[one.start :]


def _unknown(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    """Chunks nobody knows, some with names that are no letters."""
    one = rng.choice(chunks)
    name = bytes(rng.choice((0, 0x20, 0x41, 0x7A, 0xFF)) for _ in range(one.size_at - one.start))
    body = bytes(rng.randrange(0, 40))
    return data[: one.start] + name + _packed(len(body), one.size_bytes, kind) + body + data[one.start :]


def _odd_padding(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    one = rng.choice(chunks)
    return data[: one.end] + bytes(rng.choice((1, 2, 3, 7))) + data[one.end :]


def _sixty_four(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    """A ds64 chunk with sizes of its own choice, and the magic word that asks for it."""
    values = [rng.choice((*EDGES, len(data), 1 << 40, (1 << 63) - 1, (1 << 64) - 1)) for _ in range(3)]
    body = struct.pack("<QQQI", *values, rng.choice((0, 1, 3, 0xFFFFFFFF)))
    chunk = b"ds64" + struct.pack("<I", rng.choice((len(body), 0, 0xFFFFFFFF))) + body
    return rng.choice((b"RF64", b"BW64", b"RIFF")) + data[4:12] + chunk + data[12:]


def _magic(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    return rng.choice((b"RIFF", b"RIFX", b"RF64", b"FORM", b"caff", b"riff", b"\0\0\0\0")) + data[4:]


def _foreign(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    return rng.choice(FOREIGN) + data


def _cut(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    return data[: rng.choice((rng.randrange(len(data) + 1), rng.randrange(min(80, len(data)) + 1)))]


def _turn_bits(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    if not data:
        return data
    changed = bytearray(data)
    # Headers lie in front: half of the bits are turned there.
    for _ in range(rng.choice((1, 2, 8, 40))):
        place = rng.randrange(len(changed)) if rng.random() < 0.5 else rng.randrange(min(200, len(changed)))
        changed[place] ^= 1 << rng.randrange(8)
    return bytes(changed)


def _lose(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + data[at + rng.choice((1, 2, 16, 1000)) :]


def _repeat(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + data[max(0, at - rng.choice((1, 16, 1000))) :]


def _blank(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    at, length = rng.randrange(len(data) + 1), rng.choice((4, 64, 4096))
    fill = rng.choice((b"\0", b"\xff"))
    return data[:at] + fill * min(length, len(data) - at) + data[at + length :]


def _append(data: bytes, chunks: list[_Chunk], kind: str, rng: Random) -> bytes:
    return data + rng.choice((b"\0", b"TAG".ljust(128, b"x"), rng.randbytes(3000), data))


Way = Callable[[bytes, list[_Chunk], str, Random], bytes]
CHUNKED: tuple[Way, ...] = (
    _size, _size, _size, _outer_size, _format_field, _format_field, _format_field, _any_field, _double, _drop,
    _exchange, _nest, _unknown, _odd_padding, _sixty_four, _magic, _foreign, _cut, _append,
)  # fmt: skip
STREAM: tuple[Way, ...] = (
    _turn_bits,
    _turn_bits,
    _turn_bits,
    _lose,
    _repeat,
    _blank,
    _cut,
    _append,
    _foreign,
)
