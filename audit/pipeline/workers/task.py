"""What a worker is asked, and what it says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from audit.evidence import SongEvidence
from audit.facts import PassedOver, Song
from audit.pipeline.memory.learned import Learned
from audit.pipeline.song.fit_enough import FIT_ENOUGH
from audit.settings.patch import Patch


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One song to hear. `probe`: only to see whether this stem brings the worker down."""

    song: Song
    passed_over: tuple[PassedOver, ...] = ()
    threads: int = 1
    skip: Mapping[str, str] | None = None
    fit_enough: float = FIT_ENOUGH
    show_rate_hz: int | None = None
    patch: Patch | None = None  # the settings' patch of this song; None: no outputs are added up
    probe: str | None = None
    memory: Path | None = (
        None  # the folder with the results of earlier scans; None: nothing is recalled or kept
    )
    rehash: bool = False  # believe no file's size and time


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A worker's message: progress of a stem, or the song's evidence and what of it is worth keeping."""

    stem: str | None = None
    bytes_done: int = 0
    evidence: SongEvidence | None = None
    learned: Learned | None = None
