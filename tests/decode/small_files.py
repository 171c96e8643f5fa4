"""Whole files of 480 frames of 24-bit stereo in every container, for the tests of headers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

from audit.results import FaultKind
from tests import containers as made
from tests.decode.reading import RATE_HZ, header_of

AUDIO = made.pcm_bytes(made.random_samples(480, 2, 24), 3)
FORMAT = made.wave_format(channels=2, rate_hz=RATE_HZ, bits=24)
SOUND = made.wave(AUDIO, FORMAT)

OTHER_CONTAINERS = {
    "aif": lambda **k: made.aiff(AUDIO, channels=2, rate_hz=RATE_HZ, bits=24, frame_bytes=6, **k),
    "caf": lambda **k: made.caf(AUDIO, channels=2, rate_hz=RATE_HZ, bits=24, little_endian=True, **k),
    "w64": lambda **k: made.wave64(AUDIO, FORMAT, **k),
}


def content(container: str, folder: Path) -> bytes:
    if container == "WAV":
        return SOUND
    if container in ("RF64", "BW64"):
        return made.wave(AUDIO, FORMAT, magic=container.encode(), data_size=made.ALL_ONES,
                         ds64=made.ds64(len(AUDIO), 480))  # fmt: skip
    if container in ("W64", "AIFF", "CAF"):
        return OTHER_CONTAINERS[{"W64": "w64", "AIFF": "aif", "CAF": "caf"}[container]]()
    if container == "AIFC":
        return OTHER_CONTAINERS["aif"](compression=b"NONE")
    path = folder / f"made.{container.lower()}"
    soundfile.write(path, np.zeros((4800, 1)), RATE_HZ, format=container)
    return path.read_bytes()


def the_fault(path: Path, kind: FaultKind) -> str:
    """The detail of the file's only fault, which must be of that kind."""
    (fault,) = header_of(path).faults
    assert fault.kind is kind
    return fault.detail
