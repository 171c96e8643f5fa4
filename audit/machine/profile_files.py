"""Which files are machines' profiles: the one that somebody names, and those that lie beside it."""

from __future__ import annotations

from pathlib import Path

from audit.errors import SettingsError
from audit.machine.profile import read_profile

SUFFIX = ".toml"
MOST_LOOKED_INTO = 40
"""A profile is looked for among so many files of a folder."""


def profile_file(named: str) -> Path | None:
    """The profile's file that somebody names, the ending said or not; None where there is none."""
    for path in (Path(named), Path(f"{named}{SUFFIX}")) if named.strip() else ():
        try:
            if path.is_file():
                return path
        except (OSError, ValueError):  # too long for a name, or a zero byte
            continue
    return None


def profiles_beside(named: str) -> list[str]:
    """The profiles in the folder in which one was looked for, by name, as they have to be typed."""
    try:
        folder = Path(named).parent
        files = sorted(path for path in folder.glob(f"*{SUFFIX}") if path.is_file())[:MOST_LOOKED_INTO]
    except (OSError, ValueError):
        return []
    return [str(path) for path in files if _is_profile(path)]


def _is_profile(path: Path) -> bool:
    try:
        read_profile(path)
    except (SettingsError, OSError):
        return False
    return True
