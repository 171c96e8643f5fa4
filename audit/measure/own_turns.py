"""Whether a stem's chords turn with its click, or at another tempo that its strokes seem to have.

turns_along(chroma, beats_s, ratio) -> (on the click, at the other tempo)

What swells or echoes at a speed of its own has strokes of that speed, but its chords turn on the click's
beats and bars. Each hop weighs by how far the tones a fifth of a second on differ from it; how these weights
gather at one place of a beat, a bar, or parts and multiples of them is the length of their mean resultant
(Rayleigh's test; Mardia & Jupp 2000, Directional Statistics [memory]).

Pure: arrays in, numbers out.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.results import Chroma

Numbers = npt.NDArray[np.float64]

APART_S = 0.2
"""Tones so far apart are compared: longer than a hop, shorter than a beat."""

SPANS = (1 / 8, 1 / 6, 1 / 4, 1 / 3, 1 / 2, 1.0)
"""Turns to a beat that are looked for: beats, half bars, bars of three and four, and pairs of these."""


def turns_along(chroma: Chroma | None, beats_s: Numbers, ratio: float) -> tuple[float, float] | None:
    """0 … 1 each, the best of SPANS. beats_s: the click's, seconds, ascending, shape (n,); ratio: the other
    tempo over the click's. None where no tone ever changes under the click."""
    if chroma is None or len(beats_s) < 2:
        return None
    tones = np.sqrt(np.frombuffer(bytes(chroma.classes), dtype=np.uint8).reshape(-1, 12).astype(np.float64))
    length = np.sqrt((tones**2).sum(axis=1))
    apart = max(1, round(APART_S / chroma.hop_s))
    if len(tones) <= apart:
        return None
    tones /= np.maximum(length, 1e-9)[:, None]
    both = (length[apart:] > 0.0) & (length[:-apart] > 0.0)
    turning = np.where(both, 1.0 - (tones[apart:] * tones[:-apart]).sum(axis=1), 0.0)
    at_s = (np.arange(len(turning)) + 0.5 * apart) * chroma.hop_s
    inside = (at_s >= beats_s[0]) & (at_s <= beats_s[-1])
    at_s, turning = at_s[inside], turning[inside]
    if turning.sum() <= 0.0:
        return None
    beats = np.interp(at_s, beats_s, np.arange(len(beats_s), dtype=np.float64))
    return (
        max(_gathered(beats, turning, span) for span in SPANS),
        max(_gathered(beats, turning, span * ratio) for span in SPANS),
    )


def _gathered(beats: Numbers, weights: Numbers, per_beat: float) -> float:
    """How the weights gather, less how the beats do that they were taken at."""
    turned = np.exp(2j * np.pi * per_beat * beats)
    return float(np.abs((weights * turned).sum() / weights.sum() - turned.mean()))
