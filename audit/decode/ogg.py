"""Ogg pages (RFC 3533): whether the last one is there, and whether every page's checksum holds."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass

from audit.decode.container import Coded
from audit.decode.source import Source
from audit.results import ContainerFault, FaultKind

_LAST_PAGE_FLAG = 0x04
_LARGEST_PAGE = 27 + 255 + 255 * 255
_MIRRORED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page as its header describes it."""

    offset: int
    length: int  # header and body
    last: bool
    granule: int  # frames up to this page's end; −1 where no packet ends in it


def parse_ogg(source: Source) -> Coded:
    """Ogg Vorbis, Opus or FLAC: libsndfile reads the codec's headers, this looks whether the end is there."""
    fault = ContainerFault(
        kind=FaultKind.TRUNCATED, detail="the stream breaks off: the page that ends it is missing"
    )
    return Coded(container="OGG", faults=() if _ends_well(source) else (fault,))


def _ends_well(source: Source) -> bool:
    """The last page is complete and marked as the last (RFC 3533 section 6, header type flag 0x04)."""
    begin = max(0, source.size - 2 * _LARGEST_PAGE)
    tail = source.at(begin, 2 * _LARGEST_PAGE)
    place = tail.rfind(b"OggS")
    if place < 0:
        return False
    page = read_page(source, begin + place)
    return page is not None and page.last


def read_page(source: Source, offset: int) -> Page | None:
    """The page that begins there; None where none begins or its end is missing."""
    head = source.at(offset, 27)
    if len(head) < 27 or head[:5] != b"OggS\0":
        return None
    lacing = source.at(offset + 27, head[26])
    length = 27 + head[26] + sum(lacing)
    if len(lacing) < head[26] or offset + length > source.size:
        return None
    granule = int.from_bytes(head[6:14], "little", signed=True)
    return Page(offset=offset, length=length, last=bool(head[5] & _LAST_PAGE_FLAG), granule=granule)


def pages(source: Source) -> Iterator[Page]:
    """Every complete page from the file's beginning; stops where no page begins."""
    offset = 0
    while (page := read_page(source, offset)) is not None:
        yield page
        offset += page.length


def find_damaged_page(source: Source) -> int | None:
    """Frames, by the stream's count, before the first page whose CRC does not hold; None where all hold."""
    frames = end = 0
    for page in pages(source):
        body = bytearray(source.at(page.offset, page.length))
        stored = int.from_bytes(body[22:26], "little")
        body[22:26] = bytes(4)
        if page_crc(body) != stored:
            return frames
        frames = max(frames, page.granule)
        end = page.offset + page.length
    following = source.at(end, 4 * _LARGEST_PAGE)
    return frames if b"OggS" in following[4:] else None  # a page behind bytes that are none: its header broke


def page_crc(page: bytes | bytearray) -> int:
    """CRC-32 of RFC 3533: polynomial 0x04C11DB7, not mirrored, start and final value 0.

    zlib's CRC has the same polynomial but is mirrored and starts at all ones: mirror bits in and out.
    """
    mirrored = zlib.crc32(page.translate(_MIRRORED), 0xFFFF_FFFF) ^ 0xFFFF_FFFF
    return int(f"{mirrored:032b}"[::-1], 2)
