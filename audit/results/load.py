"""What a machine has to do for a song: each resource used, its limit, the verdict. Plain numbers."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Resource(str, Enum):
    """What a machine may run out of. The value is the word that reports use."""

    CALLBACK = "callback"  # the thread that must deliver every buffer in time
    DECODE = "decode"  # the thread that reads files ahead: decoding and converting sample rates
    DISK = "disk"
    REFILL = "refill"  # reading and decoding one after the other, in as many threads as the player has
    WAKING = "waking"  # a buffer's thread wakes up late and must still be done in time
    MEMORY = "memory"
    OPENING = "opening"  # from the press of the key until the song could play
    OUTPUTS = "outputs"


class Fit(str, Enum):
    """Whether a machine carries a song."""

    FITS = "fits"
    TIGHT = "tight"
    OVER = "over"


class Confidence(str, Enum):
    """How far a forecast can be trusted."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A forecast number with the bounds that the uncertainty of its inputs leaves."""

    low: float
    value: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ResourceUse:
    """One resource of a machine while it plays a song.

    used, limit, capacity: in `unit`; "" is a share of one core, or of the disk's time. limit: with the margin
    that practice asks; capacity: what can be had at all.
    """

    resource: Resource
    used: Range
    limit: float
    capacity: float
    unit: str

    @property
    def share(self) -> float:
        """Of the limit, 1.0 at the limit."""
        return self.used.value / self.limit

    @property
    def fit(self) -> Fit:
        """Over: even the low bound exceeds what there is. Tight: the high bound exceeds the limit."""
        if self.used.low > self.capacity:
            return Fit.OVER
        return Fit.TIGHT if self.used.high > self.limit else Fit.FITS


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCure:
    """One change that lightens a song, with what it saves, computed by a forecast of the changed song."""

    text: str  # "convert 6 FLAC stems to WAV"
    resource: Resource
    saves: float  # of the resource, in its unit
    enough: bool  # the song then fits


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRehearsal:
    """What a machine showed when it really streamed a song at its own speed."""

    song: str
    clean: bool
    day: str  # ISO 8601
    on_mains: bool | None = None  # None: unknown
    frames: int = 0
    headroom: float | None = None  # times its own speed that stayed clean; None: not tried


@dataclass(frozen=True, slots=True, kw_only=True)
class SongForecast:
    """Whether one machine carries one song."""

    machine: str
    song: str
    stems: int
    uses: tuple[ResourceUse, ...]
    confidence: Confidence
    why: str  # what the confidence rests on
    frames: int  # the buffer of the forecast
    rate_hz: int
    smallest_buffer_frames: int | None  # None: no buffer up to 4096 frames is safe
    settles: str | None = None  # the value of the profile whose measurement would narrow the range most
    cures: tuple[LoadCure, ...] = ()
    unread: tuple[str, ...] = ()  # stems that could not be counted in
    rehearsed: PastRehearsal | None = None

    @property
    def forecast_fit(self) -> Fit:
        """The worst over all resources, whatever a rehearsal showed."""
        fits = {use.fit for use in self.uses}
        return next((fit for fit in (Fit.OVER, Fit.TIGHT) if fit in fits), Fit.FITS)

    @property
    def fit(self) -> Fit:
        """The verdict: a dirty rehearsal beats the forecast, at its buffer and at smaller ones; a clean one
        never does."""
        return Fit.OVER if self.rehearsed_dirty else self.forecast_fit

    @property
    def rehearsed_dirty(self) -> bool:
        """Whether the machine was seen to fail at this buffer, or at a larger one."""
        past = self.rehearsed
        return past is not None and not past.clean and (not past.frames or self.frames <= past.frames)

    @property
    def limiting(self) -> ResourceUse:
        """The resource nearest to its limit or furthest past it, among those with the worst verdict.

        Outputs suffice or do not: a song that takes the last one is not heavy.
        """
        worst = [use for use in self.uses if use.fit is self.forecast_fit]
        loads = [use for use in worst if use.resource is not Resource.OUTPUTS or use.fit is not Fit.FITS]
        return max(loads or worst, key=lambda use: use.share)
