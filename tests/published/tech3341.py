"""The test signals of EBU Tech 3341 and 3342 that follow from their definitions, at any sample rate.

Nothing here is copied from the official files, whose terms forbid it. All are float64, (frames, channels).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
import numpy.typing as npt

Signal = npt.NDArray[np.float64]

SURROUND_WEIGHTS = (1.0, 1.0, 1.0, 1.41, 1.41)
"""L, R, C, Ls, Rs: BS.1770-5 Table 3."""


def tone(rate_hz: int, parts: list[tuple[float, float | None]], *, freq_hz: float = 1000.0) -> Signal:
    """Stereo tone, in phase, phase-continuous, in parts of (seconds, peak dBFS; None for silence)."""
    edges = np.round(np.cumsum([0.0, *(seconds for seconds, _ in parts)]) * rate_hz).astype(int)
    wave = np.sin(2.0 * np.pi * freq_hz * np.arange(edges[-1]) / rate_hz)
    for (_, level_dbfs), begin, end in zip(parts, edges[:-1], edges[1:], strict=True):
        wave[begin:end] *= 0.0 if level_dbfs is None else 10.0 ** (level_dbfs / 20.0)
    return np.repeat(wave[:, None], 2, axis=1)


def loudness_signals(case: int, rate_hz: int) -> list[Signal]:
    """The file or files of a case of Table 1, 1-6, 9, 10, 12, 13."""
    if case == 6:
        levels_dbfs = np.array((-28.0, -28.0, -24.0, -30.0, -30.0))
        return [tone(rate_hz, [(20.0, 0.0)])[:, :1] * 10.0 ** (levels_dbfs / 20.0)]
    if case == 10:
        return [tone(rate_hz, [(i * 0.15, None), (3.0, -23.0), (1.0, None)]) for i in range(20)]
    if case == 13:
        return [tone(rate_hz, [(i * 0.02, None), (0.4, -23.0), (1.0, None)]) for i in range(20)]
    parts: dict[int, list[tuple[float, float | None]]] = {
        1: [(20.0, -23.0)],
        2: [(20.0, -33.0)],
        3: [(10.0, -36.0), (60.0, -23.0), (10.0, -36.0)],
        4: [(10.0, -72.0), (10.0, -36.0), (60.0, -23.0), (10.0, -36.0), (10.0, -72.0)],
        5: [(20.0, -26.0), (20.1, -20.0), (20.0, -26.0)],
        9: [(1.34, -20.0), (1.66, -30.0)] * 5,
        12: [(0.18, -20.0), (0.22, -30.0)] * 25,
    }
    return [tone(rate_hz, parts[case])]


def rising_bursts(case: int, rate_hz: int) -> Iterator[tuple[float, Signal]]:
    """Cases 11 and 14, one running file: (level to be shown after this piece, the piece)."""
    length_s, shift_s = {11: (3.0, 0.15), 14: (0.4, 0.02)}[case]
    parts: list[tuple[float, float | None]] = []
    for i in range(20):
        parts += [(i * shift_s, None), (length_s, -38.0 + i), (length_s - i * shift_s, None)]
    whole = tone(rate_hz, parts)
    piece = round(2.0 * length_s * rate_hz)
    for i in range(20):
        yield -38.0 + i, whole[i * piece : (i + 1) * piece]


def range_signal(levels_dbfs: list[float], rate_hz: int) -> Signal:
    """Tech 3342 cases 1-4: 20 s a level."""
    return tone(rate_hz, [(20.0, level) for level in levels_dbfs])


def peak_tone(rate_hz: int, *, divisor: int, fraction: float, phase_deg: float) -> Signal:
    """Cases 15-19: 1 s of rate / divisor with fades of 10 ms, stereo."""
    wave = fraction * np.sin(2.0 * np.pi * np.arange(rate_hz) / divisor + np.deg2rad(phase_deg))
    return np.repeat(_faded(wave, rate_hz)[:, None], 2, axis=1)


def peak_burst(rate_hz: int, *, offset: int) -> Signal:
    """Cases 20-23: a single period of rate / 4 at full scale inside a tone of rate / 6 at half of it, stereo.

    Made at four times the rate, low-passed just below half the rate, every fourth sample kept.
    """
    return np.repeat(_oversampled_burst(rate_hz)[offset::4][:, None], 2, axis=1)


@cache
def _oversampled_burst(rate_hz: int) -> Signal:
    from scipy.signal import firwin, oaconvolve

    half = 0.5 * np.sin(2.0 * np.pi * np.arange(24 * (rate_hz // 24)) / 24.0)
    burst = np.sin(2.0 * np.pi * np.arange(16) / 16.0)
    wave = _faded(np.concatenate((half, burst, half)), 4 * rate_hz)
    low_pass = firwin(2001, 0.49 * rate_hz, fs=4 * rate_hz, window=("kaiser", 10.0))
    return np.asarray(oaconvolve(wave, low_pass, mode="same"))


def _faded(wave: Signal, rate_hz: int) -> Signal:
    ramp = np.linspace(0.0, 1.0, rate_hz // 100)
    faded = wave.copy()
    faded[: ramp.size] *= ramp
    faded[-ramp.size :] *= ramp[::-1]
    return faded
