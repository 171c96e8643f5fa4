"""The song as the audience hears it: which stems belong to the sum, and the sum itself."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from audit.evidence import StemEvidence
from audit.facts import Role, Song, Stem, StemFormat
from audit.measure.loudness import LoudnessMeter
from audit.measure.peaks import PeakMeter
from audit.results import MixMeasures, PartsFit
from audit.rules.versions import stem_sets, version_groups, which_is_newer

AN_OLDER_VERSION_OF = "an older version of "
THE_SAME_AUDIO_AS = "the same audio as "
BESIDE_ITS_PARTS = "a full mix beside its parts"
SILENT = "silent"


@dataclass(frozen=True, slots=True, kw_only=True)
class MixPlan:
    """What the sum is made of. `sums`: stem -> its channels that the audience hears (0-based)."""

    sample_rate_hz: int
    sums: Mapping[str, tuple[int, ...]]
    left_out: tuple[tuple[str, str], ...] = ()  # (stem, reason)


def plan_by_name(
    song: Song, formats: Mapping[str, StemFormat | None], show_rate_hz: int | None = None
) -> MixPlan:
    """The sum as far as names and headers tell; `settle` corrects it once the stems were heard.

    formats: of the stems that can be decoded. Stems at another rate than most of the song's audience stems
    cannot be added up and are left out (sample-rate-mismatch speaks of them). Of two sets of the same stems
    the one at the show's rate makes the sum, where that is known, else the one at the higher rate.
    """
    able = {stem.file: formats[stem.file] for stem in song.stems if formats.get(stem.file) is not None}
    heard = [stem for stem in song.stems if stem.file in able and _audience_channels(stem, able[stem.file])]
    other_sets = _other_sets(heard, able, show_rate_hz)
    rates = Counter(
        shape.sample_rate_hz for stem in heard if (shape := able[stem.file]) and stem.file not in other_sets
    )
    rate = rates.most_common(1)[0][0] if rates else 48000
    sums: dict[str, tuple[int, ...]] = {}
    left_out: list[tuple[str, str]] = []
    replaced = superseded(song.stems)
    has_parts = sum(stem.role is not Role.FULL_MIX for stem in heard) >= 2
    for stem in heard:
        shape = able[stem.file]
        assert shape is not None
        if stem.file in other_sets:
            left_out.append((stem.file, f"the same stems in {other_sets[stem.file]} make the sum"))
        elif shape.sample_rate_hz != rate:
            left_out.append((stem.file, "at another sample rate"))
        elif stem.file in replaced:
            left_out.append((stem.file, AN_OLDER_VERSION_OF + replaced[stem.file]))
        elif stem.role is Role.FULL_MIX and has_parts:
            left_out.append((stem.file, BESIDE_ITS_PARTS))
        else:
            sums[stem.file] = _audience_channels(stem, shape)
    return MixPlan(sample_rate_hz=rate, sums=sums, left_out=tuple(left_out))


def settle(
    plan: MixPlan, stems: tuple[StemEvidence, ...], fits: tuple[PartsFit, ...], fit_enough: float
) -> MixPlan:
    """The plan corrected by what was heard: channels by content, duplicates, full mixes that are none.

    fits: how well its parts explain each full mix; fit_enough: the share from which on it is one.
    """
    left_out = _rightly_left_out(plan, stems, fits, fit_enough)
    sums: dict[str, tuple[int, ...]] = {}
    first_of: dict[str, str] = {}
    for stem in stems:
        channels = _channels_heard(stem, plan.sample_rate_hz)
        if stem.name in left_out or not channels:
            continue
        content = stem.audio.content_hash if stem.audio is not None else None
        if stem.silent:
            left_out[stem.name] = SILENT
        elif content is not None and content in first_of:
            left_out[stem.name] = THE_SAME_AUDIO_AS + first_of[content]
            continue
        elif content is not None:
            first_of[content] = stem.name
        sums[stem.name] = channels
    # Silence adds nothing: a sum that holds it is right as it is, and is not made once more without it.
    if sums == dict(plan.sums):
        sums = dict(plan.sums)
    else:
        sums = {name: channels for name, channels in sums.items() if left_out.get(name) != SILENT}
    return replace(plan, sums=sums, left_out=tuple(sorted(left_out.items())))


def _rightly_left_out(
    plan: MixPlan, stems: Sequence[StemEvidence], fits: Sequence[PartsFit], fit_enough: float
) -> dict[str, str]:
    """What the names left out, with its reason, as far as what was heard bears it out."""
    left_out = dict(plan.left_out)
    explained = {fit.stem: fit.explained for fit in fits}
    contents = {stem.name: stem.audio.content_hash for stem in stems if stem.audio is not None}
    for stem in stems:
        content, why = contents.get(stem.name), left_out.get(stem.name, "")
        newer = why.removeprefix(AN_OLDER_VERSION_OF)
        if content is not None and content == contents.get(newer):
            left_out[stem.name] = THE_SAME_AUDIO_AS + newer
        elif why == BESIDE_ITS_PARTS and stem.audio and explained.get(stem.name, 0.0) < fit_enough:
            del left_out[stem.name]
    return left_out


def _channels_heard(stem: StemEvidence, rate_hz: int) -> tuple[int, ...]:
    """Those that the audience hears, 0-based; none of a stem that cannot be added up at this rate."""
    if stem.audio is None or stem.format is None or stem.format.sample_rate_hz != rate_hz:
        return ()
    return tuple(sorted(c for part in stem.parts if part.audience for c in part.measures.channels))


def _audience_channels(stem: Stem, shape: StemFormat | None) -> tuple[int, ...]:
    if shape is None:
        return ()
    if len(stem.channel_roles) == shape.channels:
        return tuple(c for c, role in enumerate(stem.channel_roles) if stem.is_heard(role))
    return tuple(range(shape.channels)) if stem.is_heard(stem.role) else ()


def _other_sets(
    heard: list[Stem], able: Mapping[str, StemFormat | None], show_rate_hz: int | None
) -> dict[str, str]:
    """Stem -> the folder whose set of the same stems makes the sum instead."""
    instead: dict[str, str] = {}
    for group in stem_sets(heard):
        shapes = {top: [s for stem in stems if (s := able[stem.file])] for top, stems in group.items()}
        best = max(
            group,
            key=lambda top: (
                sum(shape.sample_rate_hz == show_rate_hz for shape in shapes[top]),
                max(shape.sample_rate_hz for shape in shapes[top]),
                max(shape.bits or 0 for shape in shapes[top]),
            ),
        )
        instead |= {
            stem.file: best or "the song's folder" for top in group if top != best for stem in group[top]
        }
    return instead


def superseded(stems: tuple[Stem, ...]) -> dict[str, str]:
    """Stem -> the newer stem that replaces it, where marks or dates tell which is newer."""
    replaced: dict[str, str] = {}
    for group in version_groups(stems):
        newest, _ = which_is_newer(group)
        if newest is not None:
            replaced.update({stem.file: newest.file for stem in group if stem is not newest})
    return replaced


class MixSum:
    """Adds the stems up at unity gain and measures the sum; memory: one block.

    A mono part sounds on both sides at unity, as on two speakers; of more than two channels the even ones
    (0, 2 …) go left and the odd ones right. Feed: `add` each stem's block of a round, then `step`.
    """

    def __init__(self, plan: MixPlan) -> None:
        self._plan = plan
        self._loudness = LoudnessMeter(plan.sample_rate_hz, 2)
        self._peaks = PeakMeter(plan.sample_rate_hz, 2)
        self._sum: npt.NDArray[np.float32] = np.zeros((0, 2), dtype=np.float32)
        self._frames = 0

    @property
    def stems(self) -> frozenset[str]:
        return frozenset(self._plan.sums)

    def add(self, stem: str, block: npt.NDArray[np.float32]) -> None:
        """One stem's block of this round, shape (frames, channels); stems outside the plan are ignored."""
        channels = self._plan.sums.get(stem)
        if not channels:
            return
        if len(block) > len(self._sum):
            grown = np.zeros((len(block), 2), dtype=np.float32)
            grown[: len(self._sum)] = self._sum
            self._sum = grown
        target = self._sum[: len(block)]
        if len(channels) == 1:
            target += block[:, channels[0], None]
            return
        if channels == (0, 1) and block.shape[1] == 2:
            target += block  # most stems: in one go
            return
        for place, channel in enumerate(channels):
            target[:, place % 2] += block[:, channel]

    def step(self) -> None:
        """End of a round: the sum so far goes to the meters."""
        if len(self._sum):
            self._frames += len(self._sum)
            self._loudness.add(self._sum)
            self._peaks.add(self._sum)
            self._sum = np.zeros((0, 2), dtype=np.float32)

    def result(self, left_out: tuple[tuple[str, str], ...]) -> MixMeasures | None:
        """The sum's measures; None where no stem belongs to it."""
        gone = {name for name, _ in left_out}
        summed = tuple(name for name in self._plan.sums if name not in gone)
        if not summed or not self._frames:
            return None
        return MixMeasures(
            loudness=self._loudness.result(),
            peaks=self._peaks.result(),
            sample_rate_hz=self._plan.sample_rate_hz,
            from_stems=summed,
            left_out=left_out,
        )
