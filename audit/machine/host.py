"""What the system tells of this machine: cores, memory, power, its name. Every answer may be missing."""

from __future__ import annotations

import platform
from dataclasses import dataclass
from datetime import date

import audit


@dataclass(frozen=True, slots=True, kw_only=True)
class Host:
    """This machine, as far as its system tells."""

    system: str
    cores: int
    memory_available: float
    on_mains: bool | None  # None: no battery, or not told

    @property
    def power(self) -> str:
        return {True: "mains", False: "battery", None: "unknown"}[self.on_mains]

    def words(self, day: date) -> dict[str, str]:
        """What the profile keeps of it."""
        return {
            "os": self.system, "power": self.power, "date": day.isoformat(), "tool": audit.__version__
        }  # fmt: skip


def look() -> Host:
    """Ask the system."""
    import psutil

    memory = psutil.virtual_memory()
    return Host(
        system=f"{platform.system()} {platform.release()}".strip(),
        # Cores that are real: two threads of one core share what is measured of it.
        cores=psutil.cpu_count(logical=False) or psutil.cpu_count() or 1,
        memory_available=float(memory.available),
        on_mains=_on_mains(),
    )


def _on_mains() -> bool | None:
    import psutil

    asked = getattr(psutil, "sensors_battery", None)  # not on every system
    try:
        battery = asked() if asked is not None else None
    except (OSError, RuntimeError, NotImplementedError):
        return None
    return None if battery is None or battery.power_plugged is None else bool(battery.power_plugged)
