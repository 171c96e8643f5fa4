"""show.seal: JSON, packed by gzip.

JSON, because a seal outlives the program that wrote it and anybody should be able to read it
(`gunzip -c < show.seal`); gzip, because every system and every language has it, and its check sum tells a
damaged seal. The hashes in it are xxh3_128: as fast as any disk on any laptop, where BLAKE2b would make an
old one wait for its processor. They tell what chance does to files, to one in 2^128; they are no proof
against a forger, and a seal is no signature.
"""

from __future__ import annotations

import gzip
import zlib
from pathlib import Path

import msgspec

from audit.errors import UsageError
from audit.seal.model import SCHEMA, Seal
from audit.seal.names import shown

NAME = "show.seal"
MOST_BYTES = 1 << 30
"""Unpacked. A seal of 10,000 stereo stems of five minutes has 450 MB; what claims more is none."""


def to_bytes(seal: Seal) -> bytes:
    """The same seal gives the same bytes."""
    return gzip.compress(msgspec.json.encode(seal) + b"\n", compresslevel=6, mtime=0)


def read_seal(path: Path) -> Seal:
    """Raises UsageError where there is none, where it is damaged, or of a later version."""
    given = shown(str(path))
    try:
        with gzip.open(path, "rb") as file:
            data = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise UsageError(
            f"{given}: there is no seal; fetch the one that was made of the good copy, or make one of "
            "that copy with `stemaudit seal`"
        ) from None
    except (gzip.BadGzipFile, EOFError, zlib.error):
        raise UsageError(
            f"{given}: is damaged, or no seal; take it from another copy, or seal anew"
        ) from None
    except OSError as error:
        raise UsageError(f"{given}: cannot be read ({(error.strerror or str(error)).lower()})") from None
    if len(data) > MOST_BYTES:
        raise UsageError(f"{given}: is far too large for a seal")
    try:
        schema = msgspec.json.decode(data, type=_OnlySchema).schema
        if schema > SCHEMA:
            raise UsageError(f"{given}: was made by a later stemaudit; update this one to read it")
        return msgspec.json.decode(data, type=Seal)
    except msgspec.MsgspecError:
        raise UsageError(f"{given}: is no seal; make one with `stemaudit seal`") from None


def is_seal(path: Path) -> bool:
    """Whether the file is one, by its first bytes."""
    try:
        with gzip.open(path, "rb") as file:
            return file.read(64).lstrip().startswith(b'{"schema":')
    except (OSError, EOFError, zlib.error):
        return False


class _OnlySchema(msgspec.Struct):
    schema: int
