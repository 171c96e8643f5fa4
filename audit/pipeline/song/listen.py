"""One song, heard once: every stem's blocks feed its meters and the song's mix in lock step."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Protocol

import numpy as np
import numpy.typing as npt

from audit.decode.blocks import BLOCK_FRAMES, BlockReader, open_blocks
from audit.decode.header import Header, read_header
from audit.errors import BadSamplesError, ExhaustedError, UnreadableAudioError
from audit.evidence import PartEvidence, SongEvidence, StemEvidence
from audit.facts import PassedOver, Role, Song, Stem
from audit.measure.samples import check_rate
from audit.measure.stem import StemMeter
from audit.pipeline.song.bleed import with_leaks
from audit.pipeline.song.click import count_in_beside_leaks, with_click
from audit.pipeline.song.fit_enough import FIT_ENOUGH
from audit.pipeline.song.mix_clicks import with_clicks_of_parts
from audit.pipeline.song.open_files import block_frames, why_not_together
from audit.pipeline.song.parts import split_into_parts
from audit.pipeline.song.sums import SongSums
from audit.pipeline.song.timing import with_alignment
from audit.pipeline.song.together import Together
from audit.pipeline.songs.belonging import with_key
from audit.results import Cause, ContainerFault, FaultKind, Nature, StemMeasures
from audit.settings.patch import Patch

Progress = Callable[[str, int], None]
"""Told (stem, bytes worked through since the last call), from any thread. 0 bytes: still at work."""


Powers = npt.NDArray[np.float32]
"""Mean square of every 100 ms of a stem, shape (steps, channels)."""


class StemMemory(Protocol):
    """What an earlier scan heard of the same stems, each by itself."""

    def recall(self, stem: Stem, block_frames: int) -> tuple[StemEvidence, Powers] | None:
        """What was heard of this stem, read in blocks of that size; None where nothing is known."""

    def keep(self, heard: StemEvidence, powers: Powers, block_frames: int) -> None:
        """Take what was heard now."""


@dataclass(slots=True)
class _Ear:
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

    def next_block(self) -> npt.NDArray[np.float32] | None:
        """The next block, already measured and free of NaN; None at the end."""
        block = next(self.blocks, None)
        if block is None or self.known is not None:
            return None if block is None else _finite(block)
        return None if self.meter is None else self.meter.add(block)

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

    @property
    def channels(self) -> int:
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
        return max(0, self.stem.size_bytes - self.bytes_told)


def listen(
    song: Song,
    progress: Progress,
    *,
    passed_over: tuple[PassedOver, ...] = (),
    threads: int = 1,
    skip: Mapping[str, str] | None = None,
    fit_enough: float = FIT_ENOUGH,
    show_rate_hz: int | None = None,
    patch: Patch | None = None,
    memory: StemMemory | None = None,
) -> SongEvidence:
    """Everything one pass over the song's stems tells, its mix included.

    skip: stems not to be touched, with the reason (a decoder crashed on them).
    fit_enough: share of a full mix that its parts must explain before it is left out of the song's sum.
    show_rate_hz: tells which of two sets of the same stems makes the song's sum.
    patch: the outputs to be added up as well.
    memory: stems that it knows are not measured again; their audio is decoded only where the sum needs it.
    A second pass over the stems is made only where the first showed that the sum has to be made of others
    than their names said (a duplicate, a channel that is timecode, a full mix that is none).
    """
    ears = [_look_at(stem, (skip or {}).get(stem.file), progress) for stem in song.stems]
    not_together = why_not_together(sum(ear.failure is None for ear in ears))
    together = not_together is None
    formats = {ear.stem.file: ear.header.format for ear in ears if ear.failure is None}
    sums = SongSums(song, formats, show_rate_hz=show_rate_hz, patch=patch) if together else None
    able = [(ear.stem, ear.header.format) for ear in ears if ear.failure is None and ear.header.format]
    ensemble = Together(able) if together else None
    groups = [ears] if together else [ears[at : at + threads] for at in range(0, len(ears), threads)]
    stems: tuple[StemEvidence, ...] = ()
    powers: dict[str, Powers] = {}
    for_others = (sums.stems if sums else frozenset()) | (ensemble.names if ensemble else frozenset())
    with _hands(threads) as pool:
        for group in groups:
            try:
                frames = _block_frames(group)
                for ear in group:
                    if memory is not None and ear.failure is None:
                        _recall(ear, memory, frames, powers)
                    ear.open(frames, progress, for_others=ear.stem.file in for_others)
                _run(group, sums, ensemble, progress, pool, threads)
            finally:
                for ear in group:
                    if ear.reader is not None:
                        ear.reader.close()
            heard = tuple(_evidence(ear) for ear in group)
            stems += heard
            powers |= {ear.stem.file: ear.meter.step_powers for ear in group if ear.meter is not None}
            for ear, stem in zip(group, heard, strict=True):
                if memory is not None and ear.meter is not None and stem.audio is not None:
                    memory.keep(stem, powers[stem.name], frames)
                ear.meter = None  # a meter's state can be large, and stems can be many
    fits = ensemble.parts_fits(stems) if ensemble else ()
    summed = sums is not None and _sum_again(sums, sums.settle(stems, fits, fit_enough), ears, progress)
    evidence = SongEvidence(
        song=song, stems=stems, mix=sums.mix if sums and summed else None,
        outputs=sums.outputs if sums and summed else None, mix_failure=not_together, parts_fits=fits,
        passed_over=passed_over, common_sources=ensemble.common_sources() if ensemble else None,
    )  # fmt: skip
    headers = {ear.stem.file: ear.header for ear in ears}
    evidence = with_key(with_alignment(with_click(evidence, headers, progress)))
    evidence = with_clicks_of_parts(evidence, headers, progress)
    return count_in_beside_leaks(with_leaks(evidence, headers, powers, progress))


def _hands(threads: int) -> AbstractContextManager[ThreadPoolExecutor | None]:
    """Threads that measure stems side by side. None for a single one: memory that another thread gave back is
    not taken again by this one."""
    return ThreadPoolExecutor(max_workers=threads) if threads > 1 else nullcontext()


def _look_at(stem: Stem, skipped: str | None, progress: Progress) -> _Ear:
    """What the stem's header says, and whether it can be heard at all. Nothing stays open."""
    if skipped is not None:
        return _Ear(stem=stem, header=Header(format=None, faults=()), failure=skipped, cause=Cause.OURS)
    header = read_header(
        stem.path, size_bytes=stem.size_bytes, allocated_bytes=stem.allocated_bytes, elsewhere=stem.elsewhere,
        at_work=partial(progress, stem.file, 0),
    )  # fmt: skip
    ear = _Ear(stem=stem, header=header)
    dead = {FaultKind.UNREADABLE, FaultKind.EMPTY, FaultKind.NOT_ON_DISK}
    fault = next((fault for fault in header.faults if fault.kind in dead), None)
    if header.format is None or fault is not None:
        ear.failure = fault.detail if fault else "its header cannot be read"
        ear.cause = fault.cause if fault else Cause.FILE
        return ear
    try:
        check_rate(header.format.sample_rate_hz)
    except BadSamplesError as error:
        ear.failure, ear.cause = f"it cannot be measured: {error}", Cause.OURS
    return ear


def _recall(ear: _Ear, memory: StemMemory, block_frames: int, powers: dict[str, Powers]) -> None:
    known = memory.recall(ear.stem, block_frames)
    if known is not None:
        ear.known, powers[ear.stem.file] = known


def _finite(block: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """The block with silence for what is no number, as StemMeter hands it back."""
    return np.nan_to_num(block, copy=False, nan=0.0, posinf=0.0, neginf=0.0)


def _block_frames(ears: list[_Ear]) -> int:
    return block_frames(max((ear.channels for ear in ears), default=1), BLOCK_FRAMES)


def _run(
    ears: list[_Ear],
    sums: SongSums | None,
    ensemble: Together | None,
    progress: Progress,
    pool: ThreadPoolExecutor | None,
    threads: int,
) -> None:
    sounding = [ear for ear in ears if ear.reader is not None]
    for ear in ears:
        if ear.reader is None:
            progress(ear.stem.file, ear.bytes_left())
    while sounding:
        still = []
        for ear, block in zip(sounding, _next_blocks(sounding, pool, threads), strict=True):
            if block is None:
                progress(ear.stem.file, ear.bytes_left())
                continue
            still.append(ear)
            progress(ear.stem.file, ear.bytes_due())
            for fed in (sums, ensemble):
                if fed is not None:
                    fed.add(ear.stem.file, block)
        for fed in (sums, ensemble):
            if fed is not None:
                fed.step()
        sounding = still


def _next_blocks(
    ears: Sequence[_Ear], pool: ThreadPoolExecutor | None, threads: int
) -> Iterator[npt.NDArray[np.float32] | None]:
    """The next block of each, in order. No more of them are held than are being measured, and as many again:
    a song can have a thousand stems."""
    if pool is None:
        yield from map(_Ear.next_block, ears)
        return
    waiting: deque[Future[npt.NDArray[np.float32] | None]] = deque()
    for ear in ears:
        waiting.append(pool.submit(ear.next_block))
        if len(waiting) >= 2 * threads:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()


def _evidence(ear: _Ear) -> StemEvidence:
    if ear.known is not None and ear.failure is None:
        return replace(ear.known, stem=ear.stem)
    faults: tuple[ContainerFault, ...] = ear.header.faults
    audio: StemMeasures | None = None
    parts: tuple[PartEvidence, ...] = ()
    failure = ear.failure
    if ear.reader is not None and ear.meter is not None:
        faults = faults + ear.reader.faults
        if ear.reader.frames_read:
            split = split_into_parts(ear.stem, _natures(ear))
            audio = ear.meter.result(
                tuple(part.channels for part in split),
                frames=ear.reader.frames_read,
                md5_checked=ear.reader.md5_checked,
            )
            parts = tuple(
                PartEvidence(
                    role=part.role,
                    role_is_guess=part.is_guess,
                    audience=ear.stem.is_heard(part.role),
                    measures=measures,
                )
                for part, measures in zip(split, audio.parts, strict=True)
            )
        else:
            failure = next((fault.detail for fault in faults), "it holds no audio that can be decoded")
    return StemEvidence(
        stem=ear.stem, format=ear.header.format, faults=faults, audio=audio, parts=parts,
        failure=failure, failure_cause=ear.cause,
    )  # fmt: skip


def _natures(ear: _Ear) -> tuple[Nature, ...]:
    assert ear.meter is not None
    assert ear.header.format is not None
    return tuple(ear.meter.nature(channel) for channel in range(ear.header.format.channels))


def _sum_again(sums: SongSums, wanted: frozenset[str], ears: list[_Ear], progress: Progress) -> bool:
    """Feed those stems to the sums once more. False where a file vanished between the passes; its own finding
    tells."""
    readers: list[tuple[str, BlockReader]] = []
    try:
        summed = [ear for ear in ears if ear.stem.file in wanted]
        frames = _block_frames(summed)
        for ear in summed:
            told = partial(progress, ear.stem.file, 0)
            unchecked = replace(ear.header, md5=None)  # the first pass asked for the checksum
            readers.append((ear.stem.file, open_blocks(ear.stem.path, unchecked, frames, told)))
        playing = [(name, iter(reader)) for name, reader in readers]
        while playing:
            still = []
            for name, blocks in playing:
                block = next(blocks, None)
                if block is not None:
                    clean = np.nan_to_num(block, copy=False, nan=0.0, posinf=0.0, neginf=0.0)
                    sums.add(name, clean)
                    still.append((name, blocks))
            sums.step()
            playing = still
    except UnreadableAudioError:
        return False
    finally:
        for _, reader in readers:
            reader.close()
    return True
