"""One song, heard once: every stem's blocks feed its meters and the song's mix in lock step."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
import numpy.typing as npt

from audit.decode.blocks import BLOCK_FRAMES, BlockReader, open_blocks
from audit.errors import UnreadableAudioError
from audit.evidence import SongEvidence, StemEvidence
from audit.facts import PassedOver, Song
from audit.pipeline.song.bleed import with_leaks
from audit.pipeline.song.click import count_in_beside_leaks, with_click
from audit.pipeline.song.ear import Ear, Powers, Progress, StemMemory, finite, look_at
from audit.pipeline.song.fit_enough import FIT_ENOUGH
from audit.pipeline.song.mix_clicks import with_clicks_of_parts
from audit.pipeline.song.open_files import block_frames, why_not_together
from audit.pipeline.song.sums import SongSums
from audit.pipeline.song.timing import with_alignment
from audit.pipeline.song.together import Together
from audit.pipeline.songs.belonging import with_key
from audit.settings.patch import Patch


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
    ears = [look_at(stem, (skip or {}).get(stem.file), progress) for stem in song.stems]
    able = [ear for ear in ears if ear.failure is None]
    not_together = why_not_together(len(able))
    if not_together is None:
        groups, joint = [ears], _joint(song, able, show_rate_hz, patch)
    else:
        groups, joint = [ears[at : at + threads] for at in range(0, len(ears), threads)], _Joint()
    with _hands(threads) as pool:
        first = _FirstPass(joint=joint, progress=progress, memory=memory, pool=pool, threads=threads)
        for group in groups:
            first.hear(group)
    stems, sums = tuple(first.stems), joint.sums
    fits = joint.together.parts_fits(stems) if joint.together else ()
    summed = sums is not None and _sum_again(sums, sums.settle(stems, fits, fit_enough), ears, progress)
    evidence = SongEvidence(
        song=song, stems=stems, mix=sums.mix if sums and summed else None,
        outputs=sums.outputs if sums and summed else None, mix_failure=not_together, parts_fits=fits,
        passed_over=passed_over, common_sources=joint.together.common_sources() if joint.together else None,
    )  # fmt: skip
    headers = {ear.stem.file: ear.header for ear in ears}
    evidence = with_key(with_alignment(with_click(evidence, headers, progress)))
    evidence = with_clicks_of_parts(evidence, headers, progress)
    return count_in_beside_leaks(with_leaks(evidence, headers, first.powers, progress))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Joint:
    """What is made of several stems at once, of their blocks in lock step; nothing where they cannot all be
    open."""

    sums: SongSums | None = None
    together: Together | None = None

    @property
    def stems(self) -> frozenset[str]:
        """Those whose blocks are needed, whatever is known of the stem itself."""
        return (self.sums.stems if self.sums else frozenset()) | (
            self.together.names if self.together else frozenset()
        )

    def add(self, stem: str, block: npt.NDArray[np.float32]) -> None:
        """One stem's block of this round, finite, shape (frames, channels)."""
        for fed in (self.sums, self.together):
            if fed is not None:
                fed.add(stem, block)

    def step(self) -> None:
        """End of a round."""
        for fed in (self.sums, self.together):
            if fed is not None:
                fed.step()


def _joint(song: Song, able: Sequence[Ear], show_rate_hz: int | None, patch: Patch | None) -> _Joint:
    formats = {ear.stem.file: ear.header.format for ear in able}
    return _Joint(
        sums=SongSums(song, formats, show_rate_hz=show_rate_hz, patch=patch),
        together=Together([(ear.stem, ear.header.format) for ear in able if ear.header.format]),
    )


def _hands(threads: int) -> AbstractContextManager[ThreadPoolExecutor | None]:
    """Threads that measure stems side by side. None for a single one: memory that another thread gave back is
    not taken again by this one."""
    return ThreadPoolExecutor(max_workers=threads) if threads > 1 else nullcontext()


@dataclass(slots=True, kw_only=True)
class _FirstPass:
    """Hears a song's stems, a group of them at a time, and gathers what they say."""

    joint: _Joint
    progress: Progress
    memory: StemMemory | None
    pool: ThreadPoolExecutor | None  # None: this thread alone
    threads: int
    stems: list[StemEvidence] = field(default_factory=list)
    powers: dict[str, Powers] = field(default_factory=dict)  # by stem

    def hear(self, group: Sequence[Ear]) -> None:
        """Stems that are open at once, from their start to their end."""
        frames, for_others = _block_frames(group), self.joint.stems
        try:
            for ear in group:
                self._recall(ear, frames)
                ear.open(frames, self.progress, for_others=ear.stem.file in for_others)
            self._run(group)
        finally:
            for ear in group:
                ear.close()
        for ear in group:
            self._take(ear, frames)

    def _recall(self, ear: Ear, frames: int) -> None:
        if self.memory is None or ear.failure is not None:
            return
        known = self.memory.recall(ear.stem, frames)
        if known is not None:
            ear.known, self.powers[ear.stem.file] = known

    def _run(self, group: Sequence[Ear]) -> None:
        """Round by round a block of each, until the longest has ended."""
        for ear in group:
            if ear.reader is None:
                self.progress(ear.stem.file, ear.bytes_left())
        sounding = [ear for ear in group if ear.reader is not None]
        while sounding:
            still = []
            for ear, block in zip(sounding, self._next_blocks(sounding), strict=True):
                if block is None:
                    self.progress(ear.stem.file, ear.bytes_left())
                    continue
                still.append(ear)
                self.progress(ear.stem.file, ear.bytes_due())
                self.joint.add(ear.stem.file, block)
            self.joint.step()
            sounding = still

    def _next_blocks(self, ears: Sequence[Ear]) -> Iterator[npt.NDArray[np.float32] | None]:
        """The next block of each, in order. No more of them are held than are being measured, and as many
        again: a song can have a thousand stems."""
        if self.pool is None:
            yield from map(Ear.next_block, ears)
            return
        waiting: deque[Future[npt.NDArray[np.float32] | None]] = deque()
        for ear in ears:
            waiting.append(self.pool.submit(ear.next_block))
            if len(waiting) >= 2 * self.threads:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()

    def _take(self, ear: Ear, frames: int) -> None:
        """What the ear heard; the next scan is told, too, where it was measured anew."""
        heard = ear.evidence()
        self.stems.append(heard)
        if ear.meter is None:
            return
        self.powers[heard.name] = ear.meter.step_powers
        if self.memory is not None and heard.audio is not None:
            self.memory.keep(heard, self.powers[heard.name], frames)
        ear.meter = None  # a meter's state can be large, and stems can be many


def _block_frames(ears: Sequence[Ear]) -> int:
    return block_frames(max((ear.channels for ear in ears), default=1), BLOCK_FRAMES)


def _sum_again(sums: SongSums, wanted: frozenset[str], ears: Sequence[Ear], progress: Progress) -> bool:
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
                    sums.add(name, finite(block))
                    still.append((name, blocks))
            sums.step()
            playing = still
    except UnreadableAudioError:
        return False
    finally:
        for _, reader in readers:
            reader.close()
    return True
