"""Names with blanks that a shell has taken apart: the path that was meant is said, in quotes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import typer
from typer.core import TyperCommand

from audit.errors import UsageError

MOST_WORDS = 40
"""Words that are laid together in every way; no name of a song has more."""


class PathCommand(TyperCommand):
    """A command that takes paths."""

    def parse_args(self, ctx: typer.Context, args: list[str]) -> list[str]:  # type: ignore[override]
        typed = tuple(args)
        try:
            return super().parse_args(ctx, args)
        except Exception as error:  # its class has moved house more than once
            if "extra argument" not in str(error):
                raise
            raise UsageError(_advice(ctx.command_path, typed)) from None


def check_taken_apart(*words: str) -> None:
    """Raises UsageError where these are one path that a blank has made several of."""
    if not any(Path(word).exists() for word in words) and Path(" ".join(words)).exists():
        raise UsageError(_there_is(" ".join(words)))


def _advice(command: str, typed: Sequence[str]) -> str:
    from audit.report.hear_line import quoted

    words, meant, first = [command], [], 0
    while first < len(typed):
        length, opening = _path_at(typed[first : first + MOST_WORDS])
        name = " ".join(typed[first : first + length]).removeprefix(opening)
        words.append(f"{opening}{quoted(name)}")
        meant += [name] if length > 1 else []
        first += length
    if not meant:
        hint = f"`{command} --help` tells what it takes"
        return f"more words than this command takes: a name with a blank in it stands in quotes; {hint}"
    return f"{_there_is(meant[0])}: {' '.join(words)}"


def _there_is(path: str) -> str:
    from audit.folder.shown import shown

    kind = "folder" if Path(path).is_dir() else "file"
    return f'there is a {kind} "{shown(path)}": a name with a blank in it stands in quotes'


def _path_at(words: Sequence[str]) -> tuple[int, str]:
    """How many of the first words name something that exists, 1 for no more than itself; and the `--option=`
    that stands before it."""
    name, sign, _ = words[0].partition("=")
    opening = f"{name}=" if sign and name.startswith("--") else ""
    for length in range(len(words), 1, -1):
        try:
            if Path(" ".join(words[:length]).removeprefix(opening)).exists():
                return length, opening
        except (OSError, ValueError):  # too long for a name, or a zero byte
            continue
    return 1, opening
