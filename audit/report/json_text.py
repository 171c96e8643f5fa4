"""A document as JSON: UTF-8 whatever the names in it, and no number that JSON lacks."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

from audit.report.words import valid


def json_text(document: Mapping[str, Any]) -> str:
    r"""The whole file, with a line end at its end. A byte of a name that is no UTF-8 reads as `\xNN`."""
    return json.dumps(_plain(document), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _plain(value: Any) -> Any:
    """The value in what JSON has: lists, valid text, and null for a number that is not finite."""
    if isinstance(value, str):
        return valid(value)
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {valid(str(key)): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return value
