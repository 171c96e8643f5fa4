"""A fingerprint of what is heard: which of 32 bands rise when, and how the sound is spread over them.

    FingerprintMeter(channels, bin_hz)   .add(channel, power)   .result(channels, hop_s) -> Fingerprint
    spectra_differ_db(one, other)        how differently they spread over the bands
    matches(one, other)                  the lags at which they are most alike

Fed with the spectra that the harmony is read from: windows of a quarter second, every 100 ms, up to 2800 Hz.
The level does not enter: a band rises where it gains a decibel against the hop before, and one that stands
60 dB under the channel's loudest hop so far counts as silent. Bit depth, container, gain, polarity and a
shift in time leave the fingerprint as it is but for few bits (shifts by half a hop change most of them).

Layout: bit b (lowest first) of word k is set where band b rose from hop k − 1 to hop k; hop k is centred on
k · hop_s. The bands are 32 equal steps of the logarithm from 40 to 2800 Hz.

After the sub-fingerprints of Haitsma & Kalker, "A Highly Robust Audio Fingerprinting System" (ISMIR 2002)
[memory]: theirs compare neighbouring bands too; ours count what rises, so that bands with nothing in them,
whose bits would be those of the dither, say nothing.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.steps import part_channels
from audit.results import Fingerprint

Floats = npt.NDArray[np.float32]

BANDS = 32
LOW_HZ, HIGH_HZ = 40.0, 2800.0
RISE_DB = 1.0
FLOOR, LEAST_POWER = 1e-6, 1e-10
"""What a band needs to count: −60 dB of the channel's loudest hop so far, and −100 dB of a full-scale sine:
the noise of 16 bits is −98 dB, spread over all bands and what lies above them."""

LIMITS = (10.0 ** (RISE_DB / 10.0), FLOOR, LEAST_POWER)

MOST_HOPS = 144_000
"""Four hours; later ones are not kept."""

MOST_MATCHES, APART_S = 8, 0.19


def band_starts(bin_hz: float) -> npt.NDArray[np.int64]:
    """The first bin of each band, and of what lies above them; bands of no bin share one with the next."""
    edges = LOW_HZ * (HIGH_HZ / LOW_HZ) ** (np.arange(BANDS + 1) / BANDS)
    return np.ceil(edges / bin_hz).astype(np.int64)


class FingerprintMeter:
    """Memory: 4 bytes a channel and 100 ms, for at most MOST_HOPS of them."""

    def __init__(self, channels: int, bin_hz: float) -> None:
        from audit.measure import fingerprint_kernel as kernel

        self._kernel = kernel
        self._starts = band_starts(bin_hz)
        self._words = [array("I") for _ in range(channels)]
        self._sums = np.zeros((channels, BANDS))
        self._states = np.zeros((channels, BANDS + 2))

    def add(self, channel: int, power: Floats) -> None:
        """The next spectra of a channel, shape (hops, bins); a full-scale sine has the power 1."""
        if len(self._words[channel]) >= MOST_HOPS or not len(power):
            return
        low = np.minimum(self._starts[:-1], power.shape[1] - 1)
        high = np.minimum(np.maximum(self._starts[1:], low + 1), power.shape[1])
        words = np.empty(len(power), dtype=np.uint32)
        self._kernel.read_rises(power, low, high, LIMITS, self._states[channel], self._sums[channel], words)
        self._words[channel].frombytes(words.astype(np.dtype("I")).tobytes())

    def result(self, channels: tuple[int, ...] | None, hop_s: float) -> Fingerprint:
        """Of some channels together (0-based; None: all): what rises in one of them. Silence gives words of 0
        and no spectrum."""
        chosen = list(part_channels(channels, len(self._words)))
        words = np.bitwise_or.reduce([np.array(self._words[c], dtype=np.dtype("I")) for c in chosen])
        sums = self._sums[chosen].sum(axis=0)
        spectrum_db: tuple[float, ...] = ()
        if sums.sum() > 0.0:
            share = np.maximum(sums / sums.sum(), 1e-9)
            # To a hundredth: how spectra are rounded depends on how many are made at once.
            spectrum_db = tuple(float(db) for db in np.round(10.0 * np.log10(share), 2))
        return Fingerprint(hop_s=hop_s, words=array("I", words.tobytes()), spectrum_db=spectrum_db)


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """A lag at which two fingerprints are alike."""

    lag_s: float  # positive = the other plays after the one; to a hop
    likeness: float  # −1 … 1: correlation of the rises, each spread over its neighbours


def spectra_differ_db(one: Fingerprint, other: Fingerprint) -> float:
    """How differently two stems spread over the bands: mean distance in dB, each band by its share of the
    sound. Infinite where one is silent."""
    if not one.spectrum_db or not other.spectrum_db:
        return float("inf")
    first, second = np.array(one.spectrum_db), np.array(other.spectrum_db)
    share = 10.0 ** (np.maximum(first, second) / 10.0)
    return float(np.sum(np.abs(first - second) * share) / share.sum())


def matches(one: Fingerprint, other: Fingerprint, *, from_s: float | None = None) -> tuple[Match, ...]:
    """The lags at which the two are most alike, best first, at most MOST_MATCHES, 200 ms apart at least.

    Both at the same hop; at least half of the shorter one lies under the other. from_s: lags from there on
    only; a stem and itself are alike at 0. A recording moved by half a hop can be less like its copy than
    like a repetition of its bars: whoever needs the right lag tries all.
    """
    first, second = _rises(one), _rises(other)
    norm = float(np.sqrt((first**2).sum() * (second**2).sum()))
    if norm == 0.0:
        return ()
    size = 1 << (len(first) + len(second)).bit_length()
    product = np.conj(np.fft.rfft(first, size, axis=0)) * np.fft.rfft(second, size, axis=0)
    curve = np.fft.irfft(product.sum(axis=1), size)
    half = min(len(first), len(second)) // 2
    lags = np.arange(-(len(first) - half), len(second) - half + 1)
    if from_s is not None:
        lags = lags[lags * one.hop_s >= from_s]
    alike = curve[lags % size] / norm
    found: list[Match] = []
    for at in np.argsort(-alike):
        lag_s = float(lags[at] * one.hop_s)
        if all(abs(lag_s - match.lag_s) >= APART_S for match in found):
            found.append(Match(lag_s=lag_s, likeness=float(alike[at])))
        if len(found) == MOST_MATCHES:
            break
    return tuple(found)


def _rises(one: Fingerprint) -> Floats:
    """Shape (hops + 2, BANDS): the bits, each spread over its neighbours in time, without their mean."""
    words = np.frombuffer(one.words, dtype=np.dtype("I")).astype(np.uint32)
    bits = ((words[:, None] >> np.arange(BANDS, dtype=np.uint32)) & 1).astype(np.float32)
    wide = np.pad(bits, ((2, 2), (0, 0)))
    spread = 0.25 * wide[:-2] + 0.5 * wide[1:-1] + 0.25 * wide[2:]
    return np.asarray(spread - spread.mean(axis=0), dtype=np.float32)
