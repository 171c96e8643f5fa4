"""Places where a stem itself strikes together with a click: there nothing can be told of a leak.

own_strikes(heard, source, usual, lead) -> (own, kept)
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

STRIKES = 2.0
EXPLAINED = 0.25
"""A piece whose whitened energy doubles at the tick, less than a quarter of it the tick's own, is struck by
the stem itself. Own measurement, on rendered and played drums."""

BEFORE = 0.06
AFTER = 0.25
REACH = 0.06
ALL = 0.65
"""Shares of a piece: where what comes before the tick begins, what after it counts as attack, how much later
a leak may lie, and how much of the tick's tail is looked at."""

Numbers = npt.NDArray[np.float64]
Powers = npt.NDArray[np.floating]
Spectra = npt.NDArray[np.complexfloating]


def own_strikes(
    heard: Spectra, source: Spectra, usual: Powers, lead: float
) -> tuple[Numbers, npt.NDArray[np.bool_]]:
    """For every piece the share of its energy after the tick that is the source's, and whether it is kept.

    heard, source: spectra, shape (places, bins). usual: the stem's usual power in those bins: energies are
    taken over it, so that hi-hats show above basses. lead: where the tick begins, share of a piece.
    """
    from scipy.fft import irfft

    weight = 1.0 / np.sqrt(usual + 1e-4 * usual.max())
    frames = 2 * heard.shape[1]
    flat = irfft(heard * weight, frames, axis=1)
    start = round(lead * frames)
    before = np.mean(flat[:, round(BEFORE * frames) : round((lead - 0.01) * frames)] ** 2, axis=1)
    attack = np.mean(flat[:, start : start + round(AFTER * frames)] ** 2, axis=1)
    cross = irfft(heard * np.conj(source) * weight**2, frames, axis=1)
    reach = round(REACH * frames)
    best = np.abs(np.concatenate([cross[:, -reach // 10 :], cross[:, :reach]], axis=1)).max(axis=1)
    behind = flat[:, round((lead - 0.01) * frames) : start + round(ALL * frames)]
    # The tick's own energy, by Parseval's theorem: bins but the first stand for two.
    tick = (source.real**2 + source.imag**2) * weight**2
    whole = (2.0 * np.sum(tick, axis=1) - tick[:, 0]) / frames
    energy = whole * np.sum(behind**2, axis=1)
    own = np.minimum(1.0, best**2 / np.maximum(energy, 1e-60))
    return own, (attack < STRIKES * np.maximum(before, 1e-30)) | (own > EXPLAINED)
