"""Linear prediction for the damage measures, compiled: models of a few milliseconds of sound.

A model of order p says x[n] ≈ −Σ a[j] x[n − j], j = 1 … p, with a[0] = 1. Sources: Levinson's recursion for
the autocorrelation method and Burg's method, as in any textbook of speech or spectral analysis [memory];
scipy.linalg.solve_toeplitz and librosa.lpc are the second implementations in the tests.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

_FAST = {"nnan", "ninf", "nsz", "reassoc", "contract"}

REST = 1e-9
"""Part of the energy that is added as white noise, so that a pure tone has a model."""


@njit(cache=True, nogil=True, fastmath=_FAST)
def autocorrelation(wave: Any, order: int) -> Any:
    """Σ x[n] x[n + k], k = 0 … order."""
    count = len(wave)
    found = np.zeros(order + 1)
    for k in range(min(order + 1, count)):
        early = wave[: count - k]
        late = wave[k:]
        total = 0.0
        for i in range(len(early)):
            total += early[i] * late[i]
        found[k] = total
    return found


@njit(cache=True, nogil=True)
def levinson(r: Any, order: int, rest: float) -> Any:
    """The model whose autocorrelation is r; all zeros after a[0] for silence. rest: as REST."""
    a = np.zeros(order + 1)
    a[0] = 1.0
    error = r[0] * (1.0 + rest)
    before = np.zeros(order + 1)
    for m in range(1, order + 1):
        if error <= 0.0:
            break
        total = r[m]
        for j in range(1, m):
            total += a[j] * r[m - j]
        reflection = -total / error
        before[:m] = a[:m]
        for j in range(1, m):
            a[j] = before[j] + reflection * before[m - j]
        a[m] = reflection
        error *= 1.0 - reflection * reflection
    return a


@njit(cache=True, nogil=True)
def windowed_model(wave: Any, order: int, rest: float = REST) -> Any:
    """Autocorrelation method under a Hann window. rest: part of the energy added as white noise."""
    count = len(wave)
    shaped = np.empty(count)
    # cos((i + ½)·t) of the two before it, 2·cos(t)·cos(i·t) − cos((i − 1)·t): a fifth of the time.
    turn = 2.0 * np.pi / max(count, 1)
    twice, now, last = 2.0 * np.cos(turn), np.cos(0.5 * turn), np.cos(0.5 * turn)
    for i in range(count):
        shaped[i] = wave[i] * (0.5 - 0.5 * now)
        now, last = twice * now - last, now
    return levinson(autocorrelation(shaped, order), order, rest)


@njit(cache=True, nogil=True, fastmath=_FAST)
def burg(wave: Any, order: int) -> Any:
    """Burg's method: tones keep their strength when they are carried on past the end. -> (a, error power)"""
    count = len(wave)
    forward = np.empty(count)
    backward = np.empty(count)
    power = 0.0
    for i in range(count):
        forward[i] = wave[i]
        backward[i] = wave[i]
        power += forward[i] * forward[i]
    power /= max(count, 1)
    floor = power * REST
    a = np.zeros(order + 1)
    a[0] = 1.0
    before = np.zeros(order + 1)
    for m in range(1, order + 1):
        above = 0.0
        below = floor
        heads = forward[m:]
        tails = backward[m - 1 : count - 1]
        for i in range(len(heads)):
            above += heads[i] * tails[i]
            below += heads[i] * heads[i] + tails[i] * tails[i]
        if below <= 0.0:
            break
        reflection = -2.0 * above / below
        before[:m] = a[:m]
        for j in range(1, m):
            a[j] = before[j] + reflection * before[m - j]
        a[m] = reflection
        for i in range(count - 1, m - 1, -1):
            head = forward[i]
            tail = backward[i - 1]
            forward[i] = head + reflection * tail
            backward[i] = tail + reflection * head
        power *= 1.0 - reflection * reflection
    return a, power


@njit(cache=True, nogil=True, fastmath=_FAST)
def residual(wave: Any, a: Any) -> Any:
    """What the model cannot foretell: e[n] = Σ a[j] x[n − j] for n = order … the end."""
    order = len(a) - 1
    count = len(wave) - order
    found = np.zeros(max(count, 0))
    for j in range(order + 1):
        factor = a[j]
        values = wave[order - j : order - j + count]
        for i in range(count):
            found[i] += factor * values[i]
    return found


@njit(cache=True, nogil=True)
def carried_on(wave: Any, a: Any, power: float, count: int) -> Any:
    """The next `count` samples as the model expects them, and their variance about that."""
    order = len(a) - 1
    values = np.zeros(order + count)
    values[:order] = wave[len(wave) - order :]
    response = np.zeros(count)
    spread = np.zeros(count)
    total = 0.0
    for n in range(count):
        value = 0.0
        echo = 1.0 if n == 0 else 0.0
        for j in range(1, order + 1):
            value -= a[j] * values[order + n - j]
            if n - j >= 0:
                echo -= a[j] * response[n - j]
        values[order + n] = value
        response[n] = echo
        total += power * echo * echo
        spread[n] = total
    return values[order:], spread


@njit(cache=True, nogil=True)
def rms(wave: Any) -> Any:
    """Root mean square; 0.0 for nothing."""
    total = 0.0
    for i in range(len(wave)):
        total += wave[i] * wave[i]
    return np.sqrt(total / len(wave)) if len(wave) else 0.0


@njit(cache=True, nogil=True)
def highest(wave: Any) -> Any:
    """Highest |x|; 0.0 for nothing."""
    top = 0.0
    for i in range(len(wave)):
        top = max(top, abs(wave[i]))
    return top


@njit(cache=True, nogil=True)
def dot(one: Any, other: Any) -> Any:
    """Σ x y."""
    total = 0.0
    for i in range(len(one)):
        total += one[i] * other[i]
    return total


@njit(cache=True, nogil=True)
def middle(wave: Any) -> Any:
    """Standard deviation as the median of |x| tells it: a few outliers do not count. 0.0 for nothing.

    The median of |x| is 0.6745 standard deviations of a normal distribution.
    """
    if len(wave) == 0:
        return 0.0
    half = len(wave) // 2
    return np.partition(np.abs(wave), half)[half] / 0.6745
