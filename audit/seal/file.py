"""show.seal: JSON, packed by gzip.

JSON, because a seal outlives the program that wrote it and anybody should be able to read it
(`gunzip -c < show.seal`); gzip, because every system and every language has it, and its check sum tells a
damaged seal. The hashes in it are xxh3_128: as fast as any disk on any laptop, where BLAKE2b would make an
old one wait for its processor. They tell what chance does to files, to one in 2^128; they are no proof
against a forger, and a seal is no signature.

A file name may hold bytes that are no UTF-8 (Python keeps each as a lone surrogate, PEP 383), and JSON is
UTF-8: such a byte stands in it as `\\xfc`. Paths in a seal have no other backslash, so reading gives it back.
"""

from __future__ import annotations

import gzip
import re
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import msgspec

from audit.errors import UsageError
from audit.seal.model import SCHEMA, Seal
from audit.seal.names import shown

NAME = "show.seal"
MOST_BYTES = 1 << 30
"""Unpacked. A seal of 10,000 stereo stems of five minutes has 450 MB; what claims more is none."""

_BYTE = re.compile("[\udc80-\udcff]")
_ESCAPE = re.compile(r"\\x([89a-f][0-9a-f])")
_ESCAPED_IN_JSON = rb"\\x"


def to_bytes(seal: Seal) -> bytes:
    """The same seal gives the same bytes."""
    try:
        data = msgspec.json.encode(seal)
    except UnicodeEncodeError:
        data = msgspec.json.encode(_named(seal, _with_escapes))
    return gzip.compress(data + b"\n", compresslevel=6, mtime=0)


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
        seal = msgspec.json.decode(data, type=Seal)
        return _named(seal, _without_escapes) if _ESCAPED_IN_JSON in data else seal
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


def _named(seal: Seal, change: Callable[[str], str]) -> Seal:
    """The seal with all its names changed."""
    songs = tuple(
        replace(
            song, name=change(song.name), folder=change(song.folder),
            stems=tuple(
                replace(
                    stem, path=change(stem.path), file=change(stem.file),
                    failure=None if stem.failure is None else change(stem.failure),
                )
                for stem in song.stems
            ),
        )
        for song in seal.songs
    )  # fmt: skip
    return replace(seal, show=change(seal.show), songs=songs)


def _with_escapes(name: str) -> str:
    return _BYTE.sub(lambda found: f"\\x{ord(found[0]) - 0xDC00:02x}", name)


def _without_escapes(name: str) -> str:
    return _ESCAPE.sub(lambda found: chr(0xDC00 + int(found[1], 16)), name)
