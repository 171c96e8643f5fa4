"""What a song's stems are added up to in its one pass: what the audience hears, what each output plays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from audit.evidence import StemEvidence
from audit.facts import Song, StemFormat
from audit.pipeline.song.mix import SILENT, MixSum, plan_by_name, settle, superseded
from audit.pipeline.song.outputs import OutputSums, plan_outputs, plan_outputs_by_name
from audit.results import MixMeasures, OutputSum, PartsFit
from audit.settings.patch import Patch


class SongSums:
    """Feed: `add` each stem's block of a round, then `step`. `settle` once all of it was heard: where that
    gives stems, feed those once more, from their start. Then the results stand in `mix` and `outputs`."""

    def __init__(
        self,
        song: Song,
        formats: Mapping[str, StemFormat | None],
        *,
        show_rate_hz: int | None,
        patch: Patch | None,
    ) -> None:
        """formats: of the stems that can be decoded; patch: None adds up no outputs."""
        self._patch = patch
        self._replaced = frozenset(superseded(song.stems))
        self._plan = plan_by_name(song, formats, show_rate_hz)
        self._mix = MixSum(self._plan)
        self._outputs: OutputSums | None = None
        if patch is not None:
            out = self._replaced | {stem for stem, _ in self._plan.left_out}
            self._wired = plan_outputs_by_name(patch, song, formats, self._plan.sample_rate_hz, out)
            self._outputs = OutputSums(self._wired)
        self._fed: list[MixSum | OutputSums] = [self._mix, *([self._outputs] if self._outputs else [])]

    @property
    def stems(self) -> frozenset[str]:
        """The stems that are to be fed; others are ignored."""
        return frozenset[str]().union(*(each.stems for each in self._fed))

    def add(self, stem: str, block: npt.NDArray[np.float32]) -> None:
        """One stem's block of this round, shape (frames, channels), finite."""
        for each in self._fed:
            each.add(stem, block)

    def step(self) -> None:
        """End of a round."""
        for each in self._fed:
            each.step()

    def settle(
        self, stems: Sequence[StemEvidence], fits: tuple[PartsFit, ...], fit_enough: float
    ) -> frozenset[str]:
        """The stems to be fed once more, as a sum has to be made of others than names said; mostly none.

        fit_enough: share of a full mix that its parts must explain before it is left out of the song's sum.
        """
        self._fed = []
        settled = settle(self._plan, tuple(stems), fits, fit_enough)
        if settled.sums != self._plan.sums:
            self._mix = MixSum(settled)
            self._fed.append(self._mix)
        self._plan = settled
        if self._patch is not None:
            out = self._replaced | {stem for stem, why in settled.left_out if why != SILENT}
            heard = plan_outputs(self._patch, stems, settled.sample_rate_hz, out)
            if heard != self._wired:
                self._outputs = OutputSums(heard)
                self._fed.append(self._outputs)
        return self.stems

    @property
    def mix(self) -> MixMeasures | None:
        """None where no stem belongs to it."""
        return self._mix.result(self._plan.left_out)

    @property
    def outputs(self) -> tuple[OutputSum, ...] | None:
        """None without a patch."""
        return self._outputs.result() if self._outputs is not None else None
