"""One pass over a stem: every meter of this package, fed with the same blocks.

StemMeter(rate_hz, channels, bits=…, is_float=…, timecode=…)
    .add(block) -> block   .nature(channel)   .result(parts, frames=…, md5_checked=…) -> StemMeasures
"""

from __future__ import annotations

import numpy as np

from audit.measure.activity import ActivityMeter
from audit.measure.bits import BitsMeter
from audit.measure.ceiling import CeilingMeter
from audit.measure.chroma import ChromaMeter
from audit.measure.clipping import ClippingMeter
from audit.measure.content import ContentMeter
from audit.measure.damage import DamageMeter
from audit.measure.envelope import EnvelopeMeter
from audit.measure.fingerprint import FingerprintMeter
from audit.measure.finite import FiniteGate
from audit.measure.flat_tops import FlatTopMeter
from audit.measure.hard_end import HardEndMeter
from audit.measure.hard_start import HardStartMeter
from audit.measure.head import HeadMeter
from audit.measure.levels import LevelMeter
from audit.measure.loudness import LoudnessMeter
from audit.measure.nature import NatureMeter
from audit.measure.onsets import OnsetMeter
from audit.measure.peaks import PeakMeter
from audit.measure.samples import Samples
from audit.measure.scrambled import ScrambledMeter
from audit.measure.side_delay import SideDelayMeter
from audit.measure.spectra import WindowSpectra
from audit.measure.steps import StepSums
from audit.measure.stereo import StereoMeter
from audit.measure.timecode import TimecodeMeter
from audit.results import Nature, PartMeasures, StemMeasures


class StemMeter:
    """bits: valid bits of a PCM sample; None for lossy codecs. is_float: the file holds float samples.
    timecode: the name promises it, so it is looked for from the first sample on, however weak.

    Memory: fixed, but for 12 bytes per channel and 100 ms, and what the meters of loudness, onsets, harmony
    and fingerprint keep.
    """

    def __init__(
        self, rate_hz: int, channels: int, *, bits: int | None, is_float: bool, timecode: bool = False
    ) -> None:
        self._gate = FiniteGate(channels, whole=bits is not None and not is_float)
        self._loudness = LoudnessMeter(rate_hz, channels)
        self._peaks = PeakMeter(rate_hz, channels)
        self._sums = StepSums(rate_hz, channels)
        self._levels = LevelMeter(rate_hz, channels, sums=self._sums)
        self._activity = ActivityMeter(rate_hz, channels, sums=self._sums)
        self._stereo = StereoMeter(rate_hz, channels, sums=self._sums)
        self._envelope = EnvelopeMeter(rate_hz, channels, sums=self._sums)
        self._clipping = ClippingMeter(rate_hz, channels, bits=bits, is_float=is_float)
        self._flat_tops = FlatTopMeter(rate_hz, channels, bits=bits, is_float=is_float)
        self._damage = DamageMeter(rate_hz, channels, bits=bits, is_float=is_float)
        self._bits = BitsMeter(channels, bits, is_float)
        self._scrambled = ScrambledMeter(rate_hz, channels, bits=bits, is_float=is_float)
        self._spectra = WindowSpectra(rate_hz, channels)
        self._ceiling = CeilingMeter(rate_hz, channels, spectra=self._spectra)
        self._side_delay = SideDelayMeter(rate_hz, channels, spectra=self._spectra)
        self._content = ContentMeter(rate_hz, channels)
        self._nature = NatureMeter(rate_hz, channels)
        # Both read the same levels.
        self._onsets = OnsetMeter(rate_hz, channels, also=self._keep_head)
        self._head = HeadMeter(self._onsets.hop_s, channels)
        self._hard_start = HardStartMeter(rate_hz, channels)
        self._hard_end = HardEndMeter(rate_hz, channels)
        # Both read the same spectra, which are made once.
        self._chroma = ChromaMeter(rate_hz, channels, also=self._keep_fingerprint)
        self._fingerprint = FingerprintMeter(channels, self._chroma.bin_hz)
        self._timecode = TimecodeMeter(rate_hz, channels, expected=timecode)

    def add(self, block: Samples) -> Samples:
        """One block, float32, shape (frames, channels); it may hold NaN and infinity, as only samples that
        were floats in their file can.

        Returns it as it was measured: without those.
        """
        block = self._gate.pass_on(block)
        self._loudness.add(block)
        self._peaks.add(block)
        # One channel after another in memory, once, instead of once in every meter below.
        planes = np.asfortranarray(block)
        for meter in (
            self._sums, self._activity, self._clipping, self._flat_tops, self._bits, self._content,
            self._nature, self._onsets, self._chroma, self._damage, self._scrambled, self._hard_start,
            self._hard_end,
        ):  # fmt: skip
            meter.add(planes)
        for spectra in self._spectra.of(planes):
            self._ceiling.look(spectra)
            self._side_delay.look(spectra)
        self._timecode.add(planes, self._nature.timecode_met)
        return block

    def _keep_fingerprint(self, channel: int, power: Samples) -> None:
        self._fingerprint.add(channel, power)

    def _keep_head(self, levels: Samples) -> None:
        self._head.add(levels)

    @property
    def step_powers(self) -> Samples:
        """Mean square of every 100 ms, shape (steps, channels)."""
        return self._sums.powers

    def nature(self, channel: int) -> Nature:
        """What one channel (0-based) looks like, so far."""
        return self._nature.result(channel)

    def result(
        self, parts: tuple[tuple[int, ...], ...], *, frames: int, md5_checked: bool | None
    ) -> StemMeasures:
        """All measures, part by part. parts: 0-based channels of each part; the others come from decoding."""
        return StemMeasures(
            frames=frames,
            parts=tuple(self._part(channels) for channels in parts),
            bits_in_use=self._bits.result(),
            content_hash=self._content.result(),
            not_finite=self._gate.count,
            not_finite_at_frame=self._gate.first_frame,
            md5_checked=md5_checked,
            scrambled=self._scrambled.result(),
            distinct_values=self._bits.distinct,
        )

    def _part(self, channels: tuple[int, ...]) -> PartMeasures:
        natures = [self._nature.result(channel) for channel in channels]
        onsets = self._onsets.result(channels)
        return PartMeasures(
            channels=channels,
            peaks=self._peaks.result(channels),
            clipping=self._clipping.result(channels, bits_in_use=self._bits.result(channels)),
            flat_tops=self._flat_tops.result(channels),
            loudness=self._loudness.result(channels),
            levels=self._levels.result(channels),
            activity=self._activity.result(channels),
            stereo=self._stereo.result(channels),
            nature=Nature(
                timecode_share=max(nature.timecode_share for nature in natures),
                tick_share=max(nature.tick_share for nature in natures),
            ),
            timecode=self._timecode.result(channels),
            onsets=onsets,
            head=self._head.result(onsets, channels),
            hard_start=self._hard_start.result(channels),
            hard_end=self._hard_end.result(channels),
            ceiling=self._ceiling.result(channels),
            side_delay=self._side_delay.result(channels),
            chroma=self._chroma.result(channels),
            damage=self._damage.result(channels),
            fingerprint=self._fingerprint.result(channels, self._chroma.hop_s),
            envelope=self._envelope.result(channels),
        )
