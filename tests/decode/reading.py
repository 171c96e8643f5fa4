"""A file through both halves of the decoder, for the tests of this folder."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audit.decode.blocks import BLOCK_FRAMES, open_blocks
from audit.decode.header import Header, read_header
from audit.results import ContainerFault, FaultKind

RATE_HZ = 48000


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What header and blocks say of one file."""

    header: Header
    samples: NDArray[np.float32]  # (frames, channels)
    faults: tuple[ContainerFault, ...]  # of both
    md5_checked: bool | None

    @property
    def kinds(self) -> list[FaultKind]:
        return [fault.kind for fault in self.faults]


def header_of(path: Path) -> Header:
    return read_header(path, size_bytes=path.stat().st_size)


def read_whole(path: Path, block_frames: int = BLOCK_FRAMES) -> Reading:
    """Reads a file to its end; a file without a readable format gives an empty array."""
    header = header_of(path)
    if header.format is None:
        return Reading(
            header=header, samples=np.empty((0, 0), np.float32), faults=header.faults, md5_checked=None
        )
    with open_blocks(path, header, block_frames) as reader:
        blocks = list(reader)
        assert reader.frames_read == sum(len(block) for block in blocks)
        assert all(len(block) == block_frames for block in blocks[:-1])
        for block in blocks:
            assert block.dtype == np.float32
            assert block.flags.c_contiguous
            assert block.shape[1] == header.format.channels
            assert 0 < len(block) <= block_frames
        joined = np.concatenate(blocks) if blocks else np.empty((0, header.format.channels), np.float32)
        return Reading(
            header=header,
            samples=joined,
            faults=header.faults + reader.faults,
            md5_checked=reader.md5_checked,
        )


def ffmpeg(*arguments: str | Path) -> bytes:
    """Runs ffmpeg quietly and gives what it writes to its standard output."""
    command = ["ffmpeg", "-v", "error", "-nostdin", "-y", *map(str, arguments)]
    return subprocess.run(command, check=True, capture_output=True).stdout
