"""One stem of a song while it is being heard: opened, read block by block, measured, and what came of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Protocol

import numpy as np
import numpy.typing as npt

from audit.decode.blocks import BlockReader, open_blocks
from audit.decode.header import Header, read_header
from audit.errors import BadSamplesError, ExhaustedError, UnreadableAudioError
from audit.evidence import PartEvidence, StemEvidence
from audit.facts import Role, Stem
from audit.measure.samples import check_rate
from audit.measure.stem import StemMeter
from audit.pipeline.song.parts import split_into_parts
from audit.results import Cause, FaultKind, StemMeasures

Progress = Callable[[str, int], None]
"""Told (stem, bytes worked through since the last call), from any thread. 0 bytes: still at work."""

Powers = npt.NDArray[np.float32]
"""Mean square of every 100 ms of a stem, shape (steps, channels)."""

DEAD = frozenset({FaultKind.UNREADABLE, FaultKind.EMPTY, FaultKind.NOT_ON_DISK})
"""Faults of a header after which there is nothing to hear."""


class StemMemory(Protocol):
    """What an earlier scan heard of the same stems, each by itself."""

    def recall(self, stem: Stem, block_frames: int) -> tuple[StemEvidence, Powers] | None:
        """What was heard of this stem, read in blocks of that size; None where nothing is known."""

    def keep(self, heard: StemEvidence, powers: Powers, block_frames: int) -> None:
        """Take what was heard now."""


@dataclass(slots=True)
class Ear:
    """One stem while it is being heard."""

    stem: Stem
    header: Header
    reader: BlockReader | None = None
    meter: StemMeter | None = None
    blocks: Iterator[npt.NDArray[np.float32]] = field(default_factory=lambda: iter(()))
    failure: str | None = None
    cause: Cause = Cause.FILE
    bytes_told: int = 0
    known: StemEvidence | None = None  # heard by an earlier scan: only its blocks are needed, if they are

    def open(self, block_frames: int, progress: Progress, *, for_others: bool) -> None:
        """Make it ready to be heard; `failure` says where it cannot be.

        for_others: its blocks belong to something that is made of several stems.
        """
        shape = self.header.format
        if self.failure is not None or shape is None or (self.known is not None and not for_others):
            return
        try:
            self.reader = open_blocks(
                self.stem.path, self.header, block_frames, partial(progress, self.stem.file, 0)
            )
        except UnreadableAudioError as error:
            self.failure = str(error)
            self.cause = Cause.OURS if isinstance(error, ExhaustedError) else Cause.FILE
            return
        self.blocks = iter(self.reader)
        if self.known is not None:
            return
        self.meter = StemMeter(
            shape.sample_rate_hz, shape.channels, bits=shape.bits, is_float=shape.is_float,
            timecode=Role.TIMECODE in (self.stem.role, *self.stem.channel_roles),
        )  # fmt: skip

    def close(self) -> None:
        """Let go of the file; what was measured stays."""
        if self.reader is not None:
            self.reader.close()

    def next_block(self) -> npt.NDArray[np.float32] | None:
        """The next block, already measured and free of NaN; None at the end."""
        block = next(self.blocks, None)
        if block is None or self.known is not None:
            return None if block is None else finite(block)
        return None if self.meter is None else self.meter.add(block)

    @property
    def channels(self) -> int:
        """0 where it cannot be heard."""
        return self.header.format.channels if self.header.format and self.failure is None else 0

    def bytes_due(self) -> int:
        """Bytes worked through since the last call, as a share of the file's size."""
        if self.reader is None or self.header.format is None:
            return 0
        frames = max(1, self.header.format.frames)
        done = min(self.stem.size_bytes, self.stem.size_bytes * self.reader.frames_read // frames)
        due, self.bytes_told = done - self.bytes_told, max(done, self.bytes_told)
        return max(0, due)

    def bytes_left(self) -> int:
        """Bytes that were not told of yet."""
        return max(0, self.stem.size_bytes - self.bytes_told)

    def evidence(self) -> StemEvidence:
        """What was heard, once its last block was."""
        if self.known is not None and self.failure is None:
            return replace(self.known, stem=self.stem)
        plain = StemEvidence(
            stem=self.stem, format=self.header.format, faults=self.header.faults, audio=None,
            failure=self.failure, failure_cause=self.cause,
        )  # fmt: skip
        if self.reader is None or self.meter is None:
            return plain
        faults = self.header.faults + self.reader.faults
        if not self.reader.frames_read:
            why = next((fault.detail for fault in faults), "it holds no audio that can be decoded")
            return replace(plain, faults=faults, failure=why)
        audio, parts = self._measured(self.reader, self.meter)
        return replace(plain, faults=faults, audio=audio, parts=parts)

    def _measured(
        self, reader: BlockReader, meter: StemMeter
    ) -> tuple[StemMeasures, tuple[PartEvidence, ...]]:
        channels = self.header.format.channels if self.header.format is not None else 0
        split = split_into_parts(self.stem, tuple(meter.nature(channel) for channel in range(channels)))
        audio = meter.result(
            tuple(part.channels for part in split), frames=reader.frames_read, md5_checked=reader.md5_checked
        )
        parts = tuple(
            PartEvidence(
                role=part.role,
                role_is_guess=part.is_guess,
                audience=self.stem.is_heard(part.role),
                measures=measures,
            )
            for part, measures in zip(split, audio.parts, strict=True)
        )
        return audio, parts


def look_at(stem: Stem, skipped: str | None, progress: Progress) -> Ear:
    """What the stem's header says, and whether it can be heard at all. Nothing stays open.

    skipped: why it is not to be touched; None: it is.
    """
    if skipped is not None:
        return Ear(stem=stem, header=Header(format=None, faults=()), failure=skipped, cause=Cause.OURS)
    header = read_header(
        stem.path, size_bytes=stem.size_bytes, allocated_bytes=stem.allocated_bytes, elsewhere=stem.elsewhere,
        at_work=partial(progress, stem.file, 0),
    )  # fmt: skip
    ear = Ear(stem=stem, header=header)
    fault = next((fault for fault in header.faults if fault.kind in DEAD), None)
    if header.format is None or fault is not None:
        ear.failure = fault.detail if fault else "its header cannot be read"
        ear.cause = fault.cause if fault else Cause.FILE
        return ear
    try:
        check_rate(header.format.sample_rate_hz)
    except BadSamplesError as error:
        ear.failure, ear.cause = f"it cannot be measured: {error}", Cause.OURS
    return ear


def finite(block: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """The block with silence for what is no number, as StemMeter hands it back; written in place."""
    return np.nan_to_num(block, copy=False, nan=0.0, posinf=0.0, neginf=0.0)
