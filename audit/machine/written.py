"""A machine's profile written as TOML, whole or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from pathlib import Path

from audit.load.figure import Figure
from audit.load.profile import Observed, Profile
from audit.machine.classes import class_names
from audit.machine.profile import ENGINE_KEYS, FIGURES, SCHEMA
from audit.results.load import PastRehearsal
from audit.writing import write_whole


def write_profile(path: Path, profile: Profile, rehearsed: tuple[PastRehearsal, ...] = ()) -> None:
    """The profile as a file. Raises OSError."""
    write_whole(path, profile_text(profile, rehearsed).encode("utf-8"))


def profile_text(profile: Profile, rehearsed: tuple[PastRehearsal, ...] = ()) -> str:
    """The profile in TOML: what `read_profile` reads back as the same."""
    lines = [
        *_top(profile),
        "", "[cpu]", *_figures(profile, "cpu"),
        *_costs("cpu.cost", profile.cost),
        *_costs("cpu.rehearsal", profile.rehearsal_cost),
        "", "[disk.main]", *_figures(profile, "disk"),
        *(["warm_suspect = true"] if profile.warm_suspect else []),
        "", "[memory]", *_figures(profile, "memory"),
    ]  # fmt: skip
    for seen in profile.observed:
        lines += _reading(seen)
    for past in rehearsed:
        lines += _rehearsal(past)
    return "\n".join(lines) + "\n"


def _top(profile: Profile) -> Iterator[str]:
    """What stands above the tables."""
    yield f"schema = {SCHEMA}"
    yield f"name = {_quoted(profile.name)}"
    if profile.machine_class in class_names():
        yield f"class = {_quoted(str(profile.machine_class))}"
    if profile.outputs is not None:
        yield f"outputs = {profile.outputs}"
    if profile.host:
        yield f"host = {_table({key: _quoted(value) for key, value in profile.host.items()})}"
    if profile.engine:
        names = {field: key for key, field in ENGINE_KEYS.items()}
        told = {names[field]: f"{value:g}" for field, value in profile.engine.items()}
        yield f"engine = {_table(told)}"
    yield f"limits = {_table({key: repr(value) for key, value in asdict(profile.limits).items()})}"


def _figures(profile: Profile, table: str) -> Iterator[str]:
    for (at, key), (field, _) in FIGURES.items():
        if at == table:
            yield f"{key} = {_inline(getattr(profile, field))}"


def _costs(table: str, costs: Mapping[str, Figure]) -> Iterator[str]:
    """A table of them, or nothing: an empty one would say nothing either."""
    if costs:
        yield from ("", f"[{table}]")
        yield from (f"{name} = {_inline(figure)}" for name, figure in costs.items())


def _reading(seen: Observed) -> Iterator[str]:
    told = {
        "cpu_pct": repr(seen.cpu_pct),
        "model_pct": repr(seen.model_pct),
        "meter": _quoted(seen.meter),
    }
    if seen.frames and seen.rate_hz:
        told |= {"frames": str(seen.frames), "rate": str(seen.rate_hz)}
    yield from ("", "[[observed]]", f"song = {_quoted(seen.song)}", f"reading = {_table(told)}")


def _rehearsal(past: PastRehearsal) -> Iterator[str]:
    yield from ("", "[[rehearsed]]", f"song = {_quoted(past.song)}", f"clean = {_word(past.clean)}")
    yield f"date = {_quoted(past.day)}"
    yield f"frames = {past.frames}"
    if past.on_mains is not None:
        yield f"on_mains = {_word(past.on_mains)}"
    if past.headroom is not None:
        yield f"headroom = {past.headroom!r}"


def _table(values: Mapping[str, str]) -> str:
    """In one line. values: as they are written."""
    return f"{{ {', '.join(f'{key} = {value}' for key, value in values.items())} }}"


def _word(value: bool) -> str:
    return "true" if value else "false"


def _inline(figure: Figure) -> str:
    told = {"v": repr(figure.value), "unit": _quoted(figure.unit), "prov": _quoted(figure.provenance.value)}
    if figure.sd is not None:
        told["sd"] = repr(figure.sd)
    if figure.source:
        told["by"] = _quoted(figure.source)
    return _table(told)


_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}


def _quoted(text: str) -> str:
    """A TOML string: control characters and lone surrogates written as escapes or replaced."""
    shown = "".join(
        _ESCAPES.get(sign) or (f"\\u{ord(sign):04x}" if ord(sign) < 32 or ord(sign) == 127 else sign)
        for sign in text.encode("utf-8", "replace").decode("utf-8")
    )
    return f'"{shown}"'
