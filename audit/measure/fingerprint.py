"""A fingerprint of what is heard: which of 32 bands rise when, and how the sound is spread over them.

    FingerprintMeter(channels, bin_hz)   .add(channel, power)   .result(channels, hop_s) -> Fingerprint
    spectra_differ_db(one, other)        how differently they spread over the bands
    matches(one, other)                  the lags at which they are most alike

Fed with the spectra that the harmony is read from: windows of a quarter second, every 100 ms, up to 2800 Hz.
The level does not enter: a band rises where it gains a decibel against the hop before, and one that stands
60 dB under the stem's loudest hop counts as silent. Bit depth, container, gain, polarity and a shift in time
leave the fingerprint as it is but for few bits (shifts by half a hop change most of them).

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
Words = npt.NDArray[np.uint32]

BANDS = 32
LOW_HZ, HIGH_HZ = 40.0, 2800.0
RISE_DB = 1.0
FLOOR_DB = 60.0
MOST_HOPS = 144_000
"""Four hours; later ones are not kept."""

MOST_MATCHES, APART_S = 8, 0.19


def band_starts(bin_hz: float) -> npt.NDArray[np.int64]:
    """The first bin of each band, and of what lies above them; bands of no bin share one with the next."""
    edges = LOW_HZ * (HIGH_HZ / LOW_HZ) ** (np.arange(BANDS + 1) / BANDS)
    return np.ceil(edges / bin_hz).astype(np.int64)


class FingerprintMeter:
    """Memory: 128 bytes a channel and 100 ms, for at most MOST_HOPS of them."""

    def __init__(self, channels: int, bin_hz: float) -> None:
        self._starts = band_starts(bin_hz)
        self._rows: list[list[Floats]] = [[] for _ in range(channels)]
        self._hops = [0] * channels

    def add(self, channel: int, power: Floats) -> None:
        """The next spectra of a channel, shape (hops, bins)."""
        if self._hops[channel] >= MOST_HOPS:
            return
        sums = np.concatenate([np.zeros((len(power), 1)), np.cumsum(power, axis=1, dtype=np.float64)], axis=1)
        low, high = self._starts[:-1], np.maximum(self._starts[1:], self._starts[:-1] + 1)
        high = np.minimum(high, power.shape[1])
        bands = sums[:, high] - sums[:, np.minimum(low, high)]
        self._rows[channel].append(np.maximum(bands, 0.0).astype(np.float32))
        self._hops[channel] += len(power)

    def result(self, channels: tuple[int, ...] | None, hop_s: float) -> Fingerprint:
        """Of some channels together (0-based; None: all). Silence gives words of 0 and no spectrum."""
        chosen = part_channels(channels, len(self._rows))
        if not self._rows[chosen[0]]:
            return Fingerprint(hop_s=hop_s, words=array("I"), spectrum_db=())
        power = np.concatenate(self._rows[chosen[0]]).astype(np.float64)
        for channel in chosen[1:]:
            power += np.concatenate(self._rows[channel])
        whole = power.sum()
        if whole <= 0.0:
            return Fingerprint(hop_s=hop_s, words=array("I", bytes(4 * len(power))), spectrum_db=())
        floor = power.sum(axis=1).max() * 10.0 ** (-FLOOR_DB / 10.0)
        level = 10.0 * np.log10(power + floor)
        rises = np.diff(level, axis=0, prepend=level[:1]) > RISE_DB
        words = (rises * (1 << np.arange(BANDS, dtype=np.uint64))).sum(axis=1).astype(np.uint32)
        share = np.maximum(power.sum(axis=0) / whole, 1e-12)
        return Fingerprint(
            hop_s=hop_s,
            words=array("I", words.astype(np.dtype("I")).tobytes()),
            spectrum_db=tuple(float(db) for db in 10.0 * np.log10(share)),
        )


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
