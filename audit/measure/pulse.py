"""At which tempo stems play that lie on no part of their click's beat.

    pulses(onsets, beats_s) -> one Pulse a stem, None where it has too few onsets
    own_pulses(onsets, beats_s) -> one Pulse a stem that keeps to another tempo, None for all others

A stem that keeps to its click has its onsets at one place of the beat or its parts, down to the eighth.
Where no stem of a song has, another pulse is looked for that they share: the frequency at which their onsets
gather best, from 0.6 to 8 to a beat of the click. Onsets are a train of impulses, so how they gather at every
frequency is the size of its Fourier transform over their number (Rayleigh's test; Bartlett 1963, The spectral
analysis of point processes [memory]).

Where some stem keeps to the click, those that do not are asked for a pulse of their own: made for another
tempo of the song, a stem gathers surely at one frequency, in both halves and with its strongest strokes, and
on no part of the beat. A tremolo's swells gather as well, but its strokes lie on the click.

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
"""A stem with so many onsets that gather like this keeps to its click: then no pulse is shared."""

FEWEST_OWN, OWN_FIT = 40, 0.6
"""A pulse of its own takes so many onsets, and that either half of them gathers like this. Own measurement:
music gathers at 0.5 somewhere by chance, in stems of few notes."""

BETTER, STRONG_BETTER = 0.3, 0.2
"""And that they do so much better than on the click, and the strongest so much."""

AS_WELL = 0.9
"""Of two pulses that gather within this the slower one is the stem's."""

NEAR = 0.003
"""A pulse this near to a multiple of the click's, as part of it, is one."""

STRONGEST = 3
"""One onset of so many belongs to the strongest."""


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


def own_pulses(onsets: Sequence[Onsets | None], beats_s: Numbers) -> tuple[Pulse | None, ...]:
    """One a stem, in the order given: the pulse of a stem that keeps surely to another than the click's,
    where some other stem keeps to the click. beats_s: the click's, seconds, ascending, shape (n,)."""
    placed = [None if one is None else placed_on(one, beats_s) for one in onsets]
    on_click = [
        0.0 if one is None else max(_gathered(*one, level) for level in PARTS) for one in placed
    ]  # fmt: skip
    keeping = any(
        fit >= KEEPS and len(one[0]) >= SURELY
        for fit, one in zip(on_click, placed, strict=True)
        if one is not None
    )
    return tuple(
        _own(*one, fit, len(beats_s)) if keeping and one is not None else None
        for fit, one in zip(on_click, placed, strict=True)
    )


def on_the_beat_at(pulse: Pulse, ratio: float) -> bool:
    """Whether a stem of this pulse lies on the click's beat, or a part of it, once its times are
    multiplied."""
    per_beat = pulse.per_beat / ratio
    return abs(per_beat - round(per_beat)) <= NEAR * per_beat


def _own(beats: Numbers, weights: Numbers, on_click: float, length: int) -> Pulse | None:
    if len(beats) < FEWEST_OWN or on_click >= 1.0 - BETTER:
        return None
    per_beat = _fundamental(beats, weights, _best(_spectrum(beats, weights, length), length))
    fit = _gathered(beats, weights, per_beat)
    half = len(beats) // 2
    halves = (
        _gathered(beats[:half], weights[:half], per_beat),
        _gathered(beats[half:], weights[half:], per_beat),
    )
    strong = np.argsort(-weights, kind="stable")[: len(beats) // STRONGEST]
    by_strong = _gathered(beats[strong], weights[strong], per_beat)
    strong_on_click = max(_gathered(beats[strong], weights[strong], level) for level in PARTS[:4])
    if (
        min(halves) < OWN_FIT
        or fit - on_click < BETTER
        or by_strong - strong_on_click < STRONG_BETTER
    ):  # fmt: skip
        return None
    return Pulse(per_beat=per_beat, fit=fit, on_click=on_click, onsets=len(beats))


def _fundamental(beats: Numbers, weights: Numbers, per_beat: float) -> float:
    """The slowest pulse that gathers as well: even strokes gather at its multiples, too."""
    fit = _gathered(beats, weights, per_beat)
    slower = [per_beat / parts for parts in PARTS[::-1] if per_beat / parts >= SLOWEST]
    return next(one for one in slower if _gathered(beats, weights, one) >= AS_WELL * fit)


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
    return _best(pooled, length)


def _best(spectrum: Numbers, length: int) -> float:
    """The frequency, to a beat, of a spectrum's highest place: between its steps, by a parabola."""
    per_beat = np.arange(len(spectrum)) * STEPS / _size(length)
    looked_at = (per_beat >= SLOWEST) & (per_beat <= FASTEST)
    top = int(np.argmax(np.where(looked_at, spectrum, 0.0)))
    before, at, after = (float(spectrum[min(place, len(spectrum) - 1)]) for place in (top - 1, top, top + 1))
    curved = before - 2.0 * at + after
    step = 0.5 * (before - after) / curved if curved < 0.0 else 0.0
    return float(per_beat[top]) + min(max(step, -0.5), 0.5) * STEPS / _size(length)
