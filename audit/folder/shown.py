"""Names of files and folders in messages: names are hostile, messages are one line."""

from __future__ import annotations


def shown(name: str) -> str:
    """The name with control characters and bytes that are no text written as escapes."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in name)
