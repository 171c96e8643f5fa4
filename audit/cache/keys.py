"""What results are kept under: everything that they were made of, and nothing else.

A file counts by its content, whatever it is called and wherever it lies; what its name says counts as the
folder walk read it. Of the times only the order counts: the newest of a song's stems is the newest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from audit.cache.packing import digest_of
from audit.cache.version import measure_version
from audit.facts import Song, Stem, VersionMark


def stem_key(stem: Stem, content: str, block_frames: int) -> str:
    """Of what is heard of a stem by itself. block_frames: sums are rounded block by block."""
    suffix = stem.path.suffix  # a wrong one is told
    read = replace(
        _bare(stem, 0), file=suffix, version=None, mark=VersionMark(), version_key="", is_wanted=False
    )
    return digest_of(measure_version(), "stem", read, content, block_frames)


def song_key(song: Song, contents: Sequence[str], *asked: object) -> str:
    """Of what is heard of a song.

    contents: of its stems, in order; asked: whatever else the answer depends on.
    """
    dates = sorted({stem.modified_ns for stem in song.stems})
    stems = tuple(_bare(stem, dates.index(stem.modified_ns)) for stem in song.stems)
    bare = replace(
        song, name="", folder="", path=Path(), stems=stems, title="", unfinished_version=None,
        dropped_stems=(),
    )  # fmt: skip
    return digest_of(measure_version(), "song", bare, tuple(contents), asked)


def between_key(songs: Mapping[str, str]) -> str:
    """Of what shows between the songs. songs: their keys by name, in the show's order."""
    return digest_of(measure_version(), "between", tuple(songs.items()))


def absent(stem: Stem) -> str | None:
    """In place of the content of a file whose bytes are not here, and which must not be opened for them;
    None for all others."""
    if stem.elsewhere or (stem.allocated_bytes == 0 and stem.size_bytes):
        return f"not here: {stem.size_bytes} bytes, {stem.elsewhere}, {stem.allocated_bytes == 0}"
    return None


def _bare(stem: Stem, date: int) -> Stem:
    return replace(
        stem, path=Path(), size_bytes=0, modified_ns=date, file_id=0, allocated_bytes=None, elsewhere=False
    )
