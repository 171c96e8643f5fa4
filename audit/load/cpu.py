"""Work per second of audio, and whether it is done in time.

"Sample" is one value of one channel. Costs in seconds per sample, on the machine in question.
"""

from __future__ import annotations

import math
from collections.abc import Sequence


def callback_s(
    *, voices: int, samples: float, base_s: float, per_voice_s: float, per_sample_s: float
) -> float:
    """Work of one callback: a constant, a constant a voice, and gain and sum of its samples."""
    return base_s + voices * per_voice_s + samples * per_sample_s


def one_core_share(decode_share: float, callback_share: float, throttle: float) -> float:
    """Share of a lone core; throttle: sustained over first-minute speed, at most 1."""
    return (decode_share + callback_share) / throttle


def two_core_share(decode_share: float, callback_share: float, throttle: float) -> float:
    """Share of the busier of two cores, each with one of the two threads."""
    return max(decode_share, callback_share) / throttle


def callback_response_s(blocking_s: float, lateness_s: float, work_s: float) -> float:
    """When the callback is done at the latest, after its due time; in time if at most one period."""
    return blocking_s + lateness_s + work_s


def refill_response_s(
    refill_work_s: float, period_s: float, callback_work_s: float, deadline_s: float
) -> float | None:
    """When a refill is done that the callback interrupts on the same core; None where that is too late.

    The fixed point of R = C + ceil(R/P)·C_cb: response-time analysis, Joseph and Pandya 1986 [memory].
    """
    response = refill_work_s
    while response <= deadline_s:
        longer = refill_work_s + math.ceil(response / period_s) * callback_work_s
        if math.isclose(longer, response, rel_tol=1e-12):
            return response
        response = longer
    return None


def rate_monotonic_bound(tasks: int) -> float:
    """Load up to which fixed priorities keep every deadline: m(2^(1/m) − 1), Liu, Layland 1973 [memory]."""
    return float(tasks * (2.0 ** (1.0 / tasks) - 1.0))


def late_probability_bound(trials: int) -> float:
    """After so many trials without a late one, its probability is below this at 95 % (rule of three)."""
    return 3.0 / trials


def busiest_core(tasks: Sequence[float], cores: int) -> float:
    """Share of the busiest core where tasks that cannot be split are dealt out, the longest first.

    At most 4/3 of the best dealing: Graham 1969 [memory].
    """
    loads = [0.0] * max(1, cores)
    for task in sorted(tasks, reverse=True):
        loads[loads.index(min(loads))] += task
    return max(loads)
