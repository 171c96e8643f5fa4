"""Where clips lie: a folder outside the show, file names that any system takes, whole files or none."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

from audit.errors import OutputError
from audit.folder.clips import clip_file
from audit.folder.kinds_of_file import is_audio
from audit.folder.kinds_of_folder import FolderKind, kind_of_folder
from audit.folder.shown import shown
from audit.writing import replacing

if TYPE_CHECKING:  # it measures, and scans ask here where clips may lie
    from audit.hear.clip import Clip

MOST_LETTERS = 48
MOST_LOOKED_AT = 2000
"""Names looked at in a neighbouring folder before it is taken for one without audio."""


def song_folder(stem: Path) -> Path:
    """The song's folder of a stem: above folders that only hold files, versions or a group of stems."""
    folder = stem.parent.resolve()
    for _ in range(3):
        if kind_of_folder(folder.name, folder.parent.name) is FolderKind.TITLE or folder.parent == folder:
            return folder
        folder = folder.parent
    return stem.parent.resolve()


def check_folder(out: Path, stem: Path) -> None:
    """Raises OutputError where clips would lie in the stem's song or show: the next scan would find them.

    A folder above the song's is its show where another folder in it holds audio too.
    """
    where, song = out.resolve(), song_folder(stem)
    forbidden = [stem.parent.resolve(), song]
    if _other_songs(song.parent, song, where):
        forbidden.append(song.parent)
    for folder in forbidden:
        if where == folder or folder in where.parents:
            raise OutputError(
                f"{shown(str(out))}: lies in the show's folder ({shown(folder.name)}), where the next scan "
                "would find the clip: name a folder outside it with --out"
            )
    if where.exists() and not where.is_dir():
        raise OutputError(f"{shown(str(out))}: is a file: name a folder with --out")


def _other_songs(show: Path, song: Path, out: Path) -> bool:
    """Whether a folder beside the song's holds audio, itself or in a folder that is no title of its own."""
    try:
        beside = [entry for entry in os.scandir(show) if entry.is_dir(follow_symlinks=False)]
    except OSError:
        return False
    for entry in beside[:MOST_LOOKED_AT]:
        path = Path(entry.path)
        if path != song and path != out and _holds_audio(path, deeper=True):
            return True
    return False


def _holds_audio(folder: Path, *, deeper: bool) -> bool:
    try:
        with os.scandir(folder) as entries:
            for count, entry in enumerate(entries):
                if count >= MOST_LOOKED_AT:
                    return False
                if entry.is_file() and is_audio(entry.name):
                    return True
                if deeper and entry.is_dir(follow_symlinks=False):
                    plain = kind_of_folder(entry.name, folder.name) is not FolderKind.TITLE
                    if plain and _holds_audio(Path(entry.path), deeper=False):
                        return True
    except OSError:
        return False
    return False


def clip_name(stem: Path, place_s: float, clip: Clip) -> str:
    """`Night Ferry - Bass - 1m23.456s - place at 4s.wav`: letters, digits and few signs, whatever the stem's
    name holds."""
    return clip_file(_plain(song_folder(stem).name), _plain(stem.stem), place_s, clip.place_s)


def _plain(name: str) -> str:
    """A name that every file system takes and no shell reads anything into."""
    kept = re.sub(r"[^\w()+& -]", "_", name.encode("utf-8", "replace").decode("utf-8"))
    kept = re.sub(r"\s+", " ", re.sub(r"_{2,}", "_", kept)).strip(" -")
    return kept[:MOST_LETTERS].strip(" -") or "stem"


def write_clip(clip: Clip, folder: Path, name: str) -> Path:
    """The clip as a 24-bit WAV: under another name first, then renamed. Raises OutputError."""
    import soundfile

    path = folder / name
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if path.is_dir():
            raise OutputError(
                f"{shown(str(path))}: is a folder: move it away, or name another one with --out"
            )
        # To an open file: its binding to libsndfile takes no path that is no UTF-8.
        with replacing(path) as made, made.open("r+b") as file:
            soundfile.write(file, clip.samples, clip.rate_hz, subtype="PCM_24", format="WAV")
    except (OSError, soundfile.LibsndfileError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise OutputError(
            f"{shown(str(folder))}: cannot be written: {reason}: choose another with --out"
        ) from None
    return path
