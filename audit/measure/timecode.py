"""Linear timecode: every frame of it, what it counts, and where it fails to.

    TimecodeMeter(rate_hz, channels, expected=…)   .add(block, met), .result(channels) -> TimecodeTrack | None
    TimecodeReader(rate_hz)                        .add(wave), .end(), .track(channel); one channel

Bi-phase mark (IEC 60461:2010, 8.3) is read from the distances between edges, so that level, polarity, DC and
direction do not matter. Each 5 ms the wave's middle and height are taken anew; an edge is where the wave
crosses the middle, interpolated between samples. A word is found by its sync word, the only place with
twelve ones in a row between 00 and 01: it gives the direction and the length of a bit cell, and from there
the 64 bits are read cell by cell, each from the last one's edge. So every word stands for itself, the first
as good as the hundredth, at half to double speed.

Levels from −60 dBFS (the floor lies at −80), rates from 22.05 kHz.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.cutting import Cutter
from audit.measure.ltc_counting import FrameBook
from audit.measure.ltc_words import FRAME, NUMBERS, Frames, frames_from
from audit.measure.samples import Samples, check_block, check_rate
from audit.results import TimecodeTrack

WINDOW_S = 0.005
"""Holds both sides of the wave at half the slowest speed, where a bit cell takes 1.04 ms, and follows hum."""

FLOOR = 1e-4
"""Half the height below which a window is silence: −80 dBFS, three steps of 16 bits."""

GATE = 0.25
"""How far past the middle an edge has to go, share of the half height. White noise 20 dB under the code
reaches this far back once in ten million samples (four standard deviations and more); overshoot and ripple
of a low-pass do not."""

SMOOTHED_S = 40e-6
"""The wave is averaged over this time, that of an edge (8.6.2): white noise shrinks, more at higher rates."""

SHORTEST_HALF_S = 0.5 / 2400.0 / 2.3
LONGEST_HALF_S = 0.5 / 1918.0 * 2.3
"""Half a bit cell of the fastest rate at 2.3 times its speed (a 44.1 kHz file taken for 96 kHz plays at 2.18)
and of the slowest at 1/2.3."""

TAIL_S = 0.6
"""What is kept of a channel that was not known to be timecode, so that nothing of its beginning is lost:
`nature` needs at most two windows of 0.25 s to know."""

_MOST_EDGES = 65_536
"""Edges that one piece of the wave can have at most: as many as samples."""

_KEPT_EDGES = 1000
"""Edges that words may still need: those of a word before the next sync word, and of one played backwards."""

OnFrames = Callable[[int, Frames], None]
"""Told (channel, frames) as they are read: array of ltc_words.FRAME."""


def window_frames(rate_hz: int) -> int:
    return max(1, round(WINDOW_S * rate_hz))


class TimecodeReader:
    """One channel. Memory: 10 ms of samples, 1 MB of edges, and what FrameBook keeps."""

    def __init__(self, rate_hz: int, *, first_sample: int = 0, on_frames: OnFrames | None = None) -> None:
        from audit.measure import ltc_kernel as kernel

        check_rate(rate_hz)
        self._kernel = kernel
        self._rate_hz = rate_hz
        self._window = window_frames(rate_hz)
        self._shortest = SHORTEST_HALF_S * rate_hz
        self._longest = LONGEST_HALF_S * rate_hz
        self._on_frames = on_frames
        self._cutter = Cutter(self._window, 1)
        self._held = np.zeros(0, dtype=np.float32)  # the last whole window: its middle needs the next one
        self._shape = np.zeros((2, 2))  # middle and half height of the two windows before `_held`, and of it
        self._first_sample = float(first_sample)
        self._taps = max(1, round(SMOOTHED_S * rate_hz))
        self._before = np.zeros(0, dtype=np.float32)  # samples that the next mean reaches back to
        self._base = first_sample - (self._taps - 1) / 2.0
        self._state = np.zeros(5)
        self._state[kernel.CROSSING] = self._state[kernel.LAST_EDGE] = self._base - 1.0
        self._times = np.zeros(_MOST_EDGES + _KEPT_EDGES)
        self._peaks = np.zeros(_MOST_EDGES + _KEPT_EDGES)
        self._edges = 0
        self._forgotten = 0
        self._next = 0
        self._ended = False
        self.book = FrameBook()

    def add(self, wave: npt.NDArray[np.float32]) -> None:
        """The next samples of the channel, float32, shape (frames,), finite."""
        for piece in self._cutter.cut(self._smoothed(wave)[:, None]):
            self._take(piece[:, 0], last=False)

    def _smoothed(self, wave: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        """Means over the last few samples."""
        if self._taps == 1 or len(wave) == 0:
            return wave
        if len(self._before) == 0:
            self._before = np.full(self._taps - 1, wave[0], dtype=np.float32)
        long = np.concatenate([self._before, wave])
        self._before = long[len(wave) :].copy()
        mean: npt.NDArray[np.float32] = long[self._taps - 1 :].copy()
        for back in range(1, self._taps):
            mean += long[self._taps - 1 - back : len(long) - back]
        mean /= np.float32(self._taps)
        return mean

    def end(self) -> None:
        """The file is over: reads what waited for more."""
        if self._ended:
            return
        self._ended = True
        rest = self._cutter.rest[:, 0]
        if len(rest):
            # A window's worth, without adding an edge.
            rest = np.concatenate([rest, np.full(self._window - len(rest), rest[-1], dtype=np.float32)])
        self._take(rest, last=True)
        self._read()

    def track(self, channel: int) -> TimecodeTrack | None:
        """What was read; call `end` first. channel: written into the result."""
        return self.book.track(self._rate_hz, channel)

    def _take(self, wave: npt.NDArray[np.float32], *, last: bool) -> None:
        """Whole windows: finds the edges of all but the last of them, of all where it is the file's end."""
        wave = np.concatenate([self._held, wave])
        held = 0 if last else self._window
        windows = wave.reshape(-1, self._window)
        tops, bottoms = windows.max(axis=1).astype(np.float64), windows.min(axis=1).astype(np.float64)
        shape = np.stack([(tops + bottoms) / 2.0, (tops - bottoms) / 2.0])
        if len(self._held):
            shape = shape[:, 1:]
        shape = np.concatenate([self._shape, shape], axis=1)
        if last:
            shape = np.concatenate([shape, shape[:, -1:]], axis=1)
        count = len(wave) // self._window - held // self._window
        if count > 0:
            around = _steadied(shape[:, -count - 2 :])
            self._find(wave[: count * self._window], np.ascontiguousarray(around[0]), around[1].copy())
        self._shape = shape[:, -2:].copy()
        self._held = wave[count * self._window :].copy()
        self._base += count * self._window

    def _find(
        self, wave: npt.NDArray[np.float32], mids: npt.NDArray[np.float64], tops: npt.NDArray[np.float64]
    ) -> None:
        many = max(1, _MOST_EDGES // self._window)
        for first in range(0, len(mids), many):
            last = min(first + many, len(mids))
            piece = np.ascontiguousarray(wave[first * self._window : last * self._window])
            self._forget(len(piece))
            found = self._kernel.find_edges(
                piece, self._base + first * self._window, self._window, mids[first:last], tops[first:last],
                GATE, FLOOR, self._state, self._times[self._edges :], self._peaks[self._edges :],
            )  # fmt: skip
            # Code that begins with the file has its first edge there, not where a mean would see it.
            new = self._times[self._edges : self._edges + found]
            np.maximum(new, self._first_sample, out=new)
            self._edges += found
            self._read()

    def _forget(self, more: int) -> None:
        """Have room for `more` edges: those that no word can need any longer go."""
        spent = self._next - self._kernel.LEAD
        if spent > 0 and self._edges + more > len(self._times):
            kept = self._edges - spent
            self._times[:kept] = self._times[spent : self._edges]
            self._peaks[:kept] = self._peaks[spent : self._edges]
            self._edges, self._next = kept, self._next - spent
            self._forgotten += spent

    def _read(self) -> None:
        most = self._edges // 80 + 2
        bits = np.zeros((most, 64), dtype=np.uint8)
        numbers = np.zeros((most, NUMBERS))
        found, self._next = self._kernel.read_words(
            self._times, self._peaks, self._edges, self._next, self._ended, self._shortest, self._longest,
            bits, numbers,
        )  # fmt: skip
        if found:
            frames = frames_from(bits[:found], numbers[:found], self._forgotten)
            self.book.add(frames)
            if self._on_frames is not None:
                self._on_frames(0, frames)


def _steadied(shape: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Middle and height of each window but the outer two, as the median with its neighbours' ones."""
    sides = [shape[:, :-2], shape[:, 1:-1], shape[:, 2:]]
    median: npt.NDArray[np.float64] = np.median(np.stack(sides), axis=0)
    return median


class _Tail:
    """The last 0.6 s of a channel, in memory taken once."""

    def __init__(self, rate_hz: int) -> None:
        # Windows stay where they would be had the channel been read from its first sample on.
        self._window = window_frames(rate_hz)
        self._least = round(TAIL_S * rate_hz)
        self._buffer = np.zeros(self._least + self._window, dtype=np.float32)
        self._count = 0
        self.first_sample = 0

    @property
    def wave(self) -> npt.NDArray[np.float32]:
        return self._buffer[: self._count]

    def push(self, wave: npt.NDArray[np.float32]) -> None:
        end = self.first_sample + self._count + len(wave)
        self.first_sample = max(
            self.first_sample, (end - self._least) // self._window * self._window
        )  # fmt: skip
        kept = end - self.first_sample
        old = max(0, kept - len(wave))
        self._buffer[:old] = self._buffer[self._count - old : self._count]
        self._buffer[old:kept] = wave[len(wave) - (kept - old) :]
        self._count = kept


class TimecodeMeter:
    """All channels of a stem; those that are no timecode cost a copy of their last 0.6 s.

    expected: the stem's name says timecode, so every channel is read from its first sample on. Otherwise a
    channel is read from the moment its waveform was seen to be timecode (`nature`), and some windows before.
    """

    def __init__(
        self, rate_hz: int, channels: int, *, expected: bool = False, on_frames: OnFrames | None = None
    ) -> None:
        check_rate(rate_hz)
        self._rate_hz = rate_hz
        self._channels = channels
        self._on_frames = on_frames
        self._tails = [] if expected else [_Tail(rate_hz) for _ in range(channels)]
        self._readers: list[TimecodeReader | None] = [
            self._reader(channel, 0) if expected else None for channel in range(channels)
        ]

    def _reader(self, channel: int, first_sample: int) -> TimecodeReader:
        on_frames = self._on_frames
        told = None if on_frames is None else (lambda _, frames: on_frames(channel, frames))
        return TimecodeReader(self._rate_hz, first_sample=first_sample, on_frames=told)

    def add(self, block: Samples, met: Sequence[bool] = ()) -> None:
        """One block, float32, shape (frames, channels), finite.

        met: for each channel whether timecode was met in it so far; nothing for "in none".
        """
        check_block(block, self._channels)
        for channel in range(self._channels):
            wave = np.ascontiguousarray(block[:, channel])
            reader = self._readers[channel]
            if reader is None and channel < len(met) and met[channel]:
                tail = self._tails[channel]
                reader = self._readers[channel] = self._reader(channel, tail.first_sample)
                reader.add(tail.wave)
            if reader is None:
                self._tails[channel].push(wave)
            else:
                reader.add(wave)

    def result(self, channels: Sequence[int]) -> TimecodeTrack | None:
        """The timecode of these channels (0-based), from the one with the most frames; None without any.

        To be asked once all blocks were added.
        """
        tracks = []
        for channel in channels:
            reader = self._readers[channel]
            if reader is not None:
                reader.end()
                tracks.append(reader.track(channel))
        return max(
            (track for track in tracks if track is not None), key=lambda track: track.frames, default=None
        )


def read_frames(wave: npt.NDArray[np.float32], rate_hz: int) -> Frames:
    """Every frame of a whole recording of one channel; float32, shape (frames,). For short recordings."""
    found: list[Frames] = [np.zeros(0, dtype=FRAME)]
    reader = TimecodeReader(rate_hz, on_frames=lambda _, frames: found.append(frames))
    reader.add(wave)
    reader.end()
    frames: Frames = np.concatenate(found)
    return frames
