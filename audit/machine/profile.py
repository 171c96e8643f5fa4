"""A machine's profile as a TOML file, read with every mistake named. `written.py` writes one."""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from audit.errors import SettingsError
from audit.load.costs import CODECS, MIX, RESAMPLE
from audit.load.figure import Figure, Provenance
from audit.load.forecast import OLD_DAYS
from audit.load.profile import Limits, Observed, Profile
from audit.machine.busy import KEY
from audit.machine.classes import CLASSES, class_profile
from audit.results.load import PastRehearsal
from audit.units import count

SCHEMA = 1
MOST_BYTES = 1_000_000
"""A profile is a page of text; anything larger is another file."""

FIGURES = {
    ("cpu", "cores"): ("cores", "1"),
    ("cpu", "speed"): ("speed", "1"),
    ("cpu", "throttle"): ("throttle", "1"),
    ("cpu", "a0"): ("callback_base", "s"),
    ("cpu", "a1"): ("callback_per_voice", "s"),
    ("cpu", "lateness"): ("lateness", "s"),
    ("disk", "L"): ("latency", "s"),
    ("disk", "B"): ("transfer", "B/s"),
    ("memory", "available"): ("memory_available", "B"),
}
"""Table and key of the file -> field of Profile, unit."""

MAY_BE_ZERO = frozenset({"a0", "a1", "lateness"})
COSTS = (*CODECS, RESAMPLE, MIX)
ENGINE_KEYS = {
    "frames": "frames", "rate": "rate_hz", "refill_s": "refill_s", "prebuffer_s": "prebuffer_s",
    "refill_threads": "refill_threads",
}  # fmt: skip
FALLBACK = "laptop-quad-sata-ssd"
"""What stands in for missing numbers where the profile names no class."""


def read_profile(path: Path) -> tuple[Profile, tuple[PastRehearsal, ...]]:
    """The machine in a file, and what was rehearsed on it. Raises SettingsError with all its mistakes."""
    shown = path.name
    try:
        if path.stat().st_size > MOST_BYTES:
            raise SettingsError(f"{shown}: is far too long for a machine's profile: give the file of one")
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        words = f"{shown}: cannot be read: {error.strerror}: `stemaudit probe --out {shown}` writes one"
        raise SettingsError(words) from None
    except UnicodeDecodeError:
        raise SettingsError(f"{shown}: is no text: give a profile that `stemaudit probe` wrote") from None
    return _Reading(shown).profile(_parsed(text, shown))


def _parsed(text: str, shown: str) -> dict[str, Any]:
    if sys.version_info >= (3, 11):
        import tomllib
    else:
        import tomli as tomllib

    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise SettingsError(f"{shown}: is no valid TOML: {error}: mend this first") from None


class _Reading:
    """One file being read; mistakes are gathered and told together."""

    def __init__(self, shown: str) -> None:
        self._shown = shown
        self._mistakes: list[str] = []

    def wrong(self, key: str, words: str) -> None:
        self._mistakes.append(f"{self._shown}: {key}: {words}")

    def profile(self, told: Mapping[str, Any]) -> tuple[Profile, tuple[PastRehearsal, ...]]:
        if told.get("schema") != SCHEMA:
            self.wrong("schema", f"must be {SCHEMA}: this is no profile, or one of another stemaudit")
        kind = told.get("class", FALLBACK)
        base = class_profile(kind) if isinstance(kind, str) else None
        if base is None:
            self.wrong("class", f"there is no such class: give one of {', '.join(sorted(CLASSES))}")
            base = CLASSES[FALLBACK]
        name = told.get("name", self._shown)
        if not isinstance(name, str) or not name.strip():
            self.wrong("name", "must be a name in quotes")
            name = self._shown
        disks = self._table(told, "disk")
        tables = {
            "cpu": self._table(told, "cpu"),
            "disk": self._table(disks, "main", "disk.main") if disks else {},
            "memory": self._table(told, "memory"),
        }
        found: dict[str, Any] = {}
        for (table, key), (field, unit) in FIGURES.items():
            if key in tables[table]:
                figure = self._figure(f"{table}.{key}", tables[table][key], unit, key in MAY_BE_ZERO)
                if figure is not None:
                    found[field] = figure
        if "cores" in found and found["cores"].value < 1:
            self.wrong("cpu.cores", "must be 1 or more")
        costs = self._table(tables["cpu"], "cost", "cpu.cost")
        own_mixer = self._table(tables["cpu"], "rehearsal", "cpu.rehearsal")
        profile = replace(
            base, name=name, machine_class=told.get("class"), **found,
            cost=self._costs(costs, "cpu.cost"), rehearsal_cost=self._costs(own_mixer, "cpu.rehearsal"),
            engine=self._engine(self._table(told, "engine")),
            limits=self._limits(self._table(told, "limits")),
            outputs=self._outputs(told.get("outputs")),
            host={str(k): str(v) for k, v in self._table(told, "host").items()},
            warm_suspect=tables["disk"].get("warm_suspect") is True,
            observed=self._observed(told.get("observed", [])),
        )  # fmt: skip
        rehearsed = self._rehearsed(told.get("rehearsed", []))
        if self._mistakes:
            raise SettingsError("\n".join(self._mistakes))
        return profile, rehearsed

    def _table(self, told: Mapping[str, Any], key: str, named: str = "") -> Mapping[str, Any]:
        value = told.get(key, {})
        if isinstance(value, Mapping):
            return value
        self.wrong(named or key, f"must be a table: write [{named or key}] above its keys")
        return {}

    def _number(self, key: str, value: object, *, zero: bool = False) -> float | None:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            self.wrong(key, "must be a number")
            return None
        if value < 0 or (value == 0 and not zero):
            self.wrong(key, "must be above 0")
            return None
        return float(value)

    def _figure(self, key: str, value: object, unit: str, zero: bool) -> Figure | None:
        if not isinstance(value, Mapping):
            self.wrong(key, 'must be written as { v = 0.7, unit = "1", prov = "measured" }')
            return None
        number = self._number(f"{key}.v", value.get("v"), zero=zero)
        if value.get("unit", unit) != unit:
            self.wrong(f"{key}.unit", f'must be "{unit}"')
        provenances = [each.value for each in Provenance]
        if value.get("prov") not in provenances:
            self.wrong(f"{key}.prov", f"must be one of {', '.join(provenances)}")
            return None
        sd = None if "sd" not in value else self._number(f"{key}.sd", value["sd"], zero=True)
        source = str(value.get("by", value.get("ref", "")))
        if number is None:
            return None
        return Figure(value=number, unit=unit, provenance=Provenance(value["prov"]), sd=sd, source=source)

    def _costs(self, table: Mapping[str, Any], named: str) -> dict[str, Figure]:
        costs = {}
        for name, value in table.items():
            if name not in COSTS:
                self.wrong(f"{named}.{name}", f"there is no such cost: the names are {', '.join(COSTS)}")
                continue
            figure = self._figure(f"{named}.{name}", value, "ns", False)
            if figure is not None:
                costs[name] = figure
        return costs

    def _engine(self, table: Mapping[str, Any]) -> dict[str, float]:
        engine = {}
        for key, value in table.items():
            if key not in ENGINE_KEYS:
                self.wrong(f"engine.{key}", f"there is no such key: there are {', '.join(ENGINE_KEYS)}")
                continue
            number = self._number(f"engine.{key}", value)
            if number is not None:
                engine[ENGINE_KEYS[key]] = number
        return engine

    def _limits(self, table: Mapping[str, Any]) -> Limits:
        known = {"cpu", "disk", "memory", "open_s"}
        numbers = {}
        for key, value in table.items():
            if key not in known:
                self.wrong(f"limits.{key}", f"there is no such key: there are {', '.join(sorted(known))}")
                continue
            number = self._number(f"limits.{key}", value)
            if number is not None:
                numbers[key] = number
        return Limits(**numbers)

    def _outputs(self, value: object) -> int | None:
        if value is None:
            return None
        if isinstance(value, int) and not isinstance(value, bool) and value > 0:
            return value
        self.wrong("outputs", "must be a whole number from 1 on")
        return None

    def _entries(self, value: object, named: str) -> list[Mapping[str, Any]]:
        if isinstance(value, list) and all(isinstance(each, Mapping) for each in value):
            return value
        self.wrong(named, f"must be written as [[{named}]], once for each")
        return []

    def _observed(self, value: object) -> tuple[Observed, ...]:
        found = []
        for entry in self._entries(value, "observed"):
            reading = entry.get("reading")
            reading = reading if isinstance(reading, Mapping) else {}
            read = self._number("observed.reading.cpu_pct", reading.get("cpu_pct"))
            model = self._number("observed.reading.model_pct", reading.get("model_pct"))
            frames, rate_hz = (
                self._number(f"observed.reading.{key}", reading[key]) if key in reading else None
                for key in ("frames", "rate")
            )
            if read is not None and model is not None:
                found.append(
                    Observed(
                        song=str(entry.get("song", "")), cpu_pct=read, model_pct=model,
                        meter=str(reading.get("meter", "peak")),
                        frames=None if frames is None else max(1, round(frames)),
                        rate_hz=None if rate_hz is None else max(1, round(rate_hz)),
                    )
                )  # fmt: skip
        return tuple(found)

    def _rehearsed(self, value: object) -> tuple[PastRehearsal, ...]:
        found = []
        for entry in self._entries(value, "rehearsed"):
            mains, headroom = entry.get("on_mains"), entry.get("headroom")
            frames = entry.get("frames", 0)
            found.append(
                PastRehearsal(
                    song=str(entry.get("song", "")), clean=entry.get("clean") is True,
                    day=str(entry.get("date", "")), on_mains=mains if isinstance(mains, bool) else None,
                    frames=frames if isinstance(frames, int) else 0,
                    headroom=float(headroom) if isinstance(headroom, (int, float)) else None,
                )
            )  # fmt: skip
        return tuple(found)


def staleness(profile: Profile, today: date) -> str | None:
    """Why a profile is not to be trusted, or not any more: what else ran, its age; None where it is."""
    if KEY in profile.host:
        return f"{profile.host[KEY]} while it was probed"
    told = profile.host.get("date")
    if told is not None:
        try:
            age = (today - date.fromisoformat(told)).days
        except ValueError:
            return "the profile's date cannot be read"
        if age > OLD_DAYS:
            return f"the profile is {count(age, 'day')} old"
    return None
