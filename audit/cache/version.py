"""What results are worth: they hold for the code and the libraries that made them, and for no others."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import xxhash

import audit

AUDIT = Path(audit.__file__).parent

MAKERS = (
    "cache", "decode", "measure", "pipeline", "results", "evidence.py", "facts.py", "timecode.py", "units.py",
    "rules/versions.py", "settings/called.py", "settings/model.py", "settings/naming.py", "settings/order.py",
    "settings/patch.py", "settings/patterns.py", "settings/set_columns.py", "settings/set_words.py",
    "settings/side_by_side.py",
)  # fmt: skip
"""What has a part in what is kept, files and folders of the package. A test follows the workers' imports and
fails where one is missing. What the folder walk says is part of every key, and needs no place here."""

LIBRARIES = ("numpy", "soundfile", "scipy", "numba", "msgspec", "xxhash")
"""Another release may round otherwise."""


@lru_cache(maxsize=1)
def measure_version() -> str:
    """32 hexadecimal digits that change with every line of code that results depend on."""
    digest = xxhash.xxh3_128(f"{audit.__version__} {sys.version_info[:3]} {sys.byteorder}".encode())
    for name, release in _releases():
        digest.update(f"{name} {release}\n".encode())
    for path in sorted(_sources()):
        digest.update(path.relative_to(AUDIT).as_posix().encode() + b"\0")
        digest.update(path.read_bytes())
    return str(digest.hexdigest())


def _sources() -> Iterator[Path]:
    for name in MAKERS:
        place = AUDIT / name
        if place.is_dir():
            yield from place.rglob("*.py")
        elif place.exists():  # an installation without sources has nothing but its version to go by
            yield place


def _releases() -> Iterator[tuple[str, str]]:
    from importlib.metadata import PackageNotFoundError, version

    for name in LIBRARIES:
        try:
            yield name, version(name)
        except PackageNotFoundError:
            yield name, "none"
