"""What a worker has to say to the memory: the files' contents, and results under their keys."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from audit.cache.store import Content


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """Of one song."""

    song: str
    contents: tuple[Content, ...] = ()  # of files that were hashed now
    stems: Mapping[str, bytes] = field(default_factory=dict)  # new records, packed
    key: str | None = None  # the song's; None: this result may not be kept
    record: bytes | None = None  # the song's, packed, where it is new
    by_size_and_time: int = (
        0  # stems that were not heard again, and whose files were not even opened for that
    )
    # Of each stem that was not heard again as its bytes are the same: the key of the record that it was taken
    # from, its own or the whole song's.
    by_content: tuple[str, ...] = ()
