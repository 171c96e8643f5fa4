"""At which tempo stems play that lie on no part of their click's beat.

    pulses(onsets, beats_s) -> one Pulse a stem, None where it has too few onsets

A stem that keeps to its click has its onsets at one place of the beat or its parts, down to the eighth.
Where no stem of a song has, another pulse is looked for that they share: the frequency at which their onsets
gather best, from 0.6 to 8 to a beat of the click. Onsets are a train of impulses, so how they gather at every
frequency is the size of its Fourier transform over their number (Rayleigh's test; Bartlett 1963, The spectral
analysis of point processes [memory]).

Pure: arrays in, results out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.belonging import placed_on
from audit.results import Onsets, Pulse

Numbers = npt.NDArray[np.float64]

PARTS = (1, 2, 3, 4, 5, 6, 7, 8)
"""Equal parts of a beat that a stem may lie on: the click may tick bars."""

SLOWEST, FASTEST = 0.6, 8.0
"""Pulses to a beat of the click that are looked for."""

STEPS = 64
"""A beat is cut into so many steps; the fastest pulse has eight of them."""

FINER = 4
"""Frequencies lie so many times closer than the song's length would ask for: none falls between two."""

MOST = 200
"""A stem of more onsets counts no more than this: one hi-hat is not the song."""

KEEPS, SURELY = 0.65, 40
"""A stem with so many onsets that gather like this keeps to its click: nothing else is looked for."""


def pulses(onsets: Sequence[Onsets | None], beats_s: Numbers) -> tuple[Pulse | None, ...]:
    """One a stem, in the order given. beats_s: the click's, seconds, ascending, shape (n,)."""
    nothing = (None,) * len(onsets)
    placed = [None if one is None else placed_on(one, beats_s) for one in onsets]
    told = [one for one in placed if one is not None]
    on_click = [max(_gathered(beats, weights, level) for level in PARTS) for beats, weights in told]
    if not told or any(
        fit >= KEEPS and len(beats) >= SURELY for fit, (beats, _) in zip(on_click, told, strict=True)
    ):
        return nothing
    per_beat = _shared(told, len(beats_s))
    found = iter(
        Pulse(
            per_beat=per_beat,
            fit=_gathered(beats, weights, per_beat),
            on_click=fit,
            onsets=len(beats),
        )
        for fit, (beats, weights) in zip(on_click, told, strict=True)
    )
    return tuple(None if one is None else next(found) for one in placed)


def _gathered(beats: Numbers, weights: Numbers, per_beat: float) -> float:
    """1: all onsets lie at one place of the pulse."""
    turned = (weights * np.exp(2j * np.pi * per_beat * beats)).sum()
    return float(np.abs(turned)) / max(float(weights.sum()), 1e-9)


def _spectrum(beats: Numbers, weights: Numbers, length: int) -> Numbers:
    """How onsets gather at every frequency: 0 … 1. Shape: `_size(length)` / 2 + 1."""
    steps = np.round(beats * STEPS).astype(np.int64)
    train = np.bincount(steps, weights, minlength=_size(length))
    spectrum: Numbers = np.abs(np.fft.rfft(train)) / max(float(weights.sum()), 1e-9)
    return spectrum


def _size(length: int) -> int:
    return 1 << int(np.ceil(np.log2(length * STEPS * FINER)))


def _shared(told: Sequence[tuple[Numbers, Numbers]], length: int) -> float:
    """The frequency, to a beat, at which the stems gather best together: each weighs by its onsets, and none
    more than MOST of them."""
    pooled = np.zeros(_size(length) // 2 + 1)
    for beats, weights in told:
        pooled += min(len(beats), MOST) * _spectrum(beats, weights, length) ** 2
    per_beat = np.arange(len(pooled)) * STEPS / _size(length)
    looked_at = (per_beat >= SLOWEST) & (per_beat <= FASTEST)
    return float(per_beat[np.argmax(np.where(looked_at, pooled, 0.0))])
