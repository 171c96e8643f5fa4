"""What a song asks of a machine: its stems' formats and sizes, and what else runs beside them."""

from __future__ import annotations

from dataclasses import dataclass

from audit.facts import StemFormat
from audit.load.costs import codec_of


@dataclass(frozen=True, slots=True, kw_only=True)
class StemLoad:
    """One stem that streams."""

    name: str
    codec: str  # a row of costs.CODECS
    channels: int
    rate_hz: int
    bytes_per_s: float  # stored bytes per second of audio

    @property
    def samples_per_s(self) -> float:
        return float(self.channels * self.rate_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentLoad:
    """A software instrument or effect: cores' worth of a processor of speed 1, and memory."""

    name: str
    cores: float
    memory_bytes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SongLoad:
    """All that sounds at once in one song."""

    name: str
    stems: tuple[StemLoad, ...]
    instruments: tuple[InstrumentLoad, ...] = ()
    outputs: int | None = None  # the highest output that the patch uses for it; None: no patch is known
    unread: tuple[str, ...] = ()  # stems whose headers could not be read

    @property
    def channels(self) -> int:
        return sum(stem.channels for stem in self.stems)


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineSetup:
    """How the player streams."""

    frames: int = 256  # of one callback
    rate_hz: int = 48000
    refill_s: float = 0.5
    prebuffer_s: float = 1.0
    refill_threads: int = 1

    @property
    def period_s(self) -> float:
        """From one callback to the next."""
        return self.frames / self.rate_hz


def load_of_stem(name: str, shape: StemFormat, size_bytes: int) -> StemLoad:
    """What a stem with this header costs to stream. Stored rate: all of its bytes over its length."""
    duration_s = shape.duration_s
    return StemLoad(
        name=name,
        codec=codec_of(shape),
        channels=shape.channels,
        rate_hz=shape.sample_rate_hz,
        bytes_per_s=size_bytes / duration_s if duration_s > 0 else 0.0,
    )
