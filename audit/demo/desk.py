"""The mixing desk: how loud a sum is, and one gain for a whole song."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from audit.demo.sound import Samples


def summed(stems: Iterable[Samples]) -> Samples:
    """Stereo sum at unity gain; a mono stem goes to both sides."""
    total: Samples | None = None
    for stem in stems:
        if total is None:
            total = np.zeros((len(stem), 2), dtype=np.float32)
        total += stem
    if total is None:
        raise ValueError("nothing to sum")
    return total


def rough_loudness(mix: Samples, rate_hz: int) -> float:
    """Gated loudness in LUFS to about 0.3 LU: enough to set a fader. −inf for silence.

    The curve is drawn from two ordinary filters; the audit's own meter (audit.measure) is the exact one, and
    the demo may not know it.
    """
    from scipy.signal import butter, sosfilt

    low = sosfilt(butter(2, 38.0, "highpass", fs=rate_hz, output="sos"), mix, axis=0)
    high = sosfilt(butter(1, 2000.0, "highpass", fs=rate_hz, output="sos"), low, axis=0)
    weighted = low + 0.585 * high
    step = rate_hz // 10
    count = len(mix) // step
    steps = np.square(weighted[: count * step]).reshape(count, step, -1).mean(axis=1).sum(axis=1)
    power = np.convolve(steps, np.full(4, 0.25), "valid")
    power = power[power > 10 ** (-6.9309)]
    if not power.size:
        return -np.inf
    power = power[power > power.mean() / 10]
    return float(-0.691 + 10 * np.log10(power.mean()))


def song_gain(stems: Iterable[Samples], rate_hz: int, *, lufs: float, peak_dbfs: float = -1.0) -> float:
    """The gain that brings the sum to a loudness, or as near as the peaks of sum and stems allow.

    Peaks are held under `peak_dbfs` for the sum and 1.5 dB lower for every stem: what lies between the
    samples rises above them.
    """
    stems = list(stems)
    mix = summed(stems)
    wanted = 10 ** ((lufs - rough_loudness(mix, rate_hz)) / 20)
    room_for_mix = 10 ** (peak_dbfs / 20) / np.abs(mix).max()
    room_for_stems = 10 ** ((peak_dbfs - 1.5) / 20) / max(np.abs(stem).max() for stem in stems)
    return float(min(wanted, room_for_mix, room_for_stems))
