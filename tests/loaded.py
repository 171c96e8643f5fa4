"""Everything that a scan loads, loaded: for processes that many others are forked from."""

from __future__ import annotations

import importlib
import pkgutil
import tempfile
from pathlib import Path

import soundfile

import audit
from tests.cli.folders import RATE_HZ, write_song
from tests.instruments import clicks, music_bed
from tests.ltc import timecode


def load_everything() -> None:
    """Every module of the program, and every compiled kernel that a song with music, a click and timecode
    needs."""
    for module in pkgutil.walk_packages(audit.__path__, "audit."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    from audit.folder.walk import walk
    from audit.pipeline.song.listen import listen

    with tempfile.TemporaryDirectory(prefix="stemaudit-warm-") as folder:
        song = write_song(Path(folder) / "Song")
        for name, (samples, _) in (
            ("Click", clicks(8.0)), ("Timecode", timecode(8.0)), ("Band", music_bed(8.0)),
        ):  # fmt: skip
            soundfile.write(song / f"{name}.wav", samples, RATE_HZ, subtype="PCM_24")
        listen(walk(song).songs[0], lambda stem, done: None)
