"""Round-based reading: one refill of every stem per round, done before the previous refill is played out.

The continuity condition for streams of constant rate: Lee, Scalable Continuous Media Streaming Systems, 2005,
section 3.2.2; the same scheme in Gemmell, Vin, Kandlur, Rangan and Rowe, IEEE Computer 28(5), 1995 [memory].
L: mean positioning and command time of one read, s; B: transfer rate, bytes/s; S: seconds of audio a refill
holds; r: stored bytes per second of one stem.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

CAREFUL_Z = 3.5
"""Standard deviations that a verdict keeps clear of. A simulated spinning disk had no late round in 4000 at
one stem below what this gives (tests/load/test_disk.py)."""


def refill_s(latency_s: float, refill_bytes: float, bytes_per_s: float) -> float:
    """Time of one refill: t = L + bytes/B."""
    return latency_s + refill_bytes / bytes_per_s


def utilisation(
    rates_bytes_per_s: Sequence[float], latency_s: float, bytes_per_s: float, refill_audio_s: float
) -> float:
    """Share of the disk's time that the stems need: n·L/S + Σr/B. Can be kept up if at most 1."""
    return len(rates_bytes_per_s) * latency_s / refill_audio_s + sum(rates_bytes_per_s) / bytes_per_s


def most_stems(refill_time_s: float, refill_audio_s: float) -> int:
    """How many equal stems can be kept up on the average: floor(S/t)."""
    return math.floor(refill_audio_s / refill_time_s)


def smallest_refill_s(
    rates_bytes_per_s: Sequence[float], latency_s: float, bytes_per_s: float
) -> float | None:
    """The shortest refill that keeps these stems up: n·L/(1 − Σr/B). None: none does, the rate is too low."""
    left = 1.0 - sum(rates_bytes_per_s) / bytes_per_s
    return len(rates_bytes_per_s) * latency_s / left if left > 0 else None


def stems_with_margin(refill_time_s: float, sd_s: float, refill_audio_s: float, z: float) -> float:
    """How many equal stems are kept up where reads differ: the n that solves n·t + zσ√n = S, not rounded."""
    spread = z * sd_s
    root = (math.sqrt(spread**2 + 4.0 * refill_time_s * refill_audio_s) - spread) / (2.0 * refill_time_s)
    return root**2


def stems_at_worst(
    full_seek_s: float, turn_s: float, refill_bytes: float, bytes_per_s: float, refill_audio_s: float
) -> int:
    """How many stems are kept up even if each read takes a full seek and a full turn."""
    return math.floor(refill_audio_s / (full_seek_s + turn_s + refill_bytes / bytes_per_s))


def reads_per_s(
    queue_depth: int, latency_s: float, read_bytes: float, lone_bytes_per_s: float, most_bytes_per_s: float
) -> float:
    """Reads per second at a queue depth (Little's law), up to what the disk transfers at all."""
    by_latency = queue_depth / (latency_s + read_bytes / lone_bytes_per_s)
    return min(by_latency, most_bytes_per_s / read_bytes)
