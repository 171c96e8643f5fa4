"""A stem's audio as float32 blocks, in one pass from its first frame to its last good one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from audit.decode.coded import CodedDecoder, FlacDecoder
from audit.decode.container import Header, RefusedError
from audit.decode.pcm import PcmDecoder
from audit.decode.source import AtWork, Source, cause_of, reason_of
from audit.errors import ExhaustedError, UnreadableAudioError
from audit.facts import StemFormat
from audit.results import Cause, ContainerFault

BLOCK_FRAMES = 262_144
"""Half of it costs a tenth more, as every meter has work to do once a block (own measurement)."""


class Decoder(Protocol):
    """What BlockReader reads from."""

    faults: tuple[ContainerFault, ...]  # complete once `read` has returned fewer frames than asked
    md5_checked: bool | None

    def read(self, frames: int) -> NDArray[np.float32]:
        """The next frames, shape (frames, channels), float32; fewer only at the end, zero behind it."""

    def close(self) -> None: ...


class BlockReader:
    """Iterator over float32 blocks and context manager; forward only, never raises while it reads.

    Each block is a fresh C-contiguous array of shape (frames, channels), full scale 1.0, `block_frames` long
    but for the last. What went wrong on the way stands in `faults` after the last block.
    """

    def __init__(
        self, decoder: Decoder, stem_format: StemFormat, block_frames: int, at_work: AtWork = lambda: None
    ) -> None:
        self._decoder = decoder
        self._format = stem_format
        self._block_frames = block_frames
        self._at_work = at_work
        self._ended = False
        self.frames_read = 0

    @property
    def faults(self) -> tuple[ContainerFault, ...]:
        """What decoding brought to light; complete after the last block."""
        return self._decoder.faults

    @property
    def md5_checked(self) -> bool | None:
        """After the last block: whether the stored checksum was found right. None: the file stores none."""
        return self._decoder.md5_checked

    @property
    def format(self) -> StemFormat:
        """The header's format, after the last block with as many frames as were really decoded."""
        return replace(self._format, frames=self.frames_read) if self._ended else self._format

    def __iter__(self) -> Iterator[NDArray[np.float32]]:
        return self

    def __next__(self) -> NDArray[np.float32]:
        self._at_work()
        block = self._decoder.read(0 if self._ended else self._block_frames)
        if len(block) < self._block_frames:
            self._ended = True
        if len(block) == 0:
            raise StopIteration
        self.frames_read += len(block)
        return block

    def close(self) -> None:
        self._decoder.close()

    def __enter__(self) -> BlockReader:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_blocks(
    path: Path, header: Header, block_frames: int = BLOCK_FRAMES, at_work: AtWork = lambda: None
) -> BlockReader:
    """Opens a stem for one pass.

    header: of the same file, from `read_header`. block_frames: at least 1. at_work: called at every
    reading, from the thread that reads.
    Raises UnreadableAudioError where the file cannot be opened or nothing of it can be decoded, and
    ExhaustedError where that is no fault of the file's.
    """
    if block_frames < 1:
        raise ValueError(f"block_frames must be at least 1, not {block_frames}")
    stem_format = header.format
    if stem_format is None:
        reason = header.faults[0].detail if header.faults else "its header cannot be read"
        raise UnreadableAudioError(f"{path.name!r}: {reason}")
    try:
        source = Source(path, at_work)
    except (OSError, ValueError) as error:
        kind = ExhaustedError if cause_of(error) is Cause.OURS else UnreadableAudioError
        raise kind(f"{path.name!r}: {reason_of(error)}") from None
    try:
        return BlockReader(_decoder(source, header, stem_format), stem_format, block_frames, at_work)
    except RefusedError as error:
        source.close()
        raise UnreadableAudioError(f"{path.name!r}: {error}") from None


def _decoder(source: Source, header: Header, stem_format: StemFormat) -> Decoder:
    if header.layout is not None:
        return PcmDecoder(source, stem_format, header.layout)
    if stem_format.container == "FLAC":
        return FlacDecoder(source, stem_format, header.md5)
    return CodedDecoder(source, stem_format, header.stream_offset_bytes)
