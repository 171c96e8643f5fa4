"""What every planter returns: samples and the truth about them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]
Wave = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What a planter put in. `values` holds its own numbers by name (levels linear unless named in dB)."""

    rate_hz: int
    at_frames: tuple[int, ...] = ()
    values: dict[str, float] = field(default_factory=dict)
    text: tuple[str, ...] = ()

    def __getitem__(self, name: str) -> float:
        return self.values[name]


Planted = tuple[Samples, Truth]


def as_samples(wave: Wave, channels: int = 1) -> Samples:
    """A 1-D wave on every one of `channels` channels; a 2-D one as it is."""
    wide = wave if wave.ndim == 2 else np.repeat(wave[:, None], channels, axis=1)
    return np.ascontiguousarray(wide, dtype=np.float32)


def frames_of(seconds: float, rate_hz: int) -> int:
    return round(seconds * rate_hz)
