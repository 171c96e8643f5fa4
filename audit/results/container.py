"""What can be wrong with a container, and why something could not be read."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class FaultKind(str, Enum):
    """What can be wrong with a container before one sample is listened to."""

    UNREADABLE = "unreadable"
    EMPTY = "empty"
    TRUNCATED = "truncated"
    UNFINISHED = "unfinished"
    DAMAGED = "damaged"
    WRONG_EXTENSION = "wrong-extension"
    NOT_ON_DISK = "not-on-disk"


class Cause(str, Enum):
    """Why something could not be read, which decides whether it is a finding, and what the cure is."""

    FILE = "file"  # what stands in the file
    FORMAT = "format"  # a sound file, as far as can be told, of a kind that is not decoded here
    PERMISSION = "permission"  # this user may not read it
    OURS = (
        "ours"  # nothing is known of the file: the decoder crashed or hung, the system ran out of something
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerFault:
    """One thing wrong with the file as a file."""

    kind: FaultKind
    detail: str  # one plain sentence part, no full stop: "the header gives no length, 0:35.929 is there"
    value: float | None = None  # in `unit`, where a number says how bad
    unit: str | None = None
    at_frame: int | None = None
    cause: Cause = Cause.FILE  # of UNREADABLE
