"""Small files for the pipeline's tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import soundfile


def write_wav(path: Path, samples: Any, rate_hz: int = 48_000, subtype: str = "PCM_24") -> Path:
    """Write samples, shape (frames, channels), making the folder where needed."""
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(str(path), samples, rate_hz, subtype=subtype, format=path.suffix[1:].upper())
    return path
