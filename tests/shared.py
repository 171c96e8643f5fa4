"""Where the test material that is never copied into the project lies, and what to do where it is absent."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

SHARED = Path(__file__).parent.parent.parent / "shared"


def shared_folder(name: str) -> Path:
    """The folder `../shared/<name>`; skips the test where it is absent.

    With STEMAUDIT_NEED_SHARED=1 in the environment its absence is a failure: CI sets it where the folder is
    there, so that a moved folder does not turn checks off in silence.
    """
    folder = SHARED / name
    if folder.is_dir():
        return folder
    reason = f"../shared/{name} is not here: this check needs material that is not part of the project"
    if os.environ.get("STEMAUDIT_NEED_SHARED") == "1":
        pytest.fail(reason)
    pytest.skip(reason)
