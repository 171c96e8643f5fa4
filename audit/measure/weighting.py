"""K-weighting: the two filters that stand before every loudness figure, designed for any sample rate.

    design_k_weighting(rate_hz)   the two biquads, exact at 48 kHz and of the same response elsewhere

ITU-R BS.1770-5 Annex 1 prints coefficients for 48 kHz only and asks, for other rates, for those that keep the
frequency response. Both filters are bilinear transforms of an analogue pair; the parameters below regenerate
the printed tables to 1e-14 (they are the ones libebur128 uses).

Trap: the printed high-pass has the numerator 1, −2, 1, without the factor the bilinear transform would give.
At 48 kHz the missing factor is worth +0.0433 dB, which the constant −0.691 of the loudness equation absorbs.
The same numerator at another rate has another gain (−0.02 dB at 96 kHz), so it is scaled here by the ratio of
the two denominators. What is left after that is the warping of the bilinear transform: at most 0.006 dB
between 25 Hz and 20 kHz for 44.1 kHz and above.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

# Analogue prototypes. Source: libebur128 1.2.6, ebur128.c (checked against BS.1770-5 Tables 1 and 2).
SHELF_HZ = 1681.974450955533
SHELF_GAIN_DB = 3.999843853973347
SHELF_Q = 0.7071752369554196
SHELF_BAND_EXPONENT = 0.4996667741545416
HIGH_PASS_HZ = 38.13547087602444
HIGH_PASS_Q = 0.5003270373238773

TABLE_RATE_HZ = 48_000
"""The rate BS.1770 prints its coefficients for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Biquad:
    """Second-order section with a0 = 1: y[n] = b0 x[n] + b1 x[n−1] + b2 x[n−2] − a1 y[n−1] − a2 y[n−2]."""

    b0: float
    b1: float
    b2: float
    a1: float
    a2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class KWeighting:
    """Stage 1 (the head's shelf) and stage 2 (the RLB high-pass), in the order they are applied."""

    shelf: Biquad
    high_pass: Biquad


def design_k_weighting(rate_hz: float) -> KWeighting:
    """The K-weighting filters for one sample rate. Source: ITU-R BS.1770-5 Annex 1, Tables 1 and 2."""
    k = math.tan(math.pi * SHELF_HZ / rate_hz)
    high = 10.0 ** (SHELF_GAIN_DB / 20.0)
    band = high**SHELF_BAND_EXPONENT
    a0 = _denominator(k, SHELF_Q)
    shelf = Biquad(
        b0=(high + band * k / SHELF_Q + k * k) / a0,
        b1=2.0 * (k * k - high) / a0,
        b2=(high - band * k / SHELF_Q + k * k) / a0,
        a1=2.0 * (k * k - 1.0) / a0,
        a2=(1.0 - k / SHELF_Q + k * k) / a0,
    )
    k = math.tan(math.pi * HIGH_PASS_HZ / rate_hz)
    a0 = _denominator(k, HIGH_PASS_Q)
    scale = _denominator(math.tan(math.pi * HIGH_PASS_HZ / TABLE_RATE_HZ), HIGH_PASS_Q) / a0
    high_pass = Biquad(
        b0=scale,
        b1=-2.0 * scale,
        b2=scale,
        a1=2.0 * (k * k - 1.0) / a0,
        a2=(1.0 - k / HIGH_PASS_Q + k * k) / a0,
    )
    return KWeighting(shelf=shelf, high_pass=high_pass)


def _denominator(k: float, q: float) -> float:
    return 1.0 + k / q + k * k
