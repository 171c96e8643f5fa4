"""What other programs take of the processors while this one measures."""

from __future__ import annotations

import time

BUSY = 0.10
"""Share of all cores from which on a probe is spoilt: own estimate; a desktop at rest takes 2 to 5 %."""

KEY = "busy"
"""Under `host` in a profile: there where it was measured beside other work."""


class Others:
    """Processor time of everything but this process, from now on."""

    def __init__(self) -> None:
        import psutil

        self._cores = psutil.cpu_count() or 1
        self._this = psutil.Process()
        self._start = time.perf_counter(), self._busy_s(), self._own_s()

    def share(self) -> float:
        """Of all cores' time since then: 0 to 1."""
        at, busy_s, own_s = self._start
        elapsed_s = max(1e-3, time.perf_counter() - at)
        others_s = (self._busy_s() - busy_s) - (self._own_s() - own_s)
        return min(1.0, max(0.0, others_s / (elapsed_s * self._cores)))

    def _own_s(self) -> float:
        times = self._this.cpu_times()
        return float(times.user + times.system)

    @staticmethod
    def _busy_s() -> float:
        """All that the system counts but for waiting; a guest's time is in the user's (psutil)."""
        import psutil

        times = psutil.cpu_times()
        fields = ("user", "nice", "system", "irq", "softirq", "steal", "interrupt", "dpc")
        return float(sum(getattr(times, field, 0.0) for field in fields))


def share_over(seconds: float) -> float:
    """What others take while this program does nothing."""
    others = Others()
    time.sleep(seconds)
    return others.share()


def busy_words(share: float) -> str | None:
    """`other programs took 43 % of the processor`; None where that is little."""
    return f"other programs took {100 * share:.0f} % of the processor" if share > BUSY else None
