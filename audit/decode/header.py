"""A stem's format and the damage in its container, from the file's own bytes. Never raises for a bad file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from audit.decode.aiff import parse_aiff
from audit.decode.caf import parse_caf
from audit.decode.container import Coded, ForeignFormatError, Header, RefusedError
from audit.decode.extent import empty, unreadable
from audit.decode.flac import parse_flac
from audit.decode.mpeg import is_mpeg, parse_mpeg
from audit.decode.ogg import parse_ogg
from audit.decode.riff import parse_riff
from audit.decode.sndfile import complete_header
from audit.decode.source import AtWork, Source, cause_of, reason_of
from audit.decode.strangers import name_stranger
from audit.decode.wave64 import MAGIC as WAVE64_MAGIC
from audit.decode.wave64 import parse_wave64
from audit.results import Cause, ContainerFault, FaultKind
from audit.units import grouped

__all__ = ["Header", "read_header"]

STAND_IN = ".icloud"
"""A small file of this ending is what macOS keeps of a file that is in the cloud only. Common practice."""

PLACEHOLDER_BYTES = 65536
"""Smaller files are not suspected: file systems keep them in odd places and report no block for them."""

_WAVE_FAMILY = {"WAV", "RF64", "BW64"}
_EXPECTED: dict[str, set[str]] = {
    **dict.fromkeys(("wav", "wave", "bwf", "rf64", "bw64"), _WAVE_FAMILY),
    "w64": _WAVE_FAMILY | {"W64"},
    **{name: {"AIFF", "AIFC"} for name in ("aif", "aiff", "aifc")},
    "caf": {"CAF"},
    "flac": {"FLAC"},
    **{name: {"OGG"} for name in ("ogg", "oga", "opus")},
    **{name: {"MP3"} for name in ("mp3", "mp2", "mpga")},
    **{name: {"AU"} for name in ("au", "snd")},
}
"""Containers that a name's extension may hold; other extensions promise nothing."""


def read_header(
    path: Path,
    *,
    size_bytes: int,
    allocated_bytes: int | None = None,
    elsewhere: bool = False,
    at_work: AtWork = lambda: None,
) -> Header:
    """What the file's header says, checked against the file. Opens it read-only and reads a few kilobytes.

    Only a coded stream that does not tell its length is read to its end, to count its frames; at_work is
    called meanwhile.

    size_bytes, allocated_bytes, elsewhere: as the folder walk found them; allocated_bytes None where the
    system does not tell. A file whose bytes are not on this disk is not opened at all, so that no download
    is triggered: the system says so (elsewhere), or not one block is allocated. A file with holes has at
    least the block of its header here, and reading its holes gives zeros and fetches nothing.
    """
    if path.suffix.lower() == STAND_IN:
        words = "a stand-in for a file whose audio is still in the cloud"
        return Header(format=None, faults=(ContainerFault(kind=FaultKind.NOT_ON_DISK, detail=words),))
    absent = _placeholder_fault(size_bytes, allocated_bytes, elsewhere)
    if absent is not None:
        return Header(format=None, faults=(absent,))
    try:
        with Source(path, at_work) as source:
            header = _parse(source)
    except (OSError, ValueError) as error:
        return Header(format=None, faults=(_not_opened(error),))
    except ForeignFormatError as error:
        return Header(format=None, faults=(unreadable(str(error), cause=Cause.FORMAT),))
    except RefusedError as error:
        return Header(format=None, faults=(unreadable(str(error)),))
    wrong_name = _extension_fault(path, header)
    return replace(header, faults=(*header.faults, wrong_name)) if wrong_name else header


def _not_opened(error: OSError | ValueError) -> ContainerFault:
    return unreadable(f"it cannot be opened: {reason_of(error)}", cause=cause_of(error))


def _placeholder_fault(
    size_bytes: int, allocated_bytes: int | None, elsewhere: bool
) -> ContainerFault | None:
    if elsewhere:
        words = f"the system marks its {grouped(size_bytes)} bytes as kept elsewhere, to be fetched when read"
    elif allocated_bytes == 0 and size_bytes >= PLACEHOLDER_BYTES:
        words = f"this disk holds none of its {grouped(size_bytes)} bytes: they are still in the cloud"
    else:
        return None
    return ContainerFault(kind=FaultKind.NOT_ON_DISK, detail=words)


def _extension_fault(path: Path, header: Header) -> ContainerFault | None:
    extension = path.suffix[1:].lower()
    expected = _EXPECTED.get(extension)
    if header.format is None or expected is None or header.format.container in expected:
        return None
    return ContainerFault(
        kind=FaultKind.WRONG_EXTENSION, detail=f"named .{extension}, but it holds {header.format.container}"
    )


def _parse(source: Source) -> Header:
    if source.size == 0:
        return Header(format=None, faults=(empty("it holds no bytes at all"),))
    found = _parse_container(source)
    return complete_header(source, found) if isinstance(found, Coded) else found


def _parse_container(source: Source) -> Header | Coded:
    head = source.at(0, 16)
    if head[:4] in (b"RIFF", b"RIFX", b"RF64", b"BW64"):
        return parse_riff(source)
    if head == WAVE64_MAGIC:
        return parse_wave64(source)
    if head[:4] == b"FORM":
        return parse_aiff(source)
    if head[:4] == b"caff":
        return parse_caf(source)
    if head[:4] == b"OggS":
        return parse_ogg(source)
    if head[:4] in (b".snd", b"dns."):
        return Coded(container="AU")
    base = _behind_id3(source)
    if source.at(base, 4) == b"fLaC":
        return parse_flac(source, base)
    if is_mpeg(source, base):
        return parse_mpeg(source, base)
    raise name_stranger(source, base)


def _behind_id3(source: Source) -> int:
    """Where the stream begins: behind ID3v2 tags, whose size counts seven bits a byte."""
    base = 0
    for _ in range(4):
        head = source.at(base, 10)
        if len(head) < 10 or head[:3] != b"ID3" or any(byte & 0x80 for byte in head[6:10]):
            break
        size = head[6] << 21 | head[7] << 14 | head[8] << 7 | head[9]
        base += 10 + size + (10 if head[5] & 0x10 else 0)
    return base
