"""What `hear` writes, by its names: its own folder is no song where a scan comes by it."""

from __future__ import annotations

import re
from collections.abc import Sequence

CLIPS_FOLDER = "stemaudit-out"
"""Where clips go unless another folder is named."""

CLIPS = "clips that stemaudit wrote"
"""Why that folder is set aside."""

_CLIP = re.compile(r" - \d+m\d\d\.\d{3}s - place at [\d.]+s\.wav$")


def clip_file(song: str, stem: str, place_s: float, at_s: float) -> str:
    """`Night Ferry - Bass - 1m23.456s - place at 4s.wav`: the place in the stem, and in the clip."""
    minutes, millis = divmod(round(place_s * 1000), 60_000)
    return f"{song} - {stem} - {minutes}m{millis // 1000:02d}.{millis % 1000:03d}s - place at {at_s:g}s.wav"


def is_of_clips(folder: str, files: Sequence[str]) -> bool:
    """Whether a folder with these audio files holds clips: by its own name, or by all of theirs."""
    return folder.casefold() == CLIPS_FOLDER or all(map(_CLIP.search, files))
