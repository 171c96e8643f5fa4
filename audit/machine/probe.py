"""This machine measured: a profile with where each number comes from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

from audit.load.demand import EngineSetup
from audit.load.figure import Figure, Provenance, estimate
from audit.load.profile import Profile
from audit.machine import cpu_probe, host
from audit.machine.busy import KEY, Others, busy_words
from audit.machine.disk_probe import measure_disk
from audit.machine.hindrance import FREE, Hindrance
from audit.machine.material import folder_on, write_formats, write_stems

SUSTAINED_S = 600.0
LATENESS_QUICK_S, LATENESS_FULL_S = 10.0, 60.0
REFILL_BYTES_PER_S = 288_000
"""A stereo 24-bit stem at 48 kHz: what a show is made of."""

ROWS = 64

Tell = Callable[[str], None]


def probe(
    disk: Path,
    *,
    name: str,
    day: date,
    full: bool = False,
    setup: EngineSetup | None = None,
    hindrance: Hindrance = FREE,
    tell: Tell = lambda words: None,
) -> Profile:
    """Measure this machine, with its disk at `disk`; a minute, or eleven where `full`.

    Writes about 250 MB there, and takes them away. setup: the player's buffer and refill. Raises UsageError
    where the folder has no room.
    """
    setup = setup or EngineSetup()
    here, others = host.look(), Others()
    frames = round(setup.refill_s * setup.rate_hz)
    with folder_on(disk) as folder:
        tell("writing files to time")
        files = write_formats(folder, 12.0)
        costs: dict[str, Figure] = {}
        for codec, path in files.items():
            tell(f"decoding {codec}")
            costs[codec] = cpu_probe.decode_ns(path, setup.refill_s)
        speed = cpu_probe.speed_of(costs)
        tell("converting sample rates")
        costs["resample"] = cpu_probe.resample_ns(frames)
        tell("mixing")
        costs["mix"] = cpu_probe.mix_ns(ROWS, setup.frames, hindrance)
        tell("how late threads wake up")
        late, _ = cpu_probe.lateness(LATENESS_FULL_S if full else LATENESS_QUICK_S, setup.period_s)
        tell("reading the disk")
        found = measure_disk(write_stems(folder), round(setup.refill_s * REFILL_BYTES_PER_S), hindrance)
        throttle = estimate(0.85, "1", "not measured: stemaudit probe --full")
        if full:
            throttle = cpu_probe.sustained(files["pcm24"], SUSTAINED_S, tell)
    busy = busy_words(others.share())
    if busy is not None:
        costs = {name: _beside(figure, busy) for name, figure in costs.items()}
        speed, late = _beside(speed, busy), _beside(late, busy)
    words = {**here.words(day), "disk": found.words, "denormals": f"{cpu_probe.denormal_ratio():.2f} times"}
    if busy is not None:
        words[KEY] = busy
    return Profile(
        name=name,
        cores=_told(here.cores, "1"),
        speed=speed,
        memory_available=_told(here.memory_available, "B"),
        latency=found.latency,
        transfer=found.transfer,
        throttle=throttle,
        lateness=late,
        cost=costs,
        rehearsal_cost={"mix": costs["mix"]},
        host=words,
        warm_suspect=found.warm_suspect,
    )


def _beside(figure: Figure, busy: str) -> Figure:
    """Measured beside other work, and so too slow."""
    return replace(figure, source=f"{figure.source}; {busy}")


def _told(value: float, unit: str) -> Figure:
    return Figure(value=float(value), unit=unit, provenance=Provenance.MEASURED, source="the system")
