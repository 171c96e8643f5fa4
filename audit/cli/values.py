"""Values of options as a person types them, and what is said where one is wrong."""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING

from audit.cli.choose import nearest
from audit.errors import UsageError

if TYPE_CHECKING:
    from audit.findings import Severity


class FailOn(str, Enum):
    """The least severity that makes the exit code 1."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"
    NEVER = "never"

    @property
    def threshold(self) -> Severity | None:
        from audit.findings import Severity

        return None if self is FailOn.NEVER else Severity(self.value)


FAIL_ON_VALUES = tuple(choice.value for choice in FailOn)


def complete_fail_on(incomplete: str) -> Iterator[str]:
    """The severities that begin like this."""
    return (value for value in FAIL_ON_VALUES if value.startswith(incomplete))


def read_fail_on(typed: str) -> FailOn:
    """Raises UsageError that offers the nearest severity."""
    word = typed.strip().lower()
    if word in FAIL_ON_VALUES:
        return FailOn(word)
    near = nearest(word, FAIL_ON_VALUES)
    guess = f"did you mean {near[0]}? " if near else ""
    known = f"{', '.join(FAIL_ON_VALUES[:-1])} or {FAIL_ON_VALUES[-1]}"
    raise UsageError(f"--fail-on {_quoted(typed)}: no such severity; {guess}it takes {known}")


def read_jobs(typed: str | None) -> int | None:
    """None where nothing was typed: one a core. Raises UsageError."""
    if typed is None:
        return None
    cure = "give a whole number from 1 on, or leave --jobs out for one process a core"
    try:
        jobs = int(typed)
    except ValueError:
        raise UsageError(f"--jobs {_quoted(typed)}: not a number of processes; {cure}") from None
    if jobs < 1:
        raise UsageError(f"--jobs {typed.strip()}: nobody would listen; {cure}")
    return jobs


def read_songs(typed: list[str]) -> tuple[str, ...]:
    """Raises UsageError for a name of nothing: an unset variable must not choose songs."""
    if not all(name.strip() for name in typed):
        raise UsageError("--song: no song is named: give a song's name, or leave --song out")
    return tuple(typed)


def read_folder(typed: str, if_empty: str) -> Path:
    """Raises UsageError for a name of nothing: an unset variable must not mean the current folder."""
    if not typed.strip():
        raise UsageError(if_empty)
    return Path(typed)


def _quoted(typed: str) -> str:
    return typed if typed.strip() else f'"{typed}"'
