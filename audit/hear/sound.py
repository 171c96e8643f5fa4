"""A clip of a place as a small file in memory, for reports that hold it themselves."""

from __future__ import annotations

import io
from pathlib import Path

from audit.errors import AuditError
from audit.hear.clip import cut_clip
from audit.results import Sound


def cut_sound(path: Path, at_s: float) -> Sound | None:
    """The clip around `at_s`, within the caps of `clip`, as 16-bit FLAC, which browsers play; None where the
    stem cannot be read so far."""
    import soundfile

    try:
        clip = cut_clip(path, lambda rate_hz: max(0, round(at_s * rate_hz)))
        file = io.BytesIO()
        soundfile.write(file, clip.samples, clip.rate_hz, subtype="PCM_16", format="FLAC")
    except (AuditError, OSError, soundfile.LibsndfileError):
        return None
    return Sound(
        data=file.getvalue(),
        media_type="audio/flac",
        place_s=clip.place_s,
        down_db=clip.down_db,
        why=clip.caps.why,
    )
