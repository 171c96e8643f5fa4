"""Names for files that are not decoded here, so that a report can say what somebody put among the stems."""

from __future__ import annotations

from audit.decode.source import Source

_SEARCH_BYTES = 65536

_MAGICS: tuple[tuple[int, bytes, str], ...] = (
    (0, bytes.fromhex("3026b2758e66cf11"), "WMA (Windows Media) audio"),
    (0, bytes.fromhex("1a45dfa3"), "a Matroska or WebM file"),
    (0, b"MThd", "a MIDI file: notes, no audio"),
    (0, b"wvpk", "a WavPack file"),
    (0, b"MAC ", "a Monkey's Audio file"),
    (0, b"#!AMR", "AMR speech"),
    (0, b"PK\x03\x04", "a ZIP archive"),
    (0, b"%PDF", "a PDF document"),
    (0, b"\x89PNG", "a PNG picture"),
    (0, b"\xff\xd8\xff", "a JPEG picture"),
    (0, bytes.fromhex("00051607"), "an AppleDouble file: Finder information, no audio"),
    (0, b"bplist", "a property list"),
    (0, b"<", "a text file"),
    (0, b"{", "a text file"),
)


def name_stranger(source: Source, base: int = 0) -> str:
    """What a file that no parser knows seems to be, and that it is not read."""
    head = source.at(base, 64)
    name = _mp4_name(source) if head[4:8] == b"ftyp" else None
    if name is None and len(head) > 1 and head[0] == 0xFF and head[1] & 0xF6 == 0xF0:
        name = "AAC (ADTS) audio"
    if name is None:
        name = next((word for at, magic, word in _MAGICS if head.startswith(magic, at)), None)
    if name is not None:
        return f"{name}: not a format that is read here"
    if head and not any(head):
        return "not a sound file: it begins with nothing but zeros, as an interrupted copy does"
    return "not a sound file of a known kind: its first bytes are " + (head[:8].hex(" ") or "missing")


def _mp4_name(source: Source) -> str:
    """The codec's name stands in the `moov` box, which comes first or last."""
    ends = source.at(0, _SEARCH_BYTES) + source.at(max(0, source.size - _SEARCH_BYTES), _SEARCH_BYTES)
    if b"alac" in ends:
        return "Apple Lossless in an MP4 container"
    return "AAC in an MP4 container" if b"mp4a" in ends else "an MP4 file"
