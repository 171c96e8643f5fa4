"""Pieces of stem and source as spectra, each frequency weighted by how little else there is.

    spectra(pieces), smoothed(power), Sums.of(heard, source, smooth)

What every band that a leak is looked for in has in common.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

PIECE_S = 0.2
"""Any sample rate has the same 5 Hz steps in its spectrum then."""

SMOOTHED_HZ = 150.0

AT_ONCE = 32
"""Places transformed in one go: all of a source's would need twice its memory."""

LIMITED = 2.5
"""A whitened line (a held tone) counts this much at most; noise has 1."""

Pieces = npt.NDArray[np.float32]
Spectra = npt.NDArray[np.complexfloating]


HIGHEST_HZ = 16_000.0
"""Nothing above it is asked."""


def spectra(pieces: Pieces) -> Spectra:
    """Spectra of tapered pieces up to HIGHEST_HZ, in one scale whatever the rate; shape (places, bins)."""
    from scipy.fft import rfft

    frames = pieces.shape[1]
    taper = np.ones(frames, dtype=np.float32)
    edge = frames // 20
    taper[:edge] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(edge) + 0.5) / edge)
    taper[-edge:] = taper[:edge][::-1]
    taper /= np.float32(frames)
    bins = min(frames // 2 + 1, round(HIGHEST_HZ * PIECE_S))
    found = np.empty((len(pieces), bins), dtype=np.complex64)
    for first in range(0, len(pieces), AT_ONCE):
        some = slice(first, first + AT_ONCE)
        found[some] = rfft(pieces[some] * taper, axis=1, overwrite_x=True)[:, :bins]
    return found


def usual(powers: Pieces) -> Pieces:
    """Median over the pieces. numpy's own takes three times as long over the first axis."""
    ordered = np.sort(powers, axis=0)
    middle = len(ordered) // 2
    return np.asarray(ordered[middle] if len(ordered) % 2 else 0.5 * (ordered[middle - 1] + ordered[middle]))


def power_of(spectrum: Spectra) -> Pieces:
    """Squared magnitude."""
    return np.asarray(spectrum.real**2 + spectrum.imag**2)


def smoothed(power: Pieces) -> Pieces:
    """Running means over SMOOTHED_HZ along the last axis."""
    width = round(SMOOTHED_HZ * PIECE_S) | 1
    padded = np.pad(power, [(0, 0), (width // 2 + 1, width // 2)], mode="edge")
    sums = np.cumsum(padded, axis=1, dtype=np.float64)
    return np.asarray((sums[:, width:] - sums[:, :-width]) / width, dtype=np.float32)


@dataclass(frozen=True, slots=True)
class Sums:
    """What all bands share, shape (places, bins) each."""

    plain: Spectra  # stem times conjugate source, over the stem's smoothed power
    limited: Spectra  # the same without the stem's lines
    strength: Pieces  # the source's power over the stem's
    source: Pieces  # the source's power, all places added; shape (bins,)

    @classmethod
    def of(cls, heard: Spectra, source: Spectra, smooth: Pieces) -> Sums:
        plain = heard * np.conj(source) / smooth
        white = np.sqrt(power_of(heard) / smooth)
        return cls(
            plain=plain,
            limited=plain * np.minimum(np.float32(1.0), np.float32(LIMITED) / np.maximum(white, 1e-6)),
            strength=power_of(source) / smooth,
            source=power_of(source).sum(axis=0),
        )
