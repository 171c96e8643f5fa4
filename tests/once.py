"""Something costly made once a test run, however many processes the run has."""

from __future__ import annotations

import pickle
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

Made = TypeVar("Made")

PATIENCE_S = 300.0


def made_once(base: Path, name: str, make: Callable[[], Made]) -> Made:
    """What `make` returns; the process that comes first makes it, the others get a copy of its result.

    base: a folder that all processes of the run see. Where making fails, it fails in all of them.
    """
    record = base / f"{name}.made"
    try:
        (base / f"{name}.lock").open("x").close()
    except FileExistsError:
        return _awaited(record)
    try:
        made = make()
        result: tuple[bool, object] = (True, made)
    except BaseException as error:
        _put(record, (False, f"{type(error).__name__}: {error}"))
        raise
    _put(record, result)
    return made


def _put(record: Path, result: tuple[bool, object]) -> None:
    unfinished = record.with_suffix(".part")
    unfinished.write_bytes(pickle.dumps(result))
    unfinished.replace(record)


def _awaited(record: Path) -> Any:
    deadline = time.monotonic() + PATIENCE_S
    while not record.exists():
        if time.monotonic() > deadline:
            raise TimeoutError(f"{record.name}: the process that makes it did not finish")
        time.sleep(0.05)
    well, made = pickle.loads(record.read_bytes())
    if not well:
        raise RuntimeError(f"{record.stem} could not be made by the process that tried: {made}")
    return made
