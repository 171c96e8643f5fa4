"""Wave64: RIFF with 16-byte ids and 64-bit sizes that count their own 24 bytes (open format, [memory])."""

from __future__ import annotations

from audit.decode.chunks import WAVE64, audio_follows
from audit.decode.container import Coded, Header, RefusedError
from audit.decode.riff import collect_wave_chunks, require_audio, wave_header
from audit.decode.source import Source

MAGIC = bytes.fromhex("726966662e91cf11a5d628db04c10000")
_WAVE = bytes.fromhex("77617665f3acd3118cd100c04f8edb8a")
_LARGEST = 1 << 61
"""From here on a size is a stand-in for "unknown"; negative ones are too."""


def parse_wave64(source: Source) -> Header | Coded:
    """Header of a Wave64 file; raises RefusedError where no audio can be found in it."""
    if source.at(24, 16) != _WAVE:
        raise RefusedError("a Wave64 file that does not hold WAVE audio")
    found = collect_wave_chunks(source, 40, WAVE64)
    data, wave = require_audio(found)
    claimed: int | None = data.size
    unset = data.size == 0 and audio_follows(source, data.body, WAVE64, zeros_count=True)
    if unset or data.size < 0 or data.size >= _LARGEST:
        claimed = None
    return wave_header(source, "W64", wave, data, claimed, found, WAVE64)
