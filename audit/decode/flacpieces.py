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
from audit.decode.flacframes import BLOCK_SIZES, CRC8
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
    offsets: list[int]  # of each in the file, in order; the last one is only the end of the one before it
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
        offsets, firsts = _heads(source, place, int.from_bytes(info[8:10], "big"), until_frame)
        if firsts[-1] < until_frame or total == 0:
            return None
        header = info[:4] + b"\x80" + info[5:26] + bytes(16)  # the last block of metadata; no MD5
        return cls(source, header, offsets, firsts)

    def places(self, first_frame: int, stop_frame: int) -> tuple[int, int]:
        """Which of the frames hold these samples: the first of them, and the one after the last."""
        last = len(self.firsts) - 1
        return bisect_right(self.firsts, first_frame) - 1, min(last, bisect_left(self.firsts, stop_frame))

    def decode(self, place: int, stop: int, channels: int) -> NDArray[np.float32] | None:
        """The samples of the frames place … stop − 1, shape (samples, channels). None where they decode to
        fewer than their headers say."""
        coded = self.source.at(self.offsets[place], self.offsets[stop] - self.offsets[place])
        block = np.empty((self.firsts[stop] - self.firsts[place], channels), np.float32)
        try:
            with SoundStream(io.BytesIO(self.header + coded)) as stream:
                got = read_frames(stream, block)
        except soundfile.LibsndfileError:
            return None
        return block if got.frames == len(block) and got.error is None else None


def _heads(source: Source, place: int, fixed_block: int, until_frame: int) -> tuple[list[int], list[int]]:
    """Frames one after another, each where the samples of the one before it end, up to the first that begins
    at `until_frame` or later: where they lie in the file, and the sample that each begins with. At the end of
    the file stands one without samples."""
    from audit.decode.flac_kernel import follow_heads

    offsets: list[int] = []
    firsts: list[int] = []
    expected = 0
    sync = source.at(place, 2)  # a stream's frames all begin with the same two bytes
    while not firsts or firsts[-1] < until_frame:
        data = np.frombuffer(source.at(place, _AT_ONCE + _HEAD_BYTES), np.uint8)
        places = _places_of(sync, data, min(len(data), _AT_ONCE))
        found = np.empty((len(places), 2), np.int64)
        count, expected = follow_heads(data, places, fixed_block, BLOCK_SIZES, CRC8, expected, found)
        offsets += (found[:count, 0] + place).tolist()
        firsts += found[:count, 1].tolist()
        place += _AT_ONCE
        if place >= source.size:
            return [*offsets, source.size], [*firsts, expected]
    return offsets, firsts


def _places_of(pair: bytes, data: NDArray[np.uint8], stop: int) -> NDArray[np.int64]:
    """Where two bytes stand in data, the first of them before `stop`; five times as fast as bytes.find."""
    if len(pair) < 2:
        return np.zeros(0, np.int64)
    both = (data[: min(stop, len(data) - 1)] == pair[0]) & (data[1 : stop + 1] == pair[1])
    return np.flatnonzero(both)
