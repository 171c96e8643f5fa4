"""What only shows when all stems of a song are heard at once: a full mix of the others, one source in two."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from audit.evidence import StemEvidence
from audit.facts import Role, Stem, StemFormat
from audit.measure.common_source import CommonSourceMeter
from audit.measure.partsfit import PartsFitMeter
from audit.measure.samples import mono
from audit.results import CommonSource, PartsFit

Blocks = Mapping[str, npt.NDArray[np.float32]]


class Together:
    """able: the stems that can be decoded, with their formats. Fed with the same frames of all of them."""

    def __init__(self, able: Sequence[tuple[Stem, StemFormat]]) -> None:
        heard = [(stem, shape) for stem, shape in able if stem.is_heard(stem.role)]
        self._fit = _fit_meter(heard)
        self._source = _source_meter(heard)

    @property
    def names(self) -> frozenset[str]:
        """The stems whose blocks are looked at; others need not be given."""
        fit, source = self._fit, self._source
        return frozenset((*(fit.names if fit else ()), *(source.names if source else ())))

    def add(self, blocks: Blocks) -> None:
        """The next block of each stem that goes on, finite, shape (frames, channels)."""
        if self._fit is not None:
            waves = {name: mono(blocks[name]) for name in self._fit.names if name in blocks}
            if waves:
                self._fit.add(_of_one_length(self._fit.names, waves))
        if self._source is not None:
            self._source.add(blocks)

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


def _of_one_length(names: tuple[str, ...], heard: Blocks) -> list[npt.NDArray[np.float32]]:
    """One array a name, all of one length: stems that have ended go on as silence."""
    length = max(len(block) for block in heard.values())
    rows = []
    for name in names:
        block = heard.get(name, np.zeros(0, dtype=np.float32))
        rows.append(np.pad(block, (0, length - len(block))) if len(block) < length else block)
    return rows


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
