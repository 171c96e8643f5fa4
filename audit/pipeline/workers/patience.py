"""Whether a worker that says nothing hangs, or only waits its turn on a machine that has too much to do."""

from __future__ import annotations

import time

STARVED_SHARE = 0.6
"""A process that would work and gets less than this of a processor is kept from it by others."""

BUSY_PERCENT = 90.0
"""Only where all processors together are about this busy does anybody wait for one."""

LOOK_S = 1.0


def is_starved(pid: int, look_s: float = LOOK_S) -> bool:
    """Whether this process would run, but others take the processors. Watches it for `look_s`.

    One that sleeps, waits for a disk or has a processor for itself is not starved; False, too, where it is
    gone or may not be looked at.
    """
    import psutil

    def spent_s() -> float:
        times = process.cpu_times()
        return float(times.user + times.system)

    try:
        process = psutil.Process(pid)
        runs = process.status() == psutil.STATUS_RUNNING
        spent = spent_s()
        psutil.cpu_percent(None)
        time.sleep(look_s)
        share = (spent_s() - spent) / look_s
        runs = runs and process.status() == psutil.STATUS_RUNNING
        return runs and share < STARVED_SHARE and psutil.cpu_percent(None) >= BUSY_PERCENT
    except psutil.Error:
        return False
