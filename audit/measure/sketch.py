"""A stem in a few numbers a quarter second: enough to tell later what was done to it.

    SketchMeter(rate_hz, channels, first_frame)   .add(block)   .result() -> Sketch

Every chunk of 250 ms gives a hash of its samples (is it the same to the bit?), the place and the value of its
highest sample (moved by how much, at which gain, upside down?), its level, and the exclusive or of the bits
of all its samples (is one of them broken, and how?). Of two sides there are the highest samples of each, and
of half their sum: exchanged, silent, upside down, added up? `first_frame` lays the grid elsewhere: a stem
that was moved by so many frames gives the same chunks as before.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import xxhash

from audit.measure.samples import Samples, check_block, check_rate
from audit.results import SideSketch, Sketch

CHUNK_S = 0.25
SIDE_WEIGHT = 0.6
"""Of the second channel over the first, and so on: sides that cancel are not silent."""

LEVEL_FLOOR_DB = -127.5

MOST_CREST = 60_000.0
"""What two bytes can hold; only a broken float file has more."""


class SketchMeter:
    """Memory: 17 bytes a chunk, 29 of two channels, and one chunk of samples."""

    def __init__(self, rate_hz: int, channels: int, *, first_frame: int = 0) -> None:
        """first_frame: of the file, the first chunk begins with it; below zero, silence stands before."""
        check_rate(rate_hz)
        self._rate_hz, self._channels = rate_hz, channels
        self._chunk = max(1, round(CHUNK_S * rate_hz))
        self._skip = max(0, first_frame)
        self._held: Samples = np.zeros((max(0, -first_frame), channels), dtype=np.float32)
        self._weights = wave_weights(channels)
        self._frames = 0
        self._hashes: list[int] = []
        self._places: list[int] = []
        self._crests: list[float] = []
        self._levels: list[int] = []
        self._flips: list[int] = []
        self._sides: list[tuple[list[int], list[float]]] = [([], []) for _ in range(3 * (channels == 2))]

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        self._frames += len(block)
        skipped = min(self._skip, len(block))
        self._skip -= skipped
        # −0.0 + 0.0 is 0.0: decoders differ in the sign of zero.
        held = np.concatenate([self._held, block[skipped:] + np.float32(0.0)])
        whole = len(held) // self._chunk * self._chunk
        for start in range(0, whole, self._chunk):
            self._take(held[start : start + self._chunk])
        self._held = held[whole:]

    def result(self) -> Sketch:
        """Of all that was added; once."""
        if len(self._held):
            self._take(self._held)
        return Sketch(
            rate_hz=self._rate_hz, channels=self._channels, frames=self._frames, chunk_frames=self._chunk,
            hashes=np.array(self._hashes, dtype="<u4").tobytes(),
            crest_at=np.array(self._places, dtype="<u4").tobytes(),
            crests=np.array(self._crests, dtype="<f4").tobytes(),
            levels=np.array(self._levels, dtype="u1").tobytes(),
            flips=np.array(self._flips, dtype="<u4").tobytes(),
            sides=tuple(
                SideSketch(
                    # At 384 kHz a chunk has more frames than two bytes count: those late in it share a place.
                    crest_at=np.minimum(places, 65535).astype("<u2").tobytes(),
                    crests=np.clip(crests, -MOST_CREST, MOST_CREST).astype("<f2").tobytes(),
                )
                for places, crests in self._sides
            ),
        )  # fmt: skip

    def _take(self, chunk: Samples) -> None:
        data = np.ascontiguousarray(chunk, dtype="<f4")
        self._hashes.append(chunk_hash(data))
        self._flips.append(int(np.bitwise_xor.reduce(data.view("<u4"), axis=None)))
        wave = data @ self._weights
        place = int(np.argmax(np.abs(wave)))
        self._places.append(place)
        self._crests.append(float(wave[place]))
        power = float(np.mean(np.square(data, dtype=np.float64)))
        level_db = 10.0 * np.log10(power) if power > 0.0 else LEVEL_FLOOR_DB
        self._levels.append(int(np.clip(round(2.0 * (level_db - LEVEL_FLOOR_DB)), 0, 255)))
        if self._sides:
            left, right = np.ascontiguousarray(data.T)
            for side, (at, crests) in zip((left, right, 0.5 * (left + right)), self._sides, strict=True):
                place = int(np.argmax(np.abs(side)))
                at.append(place)
                crests.append(float(side[place]))


def wave_weights(channels: int) -> npt.NDArray[np.float32]:
    """What each channel weighs in the one wave whose highest samples are kept."""
    weights = SIDE_WEIGHT ** np.arange(channels)
    return np.asarray(weights / weights.sum(), dtype=np.float32)


def chunk_hash(chunk: Samples) -> int:
    """Of a chunk's samples, 32 bits. Without zeros below zero, as decoders differ in their sign."""
    return xxhash.xxh3_64_intdigest(np.ascontiguousarray(chunk, dtype="<f4").tobytes()) & 0xFFFF_FFFF


def hashes_of(sketch: Sketch) -> npt.NDArray[np.uint32]:
    return np.frombuffer(sketch.hashes, dtype="<u4")


def crest_frames(sketch: Sketch) -> npt.NDArray[np.int64]:
    """Where the chunks' highest samples are, from the first chunk's first frame."""
    places = np.frombuffer(sketch.crest_at, dtype="<u4").astype(np.int64)
    return places + np.arange(len(places), dtype=np.int64) * sketch.chunk_frames


def crests_of(sketch: Sketch) -> npt.NDArray[np.float64]:
    return np.frombuffer(sketch.crests, dtype="<f4").astype(np.float64)


def levels_dbfs(sketch: Sketch) -> npt.NDArray[np.float64]:
    return np.frombuffer(sketch.levels, dtype="u1") / 2.0 + LEVEL_FLOOR_DB


def flips_of(sketch: Sketch) -> npt.NDArray[np.uint32]:
    return np.frombuffer(sketch.flips, dtype="<u4")


def side_crest_frames(side: SideSketch, chunk_frames: int) -> npt.NDArray[np.int64]:
    """Where the side's highest samples are, from the first chunk's first frame."""
    places = np.frombuffer(side.crest_at, dtype="<u2").astype(np.int64)
    return places + np.arange(len(places), dtype=np.int64) * chunk_frames


def side_crests(side: SideSketch) -> npt.NDArray[np.float64]:
    return np.frombuffer(side.crests, dtype="<f2").astype(np.float64)
