"""The `stemaudit` command: arguments in, exit code out."""

from __future__ import annotations


def main() -> None:
    """Entry point of the command."""
