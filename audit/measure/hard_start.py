"""Does a part start with a step, as a sound does whose beginning was cut off.

    HardStartMeter(rate_hz, channels)   .add(block)   .result(channels) -> HardStart | None

A sound that begins rises out of silence, if fast; one that is cut into begins in the middle of a wave. That
is a step, and how sharp a step is the fifth difference says: it lets a step through sixfold and takes out
what is smooth. Hats, snares and synths hold sharp things too, so the first one is compared with the
sharpest of the next 40 s, less what it is louder by: an instrument whose notes begin so has more of them.

Own method. Differences of a high order tell steps from smooth sound as linear prediction does (Vaseghi,
Advanced Digital Signal Processing and Noise Reduction, chapter on impulsive noise [memory]).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from audit.measure.samples import Samples, check_block, check_rate
from audit.results import HardStart

ORDER = 5
SOUND = 10.0 ** (-70.0 / 20.0)

LEAST = 0.06
"""Fifth difference below which a start is soft: a step of −40 dBFS, which the difference lets through as 1,
−4, 6, −4, 1 times its height."""

FROM_S, UNTIL_S = 0.002, 0.02
RINGS_ON = 0.25
"""After a cut the sound goes on: what moves in it from 2 to 20 ms is at least so much of the step (standard
deviation: a constant is no sound). A lone sample in front of silence is a click of what wrote it."""

MOST = 1000.0
"""Sharper than this is no more of a finding."""

WATCHED_S, LEAST_S = 40.0, 5.0
LIKE_OTHERS = 1.5
"""A start that is less than so many times as sharp as what comes later is no finding, and is forgotten."""

Numbers = npt.NDArray[np.float64]


@dataclass(slots=True)
class _Channel:
    """before: the last samples before the next block. first: those from before the first sound on, until
    20 ms of it are here."""

    before: Numbers = field(default_factory=lambda: np.zeros(ORDER))
    passed: int = 0  # frames
    at_frame: int | None = None
    first: Numbers | None = None
    step: float = 0.0
    sharp: float = 0.0  # 0.0: no hard start
    later: float = 0.0
    peak: float = 0.0  # highest sample of the first 20 ms,
    later_peak: float = 0.0  # and after them
    watched: int = 0
    done: bool = False

    @property
    def louder(self) -> float:
        """How many times as high the first 20 ms are as what comes later."""
        return self.peak / max(self.later_peak, 1e-9)

    def told(self, seconds_frames: int) -> bool:
        return self.sharp > 0.0 and self.first is None and self.watched >= seconds_frames


class HardStartMeter:
    """Memory: 20 ms a channel."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        check_rate(rate_hz)
        self._rate_hz = rate_hz
        self._channels = [_Channel() for _ in range(channels)]

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, len(self._channels))
        for number, channel in enumerate(self._channels):
            if not channel.done and len(block):
                self._take(channel, block[:, number])
                channel.before = np.concatenate([channel.before, block[-ORDER:, number]])[-ORDER:]
                channel.passed += len(block)

    def result(self, channels: tuple[int, ...]) -> HardStart | None:
        """The sharpest start of some channels (0-based), against what comes later in the same channel. None
        for soft ones, for such as come later too, and where there is too little later."""
        starts = [
            HardStart(
                at_s=(channel.at_frame or 0) / self._rate_hz,
                step_dbfs=20.0 * float(np.log10(channel.step)),
                sharper=min(MOST, channel.sharp / max(channel.later, 1e-9) / max(1.0, channel.louder)),
            )
            for channel in (self._channels[number] for number in channels)
            if channel.told(round(LEAST_S * self._rate_hz))
        ]
        told = [one for one in starts if one.sharper >= LIKE_OTHERS]
        return max(told, key=lambda one: one.sharper, default=None)

    def _take(self, channel: _Channel, wave: npt.NDArray[np.float32]) -> None:
        begin = 0
        if channel.at_frame is None:
            sounding = np.abs(wave) > SOUND
            begin = int(np.argmax(sounding))
            if not sounding[begin]:
                return
            channel.at_frame = channel.passed + begin
            channel.first = np.concatenate([channel.before, wave[:begin]])[-ORDER:].astype(np.float64)
        if channel.first is not None:
            wanted = ORDER + round(UNTIL_S * self._rate_hz) - len(channel.first)
            channel.first = np.concatenate([channel.first, wave[begin : begin + wanted]])
            begin += wanted
            if begin > len(wave):
                return
            self._begun(channel, channel.first)
            channel.first = None
        if not channel.done:
            self._watch(channel, np.concatenate([channel.before, wave])[begin:].astype(np.float64))

    def _begun(self, channel: _Channel, first: Numbers) -> None:
        """The first 20 ms are here, with the samples before them."""
        differences = np.abs(np.diff(first, n=ORDER))
        soft_from = round(FROM_S * self._rate_hz)
        sharp = float(differences[: ORDER + 1].max())
        step = float(np.abs(np.diff(first[ORDER - 1 : 2 * ORDER + 1])).max())
        rings = float(np.std(first[ORDER + soft_from :]))
        channel.later = float(differences[soft_from:].max())
        channel.peak = float(np.abs(first).max())
        if sharp >= LEAST and rings >= RINGS_ON * step:
            channel.sharp, channel.step = sharp, step
        self._settle(channel)

    def _watch(self, channel: _Channel, wave: Numbers) -> None:
        """wave: with the ORDER samples before it."""
        most = round(WATCHED_S * self._rate_hz)
        wave = wave[: ORDER + most - channel.watched]
        if len(wave) > ORDER:
            channel.later = max(channel.later, float(np.abs(np.diff(wave, n=ORDER)).max()))
            channel.later_peak = max(channel.later_peak, float(np.abs(wave[ORDER:]).max()))
            channel.watched += len(wave) - ORDER
        self._settle(channel)
        channel.done |= channel.watched >= most

    def _settle(self, channel: _Channel) -> None:
        """Nothing more is to be learned of a start that is soft, or no sharper than what came since."""
        if channel.sharp < LIKE_OTHERS * channel.later or channel.sharp == 0.0:
            channel.sharp, channel.done = 0.0, True
