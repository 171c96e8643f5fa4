"""What really comes out of each output: the stems of a song added up at the gains of the patch."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.evidence import StemEvidence
from audit.facts import Song, StemFormat
from audit.measure.peaks import PeakMeter
from audit.results import OutputSum
from audit.settings.patch import Parts, Patch, gain_db, routes
from audit.units import from_db

Weights = Mapping[str, tuple[tuple[int, int, float], ...]]
"""Stem -> (channel, place among the outputs, factor)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputPlan:
    """Which channels add up to which output."""

    sample_rate_hz: int
    numbers: tuple[int, ...]
    weights: Weights


def plan_outputs_by_name(
    patch: Patch,
    song: Song,
    formats: Mapping[str, StemFormat | None],
    rate_hz: int,
    without: Iterable[str],
) -> OutputPlan:
    """As far as names and headers tell. without: stems that the song's sum leaves out."""
    shapes = {stem.file: formats.get(stem.file) for stem in song.stems}
    gone = set(without)
    weights = {}
    for stem in song.stems:
        shape = shapes[stem.file]
        if shape is None or stem.file in gone or shape.sample_rate_hz != rate_hz:
            continue
        own = stem.channel_roles
        roles = own if len(own) == shape.channels else (stem.role,) * shape.channels
        parts = tuple(
            (role, tuple(channel for channel, other in enumerate(roles) if other is role))
            for role in dict.fromkeys(roles)
        )
        weights[stem.file] = _weights(patch, stem.file, parts)
    return OutputPlan(sample_rate_hz=rate_hz, numbers=patch.numbers, weights=_sounding(weights))


def plan_outputs(
    patch: Patch, stems: Iterable[StemEvidence], rate_hz: int, without: Iterable[str]
) -> OutputPlan:
    """The same once the stems were heard: their channels' roles are known."""
    gone = set(without)
    weights = {
        stem.name: _weights(
            patch, stem.name, tuple((part.role, part.measures.channels) for part in stem.parts)
        )
        for stem in stems
        if stem.format is not None and stem.format.sample_rate_hz == rate_hz and stem.name not in gone
    }
    return OutputPlan(sample_rate_hz=rate_hz, numbers=patch.numbers, weights=_sounding(weights))


def _sounding(weights: Weights) -> Weights:
    return {stem: factors for stem, factors in weights.items() if factors}


def _weights(patch: Patch, file: str, parts: Parts) -> tuple[tuple[int, int, float], ...]:
    """A mono part sounds on both outputs of a pair at full level; a stereo part on a single output is the
    mean of its sides; of more than two channels the even ones (0, 2 …) go left and the odd ones right."""
    place = {number: at for at, number in enumerate(patch.numbers)}
    factors: list[tuple[int, int, float]] = []
    for route in routes(patch, file, parts):
        level = from_db(gain_db(patch, file, route.role) + route.line.gain_db)
        out = [place[number] for number in route.line.out]
        if len(out) == 1:
            factors += [(channel, out[0], level / len(route.channels)) for channel in route.channels]
        elif len(route.channels) == 1:
            factors += [(route.channels[0], at, level) for at in out]
        else:
            factors += [(channel, out[n % 2], level) for n, channel in enumerate(route.channels)]
    return tuple(factors)


class OutputSums:
    """Adds up blocks output by output; memory: one block. Feed like MixSum: `add` each stem, then `step`."""

    def __init__(self, plan: OutputPlan) -> None:
        self._plan = plan
        self._peaks = PeakMeter(plan.sample_rate_hz, len(plan.numbers))
        self._sum: npt.NDArray[np.float32] = np.zeros((0, len(plan.numbers)), dtype=np.float32)

    @property
    def stems(self) -> frozenset[str]:
        return frozenset(self._plan.weights)

    def add(self, stem: str, block: npt.NDArray[np.float32]) -> None:
        """One stem's block of this round, shape (frames, channels); stems outside the plan are ignored."""
        weights = self._plan.weights.get(stem)
        if not weights:
            return
        if len(block) > len(self._sum):
            self._sum = np.pad(self._sum, ((0, len(block) - len(self._sum)), (0, 0)))
        for channel, place, factor in weights:
            self._sum[: len(block), place] += np.float32(factor) * block[:, channel]

    def step(self) -> None:
        """End of a round: the sums so far go to the meter."""
        if len(self._sum):
            self._peaks.add(self._sum)
            self._sum = np.zeros((0, len(self._plan.numbers)), dtype=np.float32)

    def result(self) -> tuple[OutputSum, ...]:
        """One for each output that something is patched to."""
        return tuple(
            OutputSum(output=number, peaks=self._peaks.result((place,)), from_stems=stems)
            for place, number in enumerate(self._plan.numbers)
            if (stems := self._on(place))
        )

    def _on(self, place: int) -> tuple[str, ...]:
        return tuple(
            stem for stem, weights in self._plan.weights.items() if any(at == place for _, at, _ in weights)
        )
