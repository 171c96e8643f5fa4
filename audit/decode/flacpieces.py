"""Pieces of a FLAC without decoding what lies between them: whole frames, laid end to end behind the stream's
own header (RFC 9639 sections 8 and 9).

    FlacFrames.found(source, until_frame) -> FlacFrames | None   .decode(first_frame, stop_frame) -> samples

libFLAC finds a frame by guessing at its place in bytes: in a file that rests somewhere one search takes as
long as to decode all of it (own measurement). Here headers are looked for in the bytes, and one counts only
where the frame before it ends.
"""

from __future__ import annotations

import io
from bisect import bisect_left, bisect_right
from dataclasses import dataclass

import numpy as np
import soundfile
from numpy.typing import NDArray

from audit.decode.container import RefusedError
from audit.decode.flac import audio_begin
from audit.decode.flacframes import FrameHead, read_frame_head
from audit.decode.sndfile import SoundStream, read_frames
from audit.decode.source import Source

_AT_ONCE = 1 << 20
_HEAD_BYTES = 16
_LEAST_BLOCK = 256  # of smaller frames there are so many that decoding them all costs less
_STREAMINFO = 42  # the magic, the block's header and the block itself


@dataclass(frozen=True, slots=True)
class FlacFrames:
    """Where the frames of a FLAC lie. Memory: a hundred bytes a frame of 4096 samples or so."""

    source: Source
    header: bytes  # of a stream that holds some of them
    heads: list[FrameHead]  # in order; the last one is only the end of the one before it
    firsts: list[int]  # the sample that each begins with

    @classmethod
    def found(cls, source: Source, until_frame: int) -> FlacFrames | None:
        """The frames that hold the samples up to `until_frame`. None where they do not follow one another
        from the first to there, or where they are so short that decoding all of them costs less. A frame
        that is damaged inside is found when it is asked for, and not by those behind it.
        """
        start = source.at(0, _AT_ONCE).find(b"fLaC")
        info = source.at(start, _STREAMINFO) if start >= 0 else b""
        if len(info) < _STREAMINFO or int.from_bytes(info[8:10], "big") < _LEAST_BLOCK:
            return None
        try:
            place = audio_begin(source, start + 4)
        except RefusedError:
            return None
        total = int.from_bytes(info[18:26], "big") & 0xF_FFFF_FFFF
        until_frame = min(until_frame, total)  # none where the header does not say how long it is
        heads = _heads(source, place, int.from_bytes(info[8:10], "big"), until_frame)
        if heads[-1].first_frame < until_frame or total == 0:
            return None
        header = info[:4] + b"\x80" + info[5:26] + bytes(16)  # the last block of metadata; no MD5
        return cls(source, header, heads, [head.first_frame for head in heads])

    def places(self, first_frame: int, stop_frame: int) -> tuple[int, int]:
        """Which of the heads hold these samples: the first of them, and the one after the last."""
        last = len(self.heads) - 1
        return bisect_right(self.firsts, first_frame) - 1, min(last, bisect_left(self.firsts, stop_frame))

    def decode(self, place: int, stop: int, channels: int) -> NDArray[np.float32] | None:
        """The samples of heads[place:stop], shape (frames, channels). None where they decode to fewer than
        their headers say."""
        begin, end = self.heads[place], self.heads[stop]
        coded = self.source.at(begin.offset, end.offset - begin.offset)
        block = np.empty((end.first_frame - begin.first_frame, channels), np.float32)
        try:
            with SoundStream(io.BytesIO(self.header + coded)) as stream:
                got = read_frames(stream, block)
        except soundfile.LibsndfileError:
            return None
        return block if got.frames == len(block) and got.error is None else None


def _heads(source: Source, place: int, fixed_block: int, until_frame: int) -> list[FrameHead]:
    """Headers one after another, each where the samples of the one before it end, up to the first that begins
    at `until_frame` or later; at the end of the file stands one without samples."""
    heads: list[FrameHead] = []
    expected = 0
    sync = source.at(place, 2)  # a stream's frames all begin with the same two bytes
    while not heads or heads[-1].first_frame < until_frame:
        data = source.at(place, _AT_ONCE + _HEAD_BYTES)
        for at in _places_of(sync, data, min(len(data), _AT_ONCE)):
            head = read_frame_head(data, at, fixed_block, before=place)
            if head is not None and head.first_frame == expected:
                expected = head.end_frame
                heads.append(head)
        place += _AT_ONCE
        if place >= source.size:
            return [*heads, FrameHead(offset=source.size, first_frame=expected, frames=0)]
    return heads


def _places_of(pair: bytes, data: bytes, stop: int) -> list[int]:
    """Where two bytes stand in data, the first of them before `stop`; five times as fast as bytes.find."""
    if len(pair) < 2:
        return []
    found = np.frombuffer(data, np.uint8)
    both = (found[: min(stop, len(data) - 1)] == pair[0]) & (found[1 : stop + 1] == pair[1])
    places: list[int] = np.flatnonzero(both).tolist()
    return places
