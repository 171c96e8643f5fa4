"""TOML as Python reads it: `tomllib`, or on 3.10 the package it was made from."""

from __future__ import annotations

import sys
from typing import Any

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

BrokenToml = tomllib.TOMLDecodeError


def parse(text: str) -> dict[str, Any]:
    """The document as dicts, lists and values. Raises BrokenToml."""
    return tomllib.loads(text)
