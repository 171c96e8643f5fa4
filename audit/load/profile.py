"""A machine in numbers, each with its provenance; and those numbers lifted or lowered to their bounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from audit.load.costs import CODECS, MIX, MIX_NS, RESAMPLE, RESAMPLE_NS
from audit.load.demand import EngineSetup
from audit.load.figure import Figure, Provenance, estimate

SPINNING_S = 0.004
"""A disk that takes longer than this to find a place turns: half a turn at 7200 rpm is 4.2 ms. What the
system says of turning disks is wrong in virtual machines (own measurement), so it is not asked."""


_THROTTLE = estimate(0.85, "1", "laptops slow down when warm: common practice")
_BASE = estimate(50e-6, "s", "a compiled player")
_PER_VOICE = estimate(1e-6, "s", "a compiled player")
_LATENESS = estimate(300e-6, "s", "wake-up of an audio thread")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How far each resource may be used. cpu: in every measured mix of formats half the load was clean, and
    0.60 is common wisdom; disk: 11 of 12 measured runs were clean at 0.70; the others: own estimates."""

    cpu: float = 0.50
    disk: float = 0.70
    memory: float = 0.75  # of what is available
    open_s: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Observed:
    """What the user's own load meter said while a song played, in % of one core."""

    song: str
    cpu_pct: float
    model_pct: float  # what the forecast said before any such reading
    meter: str = "peak"
    frames: int | None = None  # of the buffer that played, and its rate; None: a file that did not keep them
    rate_hz: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """One machine. cost: ns a sample by codec, "resample", "mix"; absent ones are the table's over speed."""

    name: str
    cores: Figure
    speed: Figure  # of one core, beside the cost table's
    memory_available: Figure
    latency: Figure  # L: positioning and command of one read; its sd is the spread of reads
    transfer: Figure  # B: bytes per second at a refill's size
    throttle: Figure = _THROTTLE
    callback_base: Figure = _BASE
    callback_per_voice: Figure = _PER_VOICE
    lateness: Figure = _LATENESS
    cost: Mapping[str, Figure] = field(default_factory=dict)
    rehearsal_cost: Mapping[str, Figure] = field(default_factory=dict)  # of this program's own mixer
    engine: Mapping[str, float] = field(default_factory=dict)  # EngineSetup's fields that the profile sets
    limits: Limits = Limits()
    outputs: int | None = None
    machine_class: str | None = None  # what stands in for missing numbers
    host: Mapping[str, str] = field(default_factory=dict)  # os, power, date, tool
    warm_suspect: bool = False  # the disk was measured, but perhaps out of the system's memory
    observed: tuple[Observed, ...] = ()

    def figures(self) -> dict[str, Figure]:
        """Every number by the name that reports use."""
        named = {
            "cpu.cores": self.cores, "cpu.speed": self.speed, "cpu.throttle": self.throttle,
            "cpu.a0": self.callback_base, "cpu.a1": self.callback_per_voice, "cpu.lateness": self.lateness,
            "disk.L": self.latency, "disk.B": self.transfer, "memory.available": self.memory_available,
        }  # fmt: skip
        return {**named, **{f"cpu.cost.{name}": figure for name, figure in self.cost.items()}}

    def setup(self, **chosen: float | None) -> EngineSetup:
        """The player: what is chosen, else what the profile says, else the usual."""
        words = {**self.engine, **{name: value for name, value in chosen.items() if value is not None}}
        whole = {"frames", "rate_hz", "refill_threads"}
        return EngineSetup(
            **{name: int(value) if name in whole else float(value) for name, value in words.items()}  # type: ignore[arg-type]
        )


GOOD_WHEN_HIGH = frozenset({"cpu.speed", "cpu.throttle", "disk.B", "memory.available"})
"""Numbers of which more is better: at the costly bound they are divided."""

CERTAIN = frozenset({"cpu.cores"})
"""Counted, or part of what a class is called."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """A profile's plain numbers at one bound."""

    cores: int
    speed: float
    memory_available: float
    latency_s: float
    latency_sd_s: float
    bytes_per_s: float
    throttle: float
    base_s: float
    per_voice_s: float
    lateness_s: float
    cost_ns: Mapping[str, float]
    lookups: int

    def sample_s(self, name: str) -> float:
        """Seconds a sample on this machine: of a codec, or of "resample" or "mix"."""
        own = self.cost_ns.get(name)
        if own is not None:
            return own * 1e-9
        table = {RESAMPLE: RESAMPLE_NS, MIX: MIX_NS}.get(name)
        return (CODECS[name].decode_ns if table is None else table) * 1e-9 / self.speed


def numbers_of(profile: Profile, signs: Mapping[str, int] | int = 0) -> Numbers:
    """The profile's numbers. signs: 1 makes a number costlier by its factor, −1 cheaper; one for all, or by
    name (0 where absent)."""

    def at(name: str, figure: Figure) -> float:
        sign = signs if isinstance(signs, int) else signs.get(name, 0)
        if name in CERTAIN:
            return figure.value
        value = figure.times(-sign if name in GOOD_WHEN_HIGH else sign)
        return min(1.0, value) if name == "cpu.throttle" else value

    plain = {name: at(name, figure) for name, figure in profile.figures().items()}
    return Numbers(
        cores=max(1, round(plain["cpu.cores"])), speed=plain["cpu.speed"],
        memory_available=plain["memory.available"], latency_s=plain["disk.L"],
        latency_sd_s=profile.latency.sd or 0.0, bytes_per_s=plain["disk.B"], throttle=plain["cpu.throttle"],
        base_s=plain["cpu.a0"], per_voice_s=plain["cpu.a1"], lateness_s=plain["cpu.lateness"],
        cost_ns={name: plain[f"cpu.cost.{name}"] for name in profile.cost},
        lookups=3 if profile.latency.value > SPINNING_S else 1,
    )  # fmt: skip


def least_sure(profile: Profile, names: tuple[str, ...]) -> Provenance:
    """The weakest provenance among these numbers."""
    figures = profile.figures()
    return max((figures[name].provenance for name in names if name in figures), key=lambda p: p.factor)
