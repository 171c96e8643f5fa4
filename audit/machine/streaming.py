"""A song's stems read a refill at a time, converted to the player's rate, laid where the mixer finds them."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.errors import UnreadableAudioError
from audit.machine.hindrance import FREE, Hindrance


class StemStream:
    """One stem as a player reads it: opened once, a refill at a time, again from its start at its end."""

    def __init__(self, path: Path, rate_hz: int, refill_s: float, hindrance: Hindrance = FREE) -> None:
        """Opens the file read-only. Raises UnreadableAudioError where it cannot."""
        import soundfile

        # As bytes, a name that is no UTF-8 opens too; Windows has none, and takes text only.
        name = str(path) if os.name == "nt" else os.fsencode(path)
        try:
            self._file = soundfile.SoundFile(name)
        except (soundfile.SoundFileError, OSError) as error:
            raise UnreadableAudioError(f"{path.name}: cannot be streamed: {error}") from None
        self._name = path.name
        self._hindrance = hindrance
        self.channels: int = self._file.channels
        self._frames_in = max(1, math.ceil(refill_s * self._file.samplerate))
        self.frames_out = max(1, round(refill_s * rate_hz))
        self._raw = np.empty((self._frames_in, self.channels), dtype=np.float32)
        self._converter: Any = None
        self._left = np.empty((0, self.channels), dtype=np.float32)
        if self._file.samplerate != rate_hz:
            import soxr

            self._converter = soxr.ResampleStream(
                self._file.samplerate, rate_hz, self.channels, dtype="float32", quality="HQ"
            )

    def skip(self, seconds: float) -> None:
        """Goes on from so far into the file, or from its end where that is earlier."""
        self._file.seek(min(round(seconds * self._file.samplerate), self._file.frames))

    def refill(self, into: NDArray[np.float32]) -> None:
        """The next refill; into: shape (channels, frames_out). Raises UnreadableAudioError."""
        block = self._read()
        if self._converter is None:
            into[:] = block[: self.frames_out].T
            return
        self._left = np.concatenate([self._left, self._converter.resample_chunk(block)])
        while len(self._left) < self.frames_out:
            more = self._converter.resample_chunk(self._read())
            self._left = np.concatenate([self._left, more])
        into[:] = self._left[: self.frames_out].T
        # What the converter is ahead stays for the next refill; a second's worth of it never piles up.
        self._left = self._left[self.frames_out :][-self.frames_out :]

    def _read(self) -> NDArray[np.float32]:
        self._hindrance.before_read()
        try:
            got = self._file.read(out=self._raw)
            while len(got) < self._frames_in:
                filled = len(got)
                self._file.seek(0)
                more = self._file.read(out=self._raw[filled:])
                if len(more) == 0:
                    self._raw[filled:] = 0.0
                    break
                got = self._raw[: filled + len(more)]
        except (RuntimeError, OSError) as error:
            raise UnreadableAudioError(f"{self._name}: stopped streaming: {error}") from None
        return self._raw

    def close(self) -> None:
        self._file.close()


class SongStream:
    """All stems of a song, and the ring they are laid in: rows are channels, slots are refills."""

    def __init__(
        self, paths: Sequence[Path], *, rate_hz: int, refill_s: float, slots: int, hindrance: Hindrance = FREE
    ) -> None:
        self.stems: list[StemStream] = []
        self.failed: list[str] = []
        for path in paths:
            try:
                self.stems.append(StemStream(path, rate_hz, refill_s, hindrance))
            except UnreadableAudioError as error:
                self.failed.append(str(error))
        self.slots = slots
        self.slot_frames = max(1, round(refill_s * rate_hz))
        self.rows = sum(stem.channels for stem in self.stems)
        self.ring = np.zeros((max(1, self.rows), slots * self.slot_frames), dtype=np.float32)
        starts = np.cumsum([0, *(stem.channels for stem in self.stems)])
        self._first_rows = [int(start) for start in starts[:-1]]

    def refill(self, stem: int, round_number: int) -> None:
        """The stem's refill of this round, into its slot."""
        row, at = self._first_rows[stem], (round_number % self.slots) * self.slot_frames
        stream = self.stems[stem]
        stream.refill(self.ring[row : row + stream.channels, at : at + self.slot_frames])

    def block(self, frame: int, frames: int) -> NDArray[np.float32]:
        """What sounds from this frame on, shape (rows, frames); at the ring's end put together."""
        size = self.ring.shape[1]
        at = frame % size
        if at + frames <= size:
            return self.ring[:, at : at + frames]
        return np.concatenate([self.ring[:, at:], self.ring[:, : at + frames - size]], axis=1)

    def __enter__(self) -> SongStream:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for stem in self.stems:
            stem.close()
