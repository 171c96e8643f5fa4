"""MPEG audio for a decoder that trusts a length tag: its frames counted, and a true tag put in front.

libsndfile stops where mpg123's estimate of the length ends: in a file of variable bit rate without a Xing
tag that loses the greater part. Where the tag is missing, or promises more bytes than there are, the decoder
gets the frames behind a tag of our own making.
"""

from __future__ import annotations

import io
import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from audit.decode.mpeg import frame_length, is_cut, promised_bytes, side_info_bytes
from audit.decode.source import Source

_WINDOW_BYTES = 1 << 16
_STDERR = 2
_quiet = threading.Lock()


class TaggedMpeg(io.RawIOBase):
    """A read-only file object: a length tag's frame, then the file from its first audio frame on."""

    def __init__(self, source: Source, begin: int, tag: bytes) -> None:
        self._source = source
        self._begin = begin
        self._tag = tag
        self._size = len(tag) + source.size - begin
        self._place = 0

    def seekable(self) -> bool:
        return True

    def readable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._place

    def seek(self, offset: int, whence: int = os.SEEK_SET, /) -> int:
        start = {os.SEEK_SET: 0, os.SEEK_CUR: self._place, os.SEEK_END: self._size}[whence]
        self._place = max(0, start + offset)
        return self._place

    def readinto(self, buffer: memoryview, /) -> int:  # type: ignore[override]  # cffi's buffer is one too
        part = self._tag[self._place : self._place + len(buffer)]
        if len(part) < len(buffer):
            offset = self._begin + self._place + len(part) - len(self._tag)
            part += self._source.at(offset, len(buffer) - len(part))
        buffer[: len(part)] = part
        self._place += len(part)
        return len(part)


def tagged_if_needed(source: Source, base: int) -> TaggedMpeg | None:
    """The stream with a true tag; None where its own tag is there and fits the file."""
    promised = promised_bytes(source, base)
    if promised is not None and not is_cut(source, promised):
        return None
    head = source.at(base, 4)
    begin = base if promised is None else base + (frame_length(head) or 0)
    frames, end = count_mpeg_frames(source, begin)
    return TaggedMpeg(source, begin, make_tag(head, frames, end - begin))


def count_mpeg_frames(source: Source, begin: int) -> tuple[int, int]:
    """Frames from `begin` on, and where the last whole one ends. Bytes that are no frame are stepped over."""
    frames, place, end = 0, begin, begin
    window, window_begin = b"", begin
    while place + 4 <= source.size:
        if not window_begin <= place <= window_begin + len(window) - 4:
            window, window_begin = source.at(place, _WINDOW_BYTES), place
            if len(window) < 4:
                break
        at = place - window_begin
        length = frame_length(window[at : at + 4])
        if length is None:
            place = window_begin + _next_sync(window, at + 1)
        elif place + length > source.size:
            break
        else:
            frames += 1
            place = end = place + length
    return frames, end


def _next_sync(window: bytes, at: int) -> int:
    found = window.find(b"\xff", at)
    return len(window) if found < 0 else found


def make_tag(head: bytes, frames: int, stream_bytes: int) -> bytes:
    """A silent frame of the stream's own kind that holds a Xing tag with these counts."""
    largest = bytes((head[0], head[1] | 1, (head[2] & 0x0C) | 0xE0, head[3]))  # no CRC, highest bit rate
    length = frame_length(largest) or 0
    tag = b"Xing" + (3).to_bytes(4, "big") + frames.to_bytes(4, "big")
    tag += (stream_bytes + length).to_bytes(4, "big")
    return (largest + bytes(side_info_bytes(head)) + tag).ljust(length, b"\0")


@contextmanager
def quiet_decoder() -> Iterator[None]:
    """mpg123 writes its complaints straight to the process's standard error: sent nowhere for the while.

    What another thread writes there meanwhile is lost too; so this surrounds MPEG decoding only.
    """
    with _quiet:
        kept = os.dup(_STDERR)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, _STDERR)
            yield
        finally:
            os.dup2(kept, _STDERR)
            os.close(kept)
            os.close(nowhere)
