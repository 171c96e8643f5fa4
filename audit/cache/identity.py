"""Is this file the one that was heard? Its size, time and number on the disk say so, or its content does."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import xxhash

YOUNG_NS = 3_000_000_000
"""A file that was written less than this before it was looked at may have been written again since, within
one tick of its time stamp: FAT counts in steps of 2 s, and clocks of servers differ."""

COARSE_NS = 2_000_000_000
"""A time that is a whole number of these comes from a system that counts so (FAT), and is no proof."""

HASHED_AT_ONCE = 1 << 22


@dataclass(frozen=True, slots=True, kw_only=True)
class FileIdentity:
    """What the system says of a file without its being opened."""

    path: bytes
    size_bytes: int
    modified_ns: int
    file_id: int  # the file system's own number of it; 0 where it does not tell


def identity_of(path: Path, size_bytes: int, modified_ns: int, file_id: int) -> FileIdentity:
    """As the folder walk found it."""
    return FileIdentity(
        path=os.fsencode(path), size_bytes=size_bytes, modified_ns=modified_ns, file_id=file_id
    )


def look_at(path: Path) -> FileIdentity:
    """As it is now. Raises OSError."""
    found = os.stat(path)
    return identity_of(path, found.st_size, found.st_mtime_ns, found.st_ino)


def vouches(identity: FileIdentity, seen_ns: int) -> bool:
    """Whether size, time and number, unchanged since `seen_ns`, mean that the content is unchanged too."""
    return seen_ns - identity.modified_ns >= YOUNG_NS and identity.modified_ns % COARSE_NS != 0


def hash_file(path: Path, at_work: Callable[[], object] = lambda: None) -> str:
    """The hash of all the file's bytes, 32 hexadecimal digits. Raises OSError.

    xxh3_128 (the xxHash specification): as fast as memory. It tells what chance makes unequal, not what a
    forger makes equal; nobody expects one in a cache.
    """
    from audit.decode.source import Source

    digest = xxhash.xxh3_128()
    with Source(path, at_work) as source:
        at = 0
        while part := source.at(at, HASHED_AT_ONCE):
            digest.update(part)
            at += len(part)
    return str(digest.hexdigest())
