"""Dataclasses to bytes and back: MessagePack through msgspec, which runs no code that it reads."""

from __future__ import annotations

import typing
from array import array
from collections.abc import Hashable
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

import msgspec
import xxhash

Kept = TypeVar("Kept")


class UnpackError(ValueError):
    """Bytes that are not what was packed."""


def pack(value: object) -> bytes:
    """The value, a dataclass of plain things, as bytes; the same value gives the same bytes."""
    return _encoder().encode(value)


def unpack(data: bytes, kind: type[Kept]) -> Kept:
    """Raises UnpackError where the bytes hold no such value."""
    try:
        return typing.cast(Kept, _decoder(typing.cast(Hashable, kind)).decode(data))
    except (msgspec.MsgspecError, ValueError, UnicodeError) as error:
        raise UnpackError(str(error)) from None


def digest_of(*values: object) -> str:
    """A name for these values together, 32 hexadecimal digits."""
    return str(xxhash.xxh3_128_hexdigest(pack(values)))


@lru_cache(maxsize=1)
def _encoder() -> msgspec.msgpack.Encoder:
    return msgspec.msgpack.Encoder(enc_hook=_written)


@lru_cache(maxsize=16)
def _decoder(kind: Hashable) -> msgspec.msgpack.Decoder[Any]:
    return msgspec.msgpack.Decoder(typing.cast("type[Any]", kind), dec_hook=_read)


def _written(value: Any) -> Any:
    if isinstance(value, array):
        return value.typecode.encode("ascii") + value.tobytes()
    if isinstance(value, Path):
        return str(value).encode("utf-8", "surrogateescape")
    if isinstance(value, Fraction):
        return str(value)
    raise NotImplementedError(f"{type(value).__name__} cannot be kept")


def _read(kind: Any, value: Any) -> Any:
    if kind is array:
        return array(chr(value[0]), value[1:])
    if kind is Path:
        return Path(value.decode("utf-8", "surrogateescape"))
    if kind is Fraction:
        return Fraction(value)
    raise NotImplementedError(f"{kind} cannot be read back")
