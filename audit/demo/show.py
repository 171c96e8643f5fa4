"""The demo: writes an invented touring show with planted faults from many families, and names every one."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

from audit.demo.plants import CLEAN_SONGS, PLANS, PLANTED, litter
from audit.demo.recording import record, write_recording
from audit.demo.setlist import ACT, DATES, SET_LIST, TOUR, SetListEntry
from audit.errors import OutputError, UsageError
from audit.timecode import Label

MARKER = ".stemaudit-demo"
UNDER_WAY = ".stemaudit-demo-under-way"
README = "About this folder.txt"
SETTINGS = "show.toml"
HEAVY_SONG = "Second-Hand Comet"
"""The song that an old laptop cannot carry: `stemaudit load` tells why."""


def write_demo(folder: Path, *, on_song: Callable[[str, int, int], None] | None = None) -> Path:
    """Write the demo show into `folder` and return it.

    on_song: told the title, number (from 1) and count of the songs, as each begins.
    An earlier demo in the folder is replaced as long as nobody changed it; anything else in it is left alone
    and refused with UsageError. OutputError where the folder cannot be written. Nothing half-written stays
    behind when it is interrupted.
    """
    _refuse_foreign_files(folder)
    under_way = folder / UNDER_WAY
    try:
        folder.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(under_way, ignore_errors=True)
        under_way.mkdir()
        try:
            for number, entry in enumerate(SET_LIST, start=1):
                if on_song is not None:
                    on_song(entry.title, number, len(SET_LIST))
                _write_song(under_way / entry.folder, entry, number)
            _write_text(under_way / README, _about())
            _write_text(under_way / SETTINGS, _settings())
            sizes = _sizes(under_way)
            _remove_earlier(folder)
            # The list of our files goes first: whatever happens next, the folder is known as ours.
            _write_text(folder / MARKER, json.dumps(sizes, indent=1, ensure_ascii=False) + "\n")
            for made in sorted(under_way.iterdir()):
                os.replace(made, folder / made.name)
        finally:
            shutil.rmtree(under_way, ignore_errors=True)
    except OSError as error:
        raise OutputError(f"cannot write the demo into {folder}: {error.strerror or error}") from error
    return folder


def _write_song(folder: Path, entry: SetListEntry, number: int) -> None:
    folder.mkdir()
    session = record(entry.song, entry.stems, lufs=entry.lufs, timecode_start=Label(number))
    for planted, plant in PLANS:
        if planted.song == entry.title:
            plant(session)
    if entry.title == CLEAN_SONGS[-1]:
        litter(session)
    for name, recording in session.recordings.items():
        write_recording(folder / name, recording)
    for step in session.afterwards:
        step(folder)


def _refuse_foreign_files(folder: Path) -> None:
    """UsageError unless the folder is absent, empty, or holds an earlier demo and nothing else."""
    if not folder.exists():
        return
    if not folder.is_dir():
        raise UsageError(f"{folder} is a file; name a folder for the demo")
    ours = _earlier(folder)
    for name, size in _sizes(folder).items():
        if name.startswith(f"{UNDER_WAY}/") or name == MARKER:
            continue
        if ours.get(name) != size:
            raise UsageError(
                f"{folder} holds files that the demo did not write ({name!a}); name an empty folder"
            )


def _earlier(folder: Path) -> dict[str, int]:
    """The files of an earlier demo and their sizes, as its list says; empty without a readable list."""
    try:
        listed = json.loads((folder / MARKER).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(listed, dict):
        return {}
    # A list may have been tampered with: it never names anything outside the folder.
    return {name: size for name, size in listed.items() if not Path(name).is_absolute() and ".." not in name}


def _remove_earlier(folder: Path) -> None:
    names = _earlier(folder)
    for name in names:
        (folder / name).unlink(missing_ok=True)
    for song in {Path(name).parts[0] for name in names if "/" in name}:
        if (folder / song).is_dir():
            (folder / song).rmdir()


def _sizes(folder: Path) -> dict[str, int]:
    return {
        path.relative_to(folder).as_posix(): path.lstat().st_size
        for path in sorted(folder.rglob("*"))
        if not path.is_dir() or path.is_symlink()
    }


def _settings() -> str:
    lines = [
        f"# The settings of the {TOUR}.",
        "schema = 1",
        "",
        "[show]",
        f'name = "{TOUR}"',
        "",
        "[interface]",
        "outputs = 12",
        "",
        *(line for output in PATCH for line in _output(*output)),
        "# It has to carry every song.",
        "[[machines]]",
        'name = "Stage laptop"',
        'class = "laptop-8core-nvme"',
        "",
        "# Plays beside the stems of one song, and fills the memory of an old laptop.",
        "[[instruments]]",
        'name = "Glass choir sampler"',
        "cores = 0.08",
        "memory_gb = 3.6",
        f'songs = ["{HEAVY_SONG}"]',
    ]
    return "\n".join(lines) + "\n"


PATCH = (
    ([1, 2], "Drums", ["drums", "percussion"], "audience"),
    (3, "Bass", ["bass"], "audience"),
    (
        [5, 6],
        "Band",
        ["guitar", "keys", "piano", "organ", "synth", "pad", "strings", "brass", "effects"],
        "audience",
    ),
    ([7, 8], "Voices", ["lead vocal", "backing vocals", "choir"], "audience"),
    (9, "Click", ["click"], "crew"),
    (10, "Guide", ["guide"], "crew"),
    (12, "Timecode", ["timecode"], "crew"),
)
"""Which stems come out where, and who hears them."""

OUTPUT_GAIN_DB = -6.0
"""Of every output for the audience, so that what meets on it adds up below full scale."""


def _output(out: int | list[int], name: str, stems: list[str], heard_by: str) -> list[str]:
    gain = [f"gain_db = {OUTPUT_GAIN_DB}"] if heard_by == "audience" else []
    return [
        "[[outputs]]",
        f"out = {out}",
        f'name = "{name}"',
        f"stems = {json.dumps(stems)}",
        f'heard_by = "{heard_by}"',
        *gain,
        "",
    ]


def _about() -> str:
    lines = [
        f"{ACT}: {TOUR}",
        "",
        "An invented act on an invented tour, synthesised by `stemaudit demo`. Dates:",
        *(f"  {town}, {venue}" for town, venue in DATES),
        "",
        "Click, guide and timecode are for in-ears and machines, never for the PA. Start quietly: the level",
        "of a file tells nothing about how loud it is at the ear. Local rules and qualified practice come",
        "first.",
        "",
        "Faults planted in it:",
        *(f"  {p.song}, {p.stem or 'the song'}: {p.what} ({p.rule})" for p in PLANTED),
        "",
        f"Nothing is wrong with: {', '.join(CLEAN_SONGS)}.",
    ]
    return "\n".join(lines) + "\n"


def _write_text(path: Path, text: str) -> None:
    path.write_bytes(text.encode())
