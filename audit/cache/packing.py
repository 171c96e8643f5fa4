"""Dataclasses to bytes and back: MessagePack through msgspec, which runs no code that it reads.

A file name may hold bytes that are no UTF-8; Python keeps each as a lone surrogate (PEP 383), which
MessagePack takes into no text. What holds one is packed with escapes in its texts, behind a byte that tells.
"""

from __future__ import annotations

import re
import typing
from array import array
from collections.abc import Callable, Hashable, Mapping
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

import msgspec
import xxhash

Kept = TypeVar("Kept")

ESCAPED = b"\xc1"
"""Before what has escapes in its texts: a byte that MessagePack itself never uses (its specification)."""

_TO_ESCAPE = re.compile("[\0\ud800-\udfff]")
_ESCAPE = re.compile("\0([0-9a-f]{4})")
"""A zero stands in no file name; in other texts it is escaped too, so that reading back is exact."""


class UnpackError(ValueError):
    """Bytes that are not what was packed."""


def pack(value: object) -> bytes:
    """The value, a dataclass of plain things, as bytes; the same value gives the same bytes."""
    try:
        return _encoder().encode(value)
    except UnicodeEncodeError:
        plain = msgspec.to_builtins(value, enc_hook=_written, builtin_types=(bytes,))
        return ESCAPED + _encoder().encode(_of_texts(plain, _with_escapes))


def unpack(data: bytes, kind: type[Kept]) -> Kept:
    """Raises UnpackError where the bytes hold no such value."""
    try:
        if data.startswith(ESCAPED):
            plain = _of_texts(msgspec.msgpack.decode(data[len(ESCAPED) :]), _without_escapes)
            return msgspec.convert(plain, kind, dec_hook=_read, builtin_types=(bytes,))
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


def _of_texts(value: Any, change: Callable[[str], str]) -> Any:
    """The same lists and mappings, with every text in them changed."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, Mapping):
        return {_of_texts(key, change): _of_texts(item, change) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_of_texts(item, change) for item in value]
    return value


def _with_escapes(text: str) -> str:
    return _TO_ESCAPE.sub(lambda found: f"\0{ord(found[0]):04x}", text)


def _without_escapes(text: str) -> str:
    return _ESCAPE.sub(lambda found: chr(int(found[1], 16)), text)
