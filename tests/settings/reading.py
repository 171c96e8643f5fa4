"""show.toml files for the tests: written, read, and what was said of their mistakes."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.errors import EXIT_USAGE, SettingsError
from audit.settings.model import ShowSettings
from audit.settings.read import Known, read_settings

KNOWN = Known(
    limits={
        "true-peak-over": frozenset(),
        "missing-role": frozenset({"songs"}),
        "cut-tail": frozenset({"floor_db", "sounding_dbfs"}),
        "stray-file": None,
        "length-mismatch": frozenset(),
    },
    machine_classes=frozenset({"laptop-quad-sata-ssd", "laptop-dual-hdd"}),
)


def read(folder: Path, text: str) -> ShowSettings:
    path = folder / "show.toml"
    path.write_bytes(text.encode("utf-8"))
    return read_settings(path, KNOWN)


def mistakes(folder: Path, text: str) -> list[str]:
    """The lines that are said of it; at least one."""
    with pytest.raises(SettingsError) as caught:
        read(folder, text)
    assert caught.value.exit_code == EXIT_USAGE
    return str(caught.value).splitlines()
