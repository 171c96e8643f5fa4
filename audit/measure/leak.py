"""Whether one signal can be heard in another, far below it: a click or timecode that leaked into music.

    find_leak(pieces, source, ticks=…) -> Found | None

pieces and source are cut at the same moments, so what leaked lies at the same place in both, a few
milliseconds late at most. Each piece is whitened by its own smoothed spectrum: every frequency counts by how
little else there is (the generalised least-squares estimate of the source's gain), and quiet pieces count
most. The gain is estimated for all delays at once. Delays far from the leak's own, and the spread over the
pieces, tell how much of it is chance.

A piece in which the stem itself strikes where the source does tells nothing, as every attack resembles every
other: it is left out, unless what strikes is the source itself (`struck`).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from audit.measure.leak_spectra import (
    HIGHEST_HZ,
    PIECE_S,
    Pieces,
    Spectra,
    Sums,
    power_of,
    smoothed,
    spectra,
    usual,
)  # fmt: skip
from audit.measure.struck import own_strikes

LEAD_S = 0.04
"""A piece begins 40 ms before a tick."""

BANDS_HZ = ((100.0, HIGHEST_HZ), (100.0, 2500.0), (1000.0, 6000.0))
"""A leak through a room or a headphone is in part of the spectrum only."""

EVERYWHERE = 0.7
"""The whole spectrum's answer counts unless a band holds it 3 dB louder."""

OCTAVES_HZ = (
    100.0, 200.0, 400.0, 700.0, 1000.0, 1400.0, 2000.0, 2800.0, 4000.0, 5600.0, 8000.0, 11_300.0, 16_000.0,
)  # fmt: skip
UNTOLD = 0.3
MOST_GAIN = 1.5

SILENCE = 10.0 ** (-96.0 / 10.0)
"""Mean square below which a piece is silence: it holds no leak, and tells nothing of other pieces."""

HUSH = 10.0 ** (-110.0 / 10.0)
"""Mean square of the noise that every piece is thought to have: what lies below it is of no interest."""

EARLIEST_S, LATEST_S = -0.001, 0.012
AWAY_S = (0.018, 0.070)
CURVE = 8192
"""Delays in a piece that the gain is computed at: 24 µs apart."""

TAIL = 0.25
"""Energies after the leak's delay count by this part at least, were those before it ever so small."""

FEWEST = 4
MOST_SHARE = 1.0 / 6.0
"""No piece decides more than a sixth."""

SURE = 10.0
AGREED = 8.0
STEADY = 0.7
"""There: ten times the usual size of chance, eight standard errors, and in seven of ten pieces. Own
measurement: clean stems reach 12, 6 and 0.0; a copy 60 dB under its stem 60, 30 and 0.9."""

VERY_SURE = 40.0
FEW_AGREED = 5.0
"""In a song of a dozen beats few pieces can agree."""

TELLS = 0.25
NEAR = 0.5
"""A piece tells by itself where the error of its gain is a quarter of the leak's, and agrees within a
half."""

SURELY_TELLS = 0.1
ABSENT = 0.2
MOST_ABSENT = 0.02
"""It does not hold it where that error is a tenth, and the gain below a fifth."""

Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What of a source is in a stem."""

    gain: float  # of the source's amplitude
    delay_s: float  # positive = later than the source
    surety: float  # gain over the usual size of chance gains
    agreement: float  # gain over its standard error, by how the pieces differ
    steady: float  # 0 … 1: share of the pieces that could tell alone and hold it at about this gain
    spread: float  # of the gain over those, robust standard deviation against the gain; noise taken off
    absent: int  # pieces that could surely tell and do not hold it
    own: float  # 0 … 1: median share of a piece's energy that is the source's
    looked: int  # pieces that could be used
    silent: int  # pieces without any sound
    struck: int  # pieces left out
    best: int  # row of the piece in which it stands out most
    low_hz: float  # the band in which it was found
    high_hz: float
    passed: float  # energy of what is there over the source's energy, over the whole spectrum

    @property
    def there(self) -> bool:
        """A leak is in every piece, a sound that a musician plays is not."""
        sure = self.surety >= SURE and self.agreement >= (AGREED if self.surety < VERY_SURE else FEW_AGREED)
        return (
            sure
            and self.steady >= STEADY
            and self.gain > 0.0
            and self.absent <= max(1.0, MOST_ABSENT * self.looked)
        )


def find_leak(pieces: Pieces, source: Spectra, *, ticks: bool) -> Found | None:
    """Looks for the source in the pieces.

    pieces: shape (places, frames), PIECE_S long. source: spectra of the same places, shape (places, bins), at
    its own rate. ticks: the source sounds from LEAD_S on and is short, so a stem's own attacks at the same
    place can be told.
    None where fewer than FEWEST pieces can be used. Where nothing is there, the surest of what looks like it.
    """
    power = np.einsum("pf,pf->p", pieces, pieces) / pieces.shape[1]
    rows = np.flatnonzero(power > SILENCE)
    if len(rows) < FEWEST:
        return None
    heard, source = spectra(pieces[rows]), source[rows]
    bins = min(heard.shape[1], source.shape[1])
    heard, source = heard[:, :bins], source[:, :bins]
    heard[:, : round(BANDS_HZ[0][0] * PIECE_S)] = 0.0
    own, kept = np.ones(len(rows)), np.ones(len(rows), dtype=np.bool_)
    smooth = smoothed(power_of(heard)) + np.float32(HUSH / (2.0 * bins))
    if ticks:
        own, kept = own_strikes(heard, source, usual(smooth), LEAD_S / PIECE_S)
    if kept.sum() < FEWEST:
        return None
    if not kept.all():
        heard, source, smooth = heard[kept], source[kept], smooth[kept]
    sums = Sums.of(heard, source, smooth)
    counts = (len(pieces) - len(rows), int((~kept).sum()))
    found = [_estimate(sums, band, own[kept], rows[kept], counts) for band in BANDS_HZ]
    there = [one for one in found if one.there]
    if not there:
        return max(found, key=lambda one: one.surety)
    loudest = max(there, key=lambda one: one.gain)
    return found[0] if found[0].there and found[0].gain > EVERYWHERE * loudest.gain else loudest


def _estimate(
    sums: Sums, band_hz: tuple[float, float], own: Numbers, rows: npt.NDArray[np.int64],
    counts: tuple[int, int],
) -> Found:  # fmt: skip
    first, last = (round(edge * PIECE_S) for edge in band_hz)
    inside = slice(first, last)
    norm = np.maximum(sums.strength[:, inside].sum(axis=1, dtype=np.float64), 1e-30)
    fair = _fair(norm)
    total = np.zeros(sums.strength.shape[1], dtype=np.complex128)
    energy = np.zeros(sums.strength.shape[1])
    total[inside] = np.einsum("p,pb->b", fair.astype(np.float32), sums.limited[:, inside])
    energy[inside] = np.einsum("p,pb->b", fair.astype(np.float32), sums.strength[:, inside])
    gains, shape = _curve(total, energy), _curve(energy, energy)
    step_s = PIECE_S / CURVE
    lags = np.arange(round(EARLIEST_S / step_s), round(LATEST_S / step_s) + 1)
    lag = int(lags[int(np.argmax(gains[lags]))])
    rest = gains - gains[lag] * np.roll(shape, lag)
    near, far = (round(edge / step_s) for edge in AWAY_S)
    # A room's own tail comes after, in every piece alike: it is no chance. Nothing leaks before it sounds.
    early, late = (float(np.mean(side**2)) for side in (rest[-far:-near], rest[near:far]))
    chance = float(np.sqrt(min(0.5 * (early + late), max(early, TAIL * late))))
    surety = float(gains[lag]) / max(chance, 1e-30)
    if surety < SURE:
        return Found(
            gain=0.0, delay_s=lag * step_s, surety=surety, agreement=0.0, steady=0.0, spread=0.0,
            absent=0, own=0.0, looked=len(rows), silent=counts[0], struck=counts[1], best=int(rows[0]),
            low_hz=band_hz[0], high_hz=band_hz[1], passed=0.0,
        )  # fmt: skip
    turn = np.exp(2j * np.pi * np.arange(first, first + sums.plain[:, inside].shape[1]) * (lag / CURVE))
    turn = turn.astype(np.complex64)
    # Each piece's own gain is unlimited: where the source dominates, limiting would hide most of it.
    alone = np.real(sums.plain[:, inside] @ turn).astype(np.float64) / norm
    held = np.real(sums.limited[:, inside] @ turn).astype(np.float64) / norm
    share = fair * norm / float((fair * norm).sum())
    mean = float(share @ held)
    error = float(np.sqrt(np.sum(share**2 * (held - mean) ** 2)))
    level = _middle(alone, share)
    blur = 1.0 / np.sqrt(2.0 * norm)
    steady, spread = _steadiness(alone, blur, share, level)
    absent = int(np.sum((blur < SURELY_TELLS * level) & (np.abs(alone) < ABSENT * level)))
    return Found(
        gain=max(0.0, level), delay_s=lag * step_s, surety=surety,
        agreement=mean / max(error, 1e-30), steady=steady, spread=spread, absent=absent,
        own=float(np.median(own)), looked=len(rows), silent=counts[0], struck=counts[1],
        best=int(rows[int(np.argmax(norm))]), low_hz=band_hz[0], high_hz=band_hz[1],
        passed=level**2 if band_hz == BANDS_HZ[0] else _passed(sums, lag, level),
    )  # fmt: skip


def _passed(sums: Sums, lag: int, level: float) -> float:
    """Energy of the leak over the source's: a room or a headphone lets only a part of the spectrum pass.

    Taken band by band; where a band cannot tell, its gain is thought to be that of the whole.
    """
    bins = len(sums.source)
    turn = np.exp(2j * np.pi * np.arange(bins) * (lag / CURVE)).astype(np.complex64)
    fair = _fair(sums.strength.sum(axis=1, dtype=np.float64)).astype(np.float32)
    found = np.einsum("p,pb->b", fair, sums.plain) * turn
    there = np.einsum("p,pb->b", fair, sums.strength)
    blur = np.einsum("p,pb->b", fair**2, sums.strength)
    edges = np.minimum(bins, np.round(np.array(OCTAVES_HZ) * PIECE_S).astype(np.int64))
    energy = 0.0
    for first, last in pairwise(edges.tolist()):
        strength = float(there[first:last].sum(dtype=np.float64))
        if strength <= 0.0:
            continue
        gain = float(abs(found[first:last].sum(dtype=np.complex128))) / strength  # a filter turns phases
        error = np.sqrt(float(blur[first:last].sum(dtype=np.float64)) / 2.0) / strength
        if error > UNTOLD * level:
            gain = level
        energy += min(gain, MOST_GAIN * level) ** 2 * float(sums.source[first:last].sum())
    return energy / max(float(sums.source.sum()), 1e-30)


def _steadiness(alone: Numbers, blur: Numbers, share: Numbers, level: float) -> tuple[float, float]:
    """Share of the pieces that agree on the gain, and how far it spreads; of those that can tell.

    In the spread a piece counts as in the gain: what else sounds at some beats is no unsteadiness of the
    leak."""
    if level <= 0.0:
        return 0.0, 0.0
    tell = blur < TELLS * level
    if tell.sum() < FEWEST:  # no piece by itself: then only all together can agree
        return 1.0, 0.0
    off = np.abs(alone[tell] - level)
    variance = (1.4826 * _middle(off, share[tell])) ** 2 - _middle(blur[tell], share[tell]) ** 2
    return float(np.mean(off < NEAR * level)), float(np.sqrt(max(0.0, variance))) / level


def _fair(strength: Numbers) -> Numbers:
    """Factors that keep every piece's share of the sum below MOST_SHARE, as far as their number allows."""
    bound = float(strength.max())
    for _ in range(60):
        if bound <= MOST_SHARE * np.minimum(strength, bound).sum():
            break
        bound *= 0.8
    return np.asarray(np.minimum(1.0, bound / np.maximum(strength, 1e-300)))


def _curve(total: Spectra | Numbers, energy: Numbers) -> Numbers:
    """Gain at every delay, CURVE of them over the length of a piece, negative ones at the end."""
    from scipy.fft import irfft

    spectrum = np.zeros(CURVE // 2 + 1, dtype=np.complex128)
    count = min(len(total), len(spectrum))
    spectrum[:count] = total[:count]
    return np.asarray(irfft(spectrum) * CURVE / max(2.0 * float(energy.sum()), 1e-300))


def _middle(values: Numbers, weights: Numbers) -> float:
    """Weighted median."""
    order = np.argsort(values)
    sums = np.cumsum(weights[order])
    return float(values[order][int(np.searchsorted(sums, 0.5 * sums[-1]))])
