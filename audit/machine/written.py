"""A machine's profile written as TOML, whole or not at all."""

from __future__ import annotations

from pathlib import Path

from audit.load.figure import Figure
from audit.load.profile import Profile
from audit.machine.classes import class_names
from audit.machine.profile import ENGINE_KEYS, FIGURES, SCHEMA
from audit.results.load import PastRehearsal
from audit.writing import write_whole


def write_profile(path: Path, profile: Profile, rehearsed: tuple[PastRehearsal, ...] = ()) -> None:
    """The profile as a file. Raises OSError."""
    write_whole(path, profile_text(profile, rehearsed).encode("utf-8"))


def profile_text(profile: Profile, rehearsed: tuple[PastRehearsal, ...] = ()) -> str:
    """The profile in TOML: what `read_profile` reads back as the same."""
    lines = [f"schema = {SCHEMA}", f"name = {_quoted(profile.name)}"]
    if profile.machine_class in class_names():
        lines.append(f"class = {_quoted(str(profile.machine_class))}")
    if profile.outputs is not None:
        lines.append(f"outputs = {profile.outputs}")
    if profile.host:
        pairs = ", ".join(f"{key} = {_quoted(value)}" for key, value in profile.host.items())
        lines.append(f"host = {{ {pairs} }}")
    if profile.engine:
        names = {field: key for key, field in ENGINE_KEYS.items()}
        pairs = ", ".join(f"{names[field]} = {value:g}" for field, value in profile.engine.items())
        lines.append(f"engine = {{ {pairs} }}")
    limits = profile.limits
    lines.append(
        f"limits = {{ cpu = {limits.cpu!r}, disk = {limits.disk!r}, memory = {limits.memory!r}, "
        f"open_s = {limits.open_s!r} }}"
    )
    headers = {"cpu": "[cpu]", "disk": "[disk.main]", "memory": "[memory]"}
    for table, header in headers.items():
        lines += ["", header]
        for (at, key), (field, _) in FIGURES.items():
            if at == table:
                lines.append(f"{key} = {_inline(getattr(profile, field))}")
        if table == "disk" and profile.warm_suspect:
            lines.append("warm_suspect = true")
        if table == "cpu":
            for named, costs in (("cost", profile.cost), ("rehearsal", profile.rehearsal_cost)):
                if costs:
                    lines += ["", f"[cpu.{named}]"]
                    lines += [f"{name} = {_inline(figure)}" for name, figure in costs.items()]
    for seen in profile.observed:
        buffer = f", frames = {seen.frames}, rate = {seen.rate_hz}" if seen.frames and seen.rate_hz else ""
        lines += [
            "", "[[observed]]", f"song = {_quoted(seen.song)}",
            f"reading = {{ cpu_pct = {seen.cpu_pct!r}, model_pct = {seen.model_pct!r}, "
            f"meter = {_quoted(seen.meter)}{buffer} }}",
        ]  # fmt: skip
    for past in rehearsed:
        lines += ["", "[[rehearsed]]", f"song = {_quoted(past.song)}", f"clean = {_word(past.clean)}"]
        lines.append(f"date = {_quoted(past.day)}")
        lines.append(f"frames = {past.frames}")
        if past.on_mains is not None:
            lines.append(f"on_mains = {_word(past.on_mains)}")
        if past.headroom is not None:
            lines.append(f"headroom = {past.headroom!r}")
    return "\n".join(lines) + "\n"


def _word(value: bool) -> str:
    return "true" if value else "false"


def _inline(figure: Figure) -> str:
    unit, provenance = _quoted(figure.unit), _quoted(figure.provenance.value)
    parts = [f"v = {figure.value!r}", f"unit = {unit}", f"prov = {provenance}"]
    if figure.sd is not None:
        parts.append(f"sd = {figure.sd!r}")
    if figure.source:
        parts.append(f"by = {_quoted(figure.source)}")
    return "{ " + ", ".join(parts) + " }"


_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}


def _quoted(text: str) -> str:
    """A TOML string: control characters and lone surrogates written as escapes or replaced."""
    shown = "".join(
        _ESCAPES.get(sign) or (f"\\u{ord(sign):04x}" if ord(sign) < 32 or ord(sign) == 127 else sign)
        for sign in text.encode("utf-8", "replace").decode("utf-8")
    )
    return f'"{shown}"'
