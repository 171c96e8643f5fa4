"""Loudness of a recording: integrated, loudest 400 ms and 3 s, Loudness Range.

    measure_loudness(samples, rate_hz)   one array in, Loudness out
    LoudnessMeter(rate_hz, channels)     the same for a stream of blocks, for any of its channels

Sources: ITU-R BS.1770-5 Annex 1 (weighting, gates), EBU Tech 3341 (momentary, short-term) and 3342 (range).

Channels count alike (weight 1.0): those of a stem are outputs of an interface, not places in a room, so the
1.41 of BS.1770-5 Table 3 for left and right surround applies only where a caller gives `weights`. The same
mono sound on two channels reads 3.01 LU more than on one.

pyloudnorm is the second implementation the tests compare with, not the one used here. Its default weighting
normalises the high-pass and so reads 0.04 LU low at every rate; its other one, `DeMan`, is exact at 48 kHz
but lacks the rescaling at other rates (weighting.py); it holds a file in memory at once, counts an incomplete
last block, and refuses more than five channels.

Loudness Range and the 1.5 s of silence. Tech 3342 asks a meter for files to append silence (the code of its
§5), so that the 3 s window runs out over the end as it would on a live meter; it is kept for that reason. It
adds 15 values, each a little lower than the one before, down to −3 dB: nothing in a song, but it spreads a
constant tone of 4 s to 2 LU, and Tech 3341 calls the range unsteady below 60 s anyway. The silence never
makes a window of its own: below 3 s of audio there is no range. libebur128 and ffmpeg append none. On 30
random sparse stems of 3 to 60 s it was worth 0.1 LU in the median, up to 1.5 LU in stems longer than 8 s and
4.4 LU in one of 6 s. Without it our values are libebur128's on its grid of 1 s, to 0.01 LU (own measurement;
a test repeats it).
"""

from __future__ import annotations

from array import array

import numpy as np
import numpy.typing as npt

from audit.errors import BadSamplesError
from audit.measure.gating import Powers, integrated_lufs, range_lu, to_lufs
from audit.measure.samples import Samples, check_samples
from audit.measure.weighted_energy import Energies, StepEnergies
from audit.measure.windows import MOMENTARY_STEPS, SHORT_TERM_STEPS, LoudestWindows
from audit.results import Loudness

STEPS_PER_HOP = 10
HOP_S = 0.1
MOMENTARY_HOPS = MOMENTARY_STEPS // STEPS_PER_HOP
SHORT_TERM_HOPS = SHORT_TERM_STEPS // STEPS_PER_HOP
RANGE_SILENCE_HOPS = 15
"""1.5 s, the least Tech 3342 asks for."""


class LoudnessMeter:
    """Loudness of a stream of blocks. Keeps one number per channel and 100 ms: 2 MB for 3 h of stereo.

    rate_hz: 8 000 … 384 000. weights: one a channel, 1.0 each unless given.
    compiled: False takes the plain numpy and scipy path that tests compare with.
    """

    def __init__(
        self,
        rate_hz: int,
        channels: int,
        *,
        weights: tuple[float, ...] | None = None,
        compiled: bool = True,
    ) -> None:
        self._energies = StepEnergies(rate_hz, channels, compiled=compiled)
        self._weights = (1.0,) * channels if weights is None else weights
        if len(self._weights) != channels:
            raise BadSamplesError(f"{len(self._weights)} weights were given for {channels} channels")
        self._windows = LoudestWindows(self._weights, compiled=compiled)
        self._hops = array("d")
        self._rest: Energies = np.zeros((0, channels))  # steps after the last whole hop

    def add(self, block: Samples) -> None:
        """Take in the next frames: float32, shape (frames, channels), any number of frames.

        Raises BadSamplesError if shape or type is wrong or a value is not finite.
        """
        steps = self._energies.add(block)
        if steps.shape[0] == 0:
            return
        self._windows.add(steps)
        waiting = np.concatenate((self._rest, steps))
        whole = waiting.shape[0] // STEPS_PER_HOP * STEPS_PER_HOP
        hops = _sum_of_steps(waiting[:whole])
        self._hops.frombytes(hops.tobytes())
        self._rest = waiting[whole:]

    def result(self, channels: tuple[int, ...] | None = None) -> Loudness:
        """Loudness of some of the channels together (0-based; all where None); more may be added afterwards.

        The two maxima lie on a grid of 10 ms for a single channel, a pair (0 and 1, 2 and 3 …) and all
        channels, else on one of 100 ms. Integrated loudness is None where no 400 ms block is louder than
        −70 LUFS; the maxima are None for digital silence and where there was no whole window; the range is
        None below 3 s and where nothing passes its gates.
        """
        chosen = self._chosen(channels)
        weights = np.array([self._weights[c] for c in chosen])
        hops = np.frombuffer(self._hops).reshape(-1, self._energies.channels)
        energies = hops[:, chosen] @ weights
        momentary, momentary_at_s = self._loudest(chosen, energies, MOMENTARY_STEPS)
        short_term, _ = self._loudest(chosen, energies, SHORT_TERM_STEPS)
        return Loudness(
            integrated_lufs=integrated_lufs(self._powers(energies, MOMENTARY_HOPS)),
            max_momentary_lufs=momentary,
            max_momentary_at_s=momentary_at_s,
            max_short_term_lufs=short_term,
            range_lu=self._range_lu(energies, chosen, weights),
        )

    def _chosen(self, channels: tuple[int, ...] | None) -> tuple[int, ...]:
        every = range(self._energies.channels)
        chosen = tuple(every) if channels is None else tuple(sorted(set(channels)))
        if not chosen or not set(chosen) <= set(every):
            raise BadSamplesError(f"there are no channels {channels} among {len(every)}")
        return chosen

    def _powers(self, energies: npt.NDArray[np.float64], hops: int) -> Powers:
        """Mean squares of every window of `hops` hops."""
        if energies.size < hops:
            return np.zeros(0)
        windows = np.lib.stride_tricks.sliding_window_view(energies, hops)
        powers: Powers = windows.sum(axis=1) / (hops * HOP_S * self._energies.rate_hz)
        return powers

    def _loudest(
        self, chosen: tuple[int, ...], energies: npt.NDArray[np.float64], steps: int
    ) -> tuple[float | None, float | None]:
        """Loudness and centre of the loudest window."""
        loudest = self._windows.loudest(chosen, steps)
        if loudest is None:
            powers = self._powers(energies, steps // STEPS_PER_HOP)
            if powers.size == 0:
                return None, None
            first = int(powers.argmax())
            lufs = to_lufs(float(powers[first]))
            centre_s = (first + steps / STEPS_PER_HOP / 2.0) * HOP_S
        else:
            energy, centre_s = loudest
            lufs = to_lufs(energy / (steps / STEPS_PER_HOP * HOP_S * self._energies.rate_hz))
        return lufs, centre_s if lufs is not None else None

    def _range_lu(
        self, energies: npt.NDArray[np.float64], chosen: tuple[int, ...], weights: npt.NDArray[np.float64]
    ) -> float | None:
        """Range of the recording with 1.5 s of silence after it (see the module)."""
        if energies.size < SHORT_TERM_HOPS:
            return None
        last = self._rest.sum(axis=0) + self._energies.unfinished
        tail = np.zeros(RANGE_SILENCE_HOPS)
        tail[0] = last[list(chosen)] @ weights
        return range_lu(self._powers(np.concatenate((energies, tail)), SHORT_TERM_HOPS))


def measure_loudness(samples: npt.NDArray[np.floating], rate_hz: int) -> Loudness:
    """Loudness of a whole recording, all channels together with weight 1.0.

    samples: any float type, shape (frames, channels), full scale 1.0, at least one frame.
    Raises BadSamplesError if the shape, the type or the rate is wrong, or a value is not finite.
    Source: ITU-R BS.1770-5 Annex 1, EBU Tech 3341 and 3342; ±0.1 LU is the tolerance of their test signals.
    """
    checked = check_samples(samples, rate_hz)
    meter = LoudnessMeter(rate_hz, checked.shape[1])
    meter.add(checked)
    return meter.result()


def _sum_of_steps(steps: Energies) -> Energies:
    """Energies of hops from those of whole tens of steps; added one by one: no shape changes a bit."""
    hops: Energies = steps[::STEPS_PER_HOP].copy()
    for k in range(1, STEPS_PER_HOP):
        hops += steps[k::STEPS_PER_HOP]
    return hops
