"""Built-in machines: what to expect of a kind of laptop that nobody has measured, and of drives plugged in.

Each number says where it comes from; what has no source is an estimate. Speed is that of one core beside the
processor of the cost table (audit/load/costs.py). A class with a drive: "laptop-quad-sata-ssd+usb3-disk".
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from audit.load.figure import Figure, Provenance, estimate
from audit.load.profile import Profile

_GB = 1e9
_SYSTEM_BYTES = 1.8e9
"""What an operating system leaves to nobody: own estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """Where the stems lie."""

    says: str
    latency: Figure
    transfer: Figure  # one-thread reads of a refill's size; spinning: on the inner tracks


def _sheet(value: float, unit: str, source: str, *, sd: float | None = None) -> Figure:
    return Figure(value=value, unit=unit, provenance=Provenance.DATASHEET, source=source, sd=sd)


_OEM = "OEM specification of a 2.5-inch 5400 rpm drive: mean seek 12 ms, half a turn 5.56 ms"
_SPINNING = Drive(
    says="5400 rpm disk",
    latency=_sheet(17.6e-3, "s", _OEM, sd=5.3e-3),
    transfer=estimate(50e6, "B/s", "inner tracks; reviews read 100 to 108 MB/s on the outer ones"),
)

DRIVES = {
    "usb2-disk": Drive(
        says="2.5-inch disk on USB 2",
        latency=estimate(18e-3, "s", "15 ms measured in a published test", sd=5.3e-3),
        transfer=estimate(25e6, "B/s", "30 to 42 MB/s in published tests, outer tracks"),
    ),
    "usb3-disk": Drive(
        says="2.5-inch disk on USB 3",
        latency=estimate(18e-3, "s", "as on USB 2", sd=5.3e-3),
        transfer=estimate(50e6, "B/s", "inner tracks"),
    ),
    "usb2-stick": Drive(
        says="flash stick on USB 2",
        latency=estimate(1e-3, "s", "a published test"),
        transfer=estimate(20e6, "B/s", "a published test"),
    ),
}


def _laptop(
    name: str, *, cores: int, speed: float, memory_gb: float, drive: Drive, speed_source: str
) -> Profile:
    return Profile(
        name=name,
        cores=estimate(cores, "1", "what the class is called"),
        speed=estimate(speed, "1", speed_source),
        memory_available=estimate(
            memory_gb * _GB - _SYSTEM_BYTES, "B", f"{memory_gb:g} GB less the system's"
        ),
        latency=drive.latency,
        transfer=drive.transfer,
        machine_class=name,
    )


_OLD = "a 2012 dual-core part scores 0.58 of a 2015 quad-core part, single thread (published comparison)"

CLASSES = {
    profile.name: profile
    for profile in (
        _laptop(
            "laptop-dual-disk", cores=2, speed=0.45, memory_gb=4, drive=_SPINNING, speed_source=_OLD
        ),
        _laptop(
            "laptop-dual-sata-ssd", cores=2, speed=0.45, memory_gb=8, speed_source=_OLD,
            drive=Drive(
                says="SATA SSD",
                latency=estimate(0.15e-3, "s", "6588 reads/s of 4 kB at queue 1 in a published benchmark"),
                transfer=estimate(400e6, "B/s", "550 MB/s is the rated one"),
            ),
        ),
        _laptop(
            "laptop-quad-sata-ssd", cores=4, speed=0.7, memory_gb=8, speed_source="",
            drive=Drive(
                says="SATA SSD",
                latency=estimate(0.10e-3, "s"),
                transfer=estimate(400e6, "B/s", "550 MB/s is the rated one"),
            ),
        ),
        _laptop(
            "laptop-quad-pcie-ssd", cores=4, speed=0.8, memory_gb=16, speed_source="",
            drive=Drive(
                says="PCIe SSD",
                latency=_sheet(67e-6, "s", "15000 reads/s of 4 kB at queue 1, launch table of a 2018 drive"),
                transfer=estimate(1.2e9, "B/s", "3400 MB/s is the rated one"),
            ),
        ),
        _laptop(
            "laptop-8core-nvme", cores=8, speed=1.3, memory_gb=16, speed_source="",
            drive=Drive(
                says="NVMe SSD",
                latency=estimate(50e-6, "s", "80 MB/s at 4 kB in a published benchmark"),
                transfer=estimate(2.5e9, "B/s"),
            ),
        ),
    )
}  # fmt: skip


def class_names() -> frozenset[str]:
    """Every name of a built-in machine, those with a drive plugged in among them."""
    return frozenset(CLASSES) | {f"{name}+{drive}" for name in CLASSES for drive in DRIVES}


def class_profile(name: str) -> Profile | None:
    """The built-in machine of that name; None where there is none."""
    base, _, plugged = name.strip().lower().partition("+")
    profile = CLASSES.get(base)
    if profile is None or not plugged:
        return profile
    drive = DRIVES.get(plugged)
    if drive is None:
        return None
    whole = f"{base}+{plugged}"
    return replace(profile, name=whole, machine_class=whole, latency=drive.latency, transfer=drive.transfer)
