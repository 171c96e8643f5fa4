"""Short pieces of a stem at given places, for a second look: nothing else of the file is decoded where the
container allows it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audit.decode.blocks import open_blocks
from audit.decode.container import Header
from audit.decode.flacpieces import FlacFrames
from audit.decode.pcm import PcmDecoder
from audit.decode.source import AtWork, Source, reason_of
from audit.errors import UnreadableAudioError
from audit.facts import StemFormat

Piece = NDArray[np.float32]

_AROUND = 2048
"""Half a frame of most FLAC files: so much more is decoded on either side of a piece."""

SPARSE = 0.6
"""Of what is decoded anyway up to the last piece; own measurement."""


def read_pieces(
    path: Path, header: Header, starts: Sequence[int], frames: int, at_work: AtWork = lambda: None
) -> Iterator[Piece]:
    """For every start, in ascending order, the `frames` frames from there on, shape (frames, channels).

    Before the file's first frame and behind its last one lies silence; where it cannot be decoded, too (the
    first pass told of that). NaN and infinity are silence. Raises UnreadableAudioError where the file cannot
    be opened.
    """
    shape = header.format
    if shape is None:
        raise UnreadableAudioError(f"{path.name!r}: its header cannot be read")
    cut = _by_seeking if header.layout is not None else _in_passing
    if shape.container == "FLAC" and _are_sparse(starts, frames):
        cut = _by_frames
    pieces = cut(path, header, shape, starts, frames, at_work)
    for piece in pieces:
        if not np.isfinite(piece).all():  # seldom, and asked faster than mended
            np.nan_to_num(piece, copy=False, nan=0.0, posinf=0.0, neginf=0.0)
        yield piece


def _by_seeking(
    path: Path, header: Header, shape: StemFormat, starts: Sequence[int], frames: int, at_work: AtWork
) -> Iterator[Piece]:
    with _opened(path, at_work) as source:
        assert header.layout is not None
        decoder = PcmDecoder(source, shape, header.layout)
        for start in starts:
            at_work()
            piece = np.zeros((frames, shape.channels), dtype=np.float32)
            first = max(0, start)
            wanted = min(start + frames, shape.frames) - first
            if wanted > 0:
                decoder.move_to(first)
                there = decoder.read(wanted)
                piece[first - start : first - start + len(there)] = there
            yield piece


def _opened(path: Path, at_work: AtWork) -> Source:
    try:
        return Source(path, at_work)
    except (OSError, ValueError) as error:
        raise UnreadableAudioError(f"{path.name!r}: {reason_of(error)}") from None


def _are_sparse(starts: Sequence[int], frames: int) -> bool:
    """Whether to look for the frames that hold the pieces costs less than to decode all up to the last."""
    wanted, behind = 0, 0
    for start in starts:
        first, stop = max(behind, start - _AROUND), start + frames + _AROUND
        wanted += max(0, stop - first)
        behind = max(behind, stop)
    return wanted < SPARSE * behind


def _by_frames(
    path: Path, header: Header, shape: StemFormat, starts: Sequence[int], frames: int, at_work: AtWork
) -> Iterator[Piece]:
    """Decodes the frames of a FLAC that hold the pieces, each once; from where that fails on, all of it."""
    done = 0
    with _opened(path, at_work) as source:
        coded = _frames_of(source, max(starts) + frames)
        held, first, after = np.zeros((0, shape.channels), dtype=np.float32), 0, 0
        for start in starts if coded is not None else ():
            assert coded is not None
            piece = np.zeros((frames, shape.channels), dtype=np.float32)
            begin, stop = max(0, start), min(start + frames, coded.firsts[-1])
            if begin < stop:
                place, end = coded.places(begin, stop)
                if place >= after:
                    held, after, first = held[:0], place, coded.firsts[place]
                if end > after:
                    more = _decoded(coded, after, end, shape.channels)
                    if more is None:
                        break
                    spent = min(len(held), max(0, coded.firsts[place] - first))
                    held, first, after = np.concatenate([held[spent:], more]), first + spent, end
                piece[begin - start : stop - start] = held[begin - first : stop - first]
            done += 1
            yield piece
    if done < len(starts):
        yield from _in_passing(path, header, shape, starts[done:], frames, at_work)


def _frames_of(source: Source, until_frame: int) -> FlacFrames | None:
    try:
        return FlacFrames.found(source, until_frame)
    except OSError:
        return None


def _decoded(coded: FlacFrames, place: int, stop: int, channels: int) -> Piece | None:
    try:
        return coded.decode(place, stop, channels)
    except OSError:
        return None


def _in_passing(
    path: Path, header: Header, shape: StemFormat, starts: Sequence[int], frames: int, at_work: AtWork
) -> Iterator[Piece]:
    """Decodes the file up to its last piece, holding what the next one needs; its checksum was asked by the
    first pass."""
    unchecked = replace(header, md5=None)
    with open_blocks(path, unchecked, at_work=at_work) as reader:
        held = np.zeros((0, shape.channels), dtype=np.float32)
        first = 0  # the frame `held` begins with
        for start in starts:
            while first + len(held) < start + frames:
                block = next(reader, None)
                if block is None:
                    break
                spent = min(len(held), max(0, start - first))
                held = np.concatenate([held[spent:], block])
                first += spent
            piece = np.zeros((frames, shape.channels), dtype=np.float32)
            there = held[max(0, start - first) : max(0, start + frames - first)]
            place = max(0, first - start)
            piece[place : place + len(there)] = there
            yield piece
