"""Feeding a meter in blocks of any size, or whole takes at once, for tests."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Protocol, TypeVar

import numpy as np

from audit.measure.chroma import ChromaMeter
from audit.measure.onsets import OnsetMeter
from audit.results import Chroma, Onsets
from tests.waves import Samples


class Meter(Protocol):
    def add(self, block: Samples) -> Any: ...


M = TypeVar("M", bound=Meter)

BLOCK_SIZES = (1009, 4800, 65_536)
"""A prime, one that fits the steps, one larger than most test signals."""


def blocks(samples: Samples, size: int) -> Iterator[Samples]:
    for begin in range(0, len(samples), size):
        yield samples[begin : begin + size]


def fed(meter: M, samples: Samples, size: int = 65_536) -> M:
    """The meter, fed with the samples in blocks of `size` frames."""
    for block in blocks(samples, size):
        meter.add(block)
    return meter


def measure_chroma(samples: Samples, rate_hz: int) -> Chroma:
    """The harmony of all channels together, of a whole take at once."""
    meter = ChromaMeter(rate_hz, samples.shape[1])
    meter.add(np.asarray(samples, dtype=np.float32))
    return meter.result()


def measure_onsets(samples: Samples, rate_hz: int) -> Onsets:
    """Onsets of all channels together, of a whole take at once."""
    meter = OnsetMeter(rate_hz, samples.shape[1])
    meter.add(np.asarray(samples, dtype=np.float32))
    return meter.result()


def beside(*takes: Samples) -> Samples:
    """Mono takes of one length as the channels of one file."""
    return np.ascontiguousarray(np.concatenate(takes, axis=1))
