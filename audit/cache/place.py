"""Where results are kept: the platform's folder for what a program may lose at any time."""

from __future__ import annotations

import os
from pathlib import Path

SETTING = "STEMAUDIT_CACHE_DIR"
"""Environment variable that names another folder."""


def cache_folder() -> Path:
    """The folder; it need not be there yet."""
    named = os.environ.get(SETTING, "").strip()
    if named:
        return Path(named).expanduser()
    from platformdirs import user_cache_path

    return user_cache_path("stemaudit", appauthor=False)
