"""Making this machine slower on purpose, so that probe and rehearsal can be tried on one that fails."""

from __future__ import annotations

import time
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Hindrance:
    """A slow reader and a slow mixer; the same is felt by the probe and by the rehearsal."""

    read_delay_s: float = 0.0  # before every read of a refill
    mix_times: int = 1  # how often every buffer is mixed

    def before_read(self) -> None:
        """Felt by whoever reads."""
        if self.read_delay_s > 0:
            time.sleep(self.read_delay_s)


FREE = Hindrance()
