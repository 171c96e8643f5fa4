"""Names of files and folders in messages: names are hostile, messages are one line."""

from __future__ import annotations


def shown(name: str) -> str:
    """The name with control characters and bytes that are no text written as escapes."""
    return "".join(sign if sign.isprintable() else _escaped(sign) for sign in name)


def _escaped(sign: str) -> str:
    if "\udc80" <= sign <= "\udcff":  # a byte that was no UTF-8 (PEP 383)
        return f"\\x{ord(sign) - 0xDC00:02x}"
    return sign.encode("unicode_escape").decode()
