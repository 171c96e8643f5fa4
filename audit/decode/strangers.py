"""Names for files that are not decoded here, so that a report can say what somebody put among the stems."""

from __future__ import annotations

from audit.decode.container import ForeignFormatError, RefusedError
from audit.decode.source import Source

_SEARCH_BYTES = 65536

_FOREIGN: tuple[tuple[int, bytes, str], ...] = (
    (0, bytes.fromhex("3026b2758e66cf11"), "WMA (Windows Media) audio"),
    (0, bytes.fromhex("1a45dfa3"), "a Matroska or WebM file"),
    (0, b"wvpk", "a WavPack file"),
    (0, b"MAC ", "a Monkey's Audio file"),
    (0, b"#!AMR", "AMR speech"),
)
"""Sound that is not decoded here."""

_NO_SOUND: tuple[tuple[int, bytes, str], ...] = (
    (0, b"MThd", "a MIDI file: notes, no audio"),
    (0, b"PK\x03\x04", "a ZIP archive"),
    (0, b"%PDF", "a PDF document"),
    (0, b"\x89PNG", "a PNG picture"),
    (0, b"\xff\xd8\xff", "a JPEG picture"),
    (0, bytes.fromhex("00051607"), "an AppleDouble file: Finder information, no audio"),
    (0, b"bplist", "a property list"),
    (0, b"<", "a text file"),
    (0, b"{", "a text file"),
)


def name_stranger(source: Source, base: int = 0) -> RefusedError:
    """What a file that no parser knows seems to be: a ForeignFormatError where that is sound."""
    head = source.at(base, 64)
    sound = _mp4_name(source) if head[4:8] == b"ftyp" else _named(head, _FOREIGN)
    if sound is None and len(head) > 1 and head[0] == 0xFF and head[1] & 0xF6 == 0xF0:
        sound = "AAC (ADTS) audio"
    if sound is not None:
        return ForeignFormatError(f"{sound}: not a format that is read here")
    other = _named(head, _NO_SOUND)
    if other is not None:
        return RefusedError(f"{other}: not a format that is read here")
    if head and not any(head):
        return RefusedError("not a sound file: it begins with nothing but zeros, as an interrupted copy does")
    words = head[:8].hex(" ") or "missing"
    return RefusedError(f"not a sound file of a known kind: its first bytes are {words}")


def _named(head: bytes, magics: tuple[tuple[int, bytes, str], ...]) -> str | None:
    return next((word for at, magic, word in magics if head.startswith(magic, at)), None)


def _mp4_name(source: Source) -> str:
    """The codec's name stands in the `moov` box, which comes first or last."""
    ends = source.at(0, _SEARCH_BYTES) + source.at(max(0, source.size - _SEARCH_BYTES), _SEARCH_BYTES)
    if b"alac" in ends:
        return "Apple Lossless in an MP4 container"
    return "AAC in an MP4 container" if b"mp4a" in ends else "an MP4 file"
