"""What only shows when all stems of a song are heard at once: a full mix of the others, one source in two."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.evidence import StemEvidence
from audit.facts import Role, Stem, StemFormat
from audit.measure.common_source import CommonSourceMeter
from audit.measure.partsfit import PartsFitMeter
from audit.results import CommonSource, PartsFit


class Together:
    """able: the stems that can be decoded, with their formats. Feed: `add` each stem's block of a round, then
    `step`."""

    def __init__(self, able: Sequence[tuple[Stem, StemFormat]]) -> None:
        heard = [(stem, shape) for stem, shape in able if stem.is_heard(stem.role)]
        self._fit = _fit_meter(heard)
        self._source = _source_meter(heard)
        self._length = 0

    @property
    def names(self) -> frozenset[str]:
        """The stems whose blocks are looked at; others need not be given."""
        fit, source = self._fit, self._source
        return frozenset((*(fit.names if fit else ()), *(source.names if source else ())))

    def add(self, stem: str, block: npt.NDArray[np.float32]) -> None:
        """One stem's block of this round, finite, shape (frames, channels). It is not kept."""
        if self._fit is not None and stem in self._fit.names:
            self._fit.hear(stem, block)
        if self._source is not None:
            self._source.hear(stem, block)
        self._length = max(self._length, len(block))

    def step(self) -> None:
        """End of a round."""
        if self._fit is not None:
            self._fit.step()
        if self._source is not None:
            self._source.step(self._length)
        self._length = 0

    def parts_fits(self, stems: Sequence[StemEvidence]) -> tuple[PartsFit, ...]:
        """For each full mix that sounds, how well the other stems explain it."""
        if self._fit is None:
            return ()
        known = [stem for stem in stems if stem.name in self._fit.names and stem.audio and not stem.silent]
        parts = tuple(stem.name for stem in known if stem.stem.role is not Role.FULL_MIX)
        if len(parts) < 2:
            return ()
        return tuple(
            PartsFit(stem=stem.name, explained=self._fit.explained(stem.name, parts), parts=parts)
            for stem in known
            if stem.stem.role is Role.FULL_MIX
        )

    def common_sources(self) -> tuple[CommonSource, ...] | None:
        """Pairs of stems with much in common; None where there was nothing to compare."""
        return None if self._source is None else self._source.result()


def _fit_meter(heard: Sequence[tuple[Stem, StemFormat]]) -> PartsFitMeter | None:
    """Only a song that names a full mix beside audience parts at the same rate asks this question."""
    mixes = [shape for stem, shape in heard if stem.role is Role.FULL_MIX]
    if not mixes or len(heard) - len(mixes) < 2:
        return None
    rate_hz = mixes[0].sample_rate_hz
    return PartsFitMeter(tuple(stem.file for stem, shape in heard if shape.sample_rate_hz == rate_hz))


def _source_meter(heard: Sequence[tuple[Stem, StemFormat]]) -> CommonSourceMeter | None:
    """Two parts at least, at the rate that most of them have. A full mix has all of them in it."""
    parts = [(stem, shape) for stem, shape in heard if stem.role is not Role.FULL_MIX]
    if not parts:
        return None
    rate_hz = Counter(shape.sample_rate_hz for _, shape in parts).most_common(1)[0][0]
    names = tuple(stem.file for stem, shape in parts if shape.sample_rate_hz == rate_hz)
    return CommonSourceMeter(names, rate_hz) if len(names) > 1 else None
