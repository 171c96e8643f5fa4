"""Where a part sounds: its first and last sound, its active time, and how its end sounds.

ActivityMeter(rate_hz, channels)   .add(block), .result(channels) -> Activity

A recorded stem's region often opens some time before the first note: then only its noise floor sounds until
the music rises out of it at once. What fades in, or sounds in strokes, is music from its first sound on.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from audit.measure.levels import ACTIVE_POWER
from audit.measure.samples import Samples, check_block
from audit.measure.steps import StepSums, part_channels
from audit.results import Activity
from audit.units import power_to_db

SOUND_DBFS = -70.0
"""|sample| above which it is sound. Own judgement, 10 dB below what counts as an active step."""

Decibels = npt.NDArray[np.float64]

SOUND = np.float32(10.0 ** (SOUND_DBFS / 20.0))

END_S = 0.05
"""How much of the end is measured: 50 ms, two periods of the lowest note of a bass guitar (41 Hz)."""

FLOOR_DBFS = -58.0
"""The loudest RMS of a noise floor between digital silence and the music. Own judgement: what is recorded
with care lies at −60 dBFS or lower; and what is played softer than this is not heard beside a band."""

OPENING_STEPS, FLOOR_STEPS = 2, 3
"""Steps of 100 ms over which a region may be faded in, and those after them that show a floor: fewer are no
proof."""

FLOOR_EVEN_DB, FLOOR_CREST_DB = 3.0, 16.0
"""A floor's steps lie as near to their middle, and their peaks no higher above their RMS: of a tenth of a
second of Gaussian noise at 48 kHz the crest is 12 to 14 dB. A shaker's strokes stand 20 dB above theirs."""

RISE_DB, RISE_STEPS = 12.0, 3
"""So far the music rises out of the floor, and within so many steps: what swells more slowly is music."""

SILENT_BELOW_DB = 20.0
"""Before the region opens there is silence, or as good as: a part that hisses from the file's start on is
another matter (results.Envelope)."""


class ActivityMeter:
    """Memory: 8 bytes per channel and 100 ms, and the last 50 ms.

    sums: shared step sums; whoever shares them feeds them.
    """

    def __init__(self, rate_hz: int, channels: int, *, sums: StepSums | None = None) -> None:
        from audit.measure.silence_kernel import is_silent

        self._is_silent = is_silent
        self._own = sums is None
        self._sums = StepSums(rate_hz, channels) if sums is None else sums
        self._channels = channels
        self._window = max(1, round(END_S * rate_hz))
        self._frames = 0
        self._first: list[int | None] = [None] * channels
        self._last: list[int | None] = [None] * channels
        self._last_not_zero = [-1] * channels
        self._tail = np.zeros((0, channels), dtype=np.float32)
        # Energy of every channel over the 50 ms that end with each channel's last sample that is not zero.
        self._before = np.zeros((channels, channels))

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        if self._own:
            self._sums.add(block)
        if len(block) == 0:
            return
        joined: Samples | None = None
        energies: dict[int, npt.NDArray[np.float64]] = {}
        for channel in range(self._channels):
            wave = block[:, channel]
            if self._is_silent(wave):
                continue
            if self._first[channel] is None:
                loud = np.flatnonzero(np.abs(wave) > SOUND)
                self._first[channel] = self._frames + int(loud[0]) if len(loud) else None
            last = _last_past(wave, SOUND)
            if last is not None:
                self._last[channel] = self._frames + last
            end = _last_past(wave, np.float32(0.0))
            if end is None:
                continue
            self._last_not_zero[channel] = self._frames + end
            if end not in energies:
                if end + 1 < self._window and joined is None:
                    joined = np.concatenate((self._tail, block[: self._window]))
                energies[end] = self._energy(block, joined, end)
            self._before[channel] = energies[end]
        self._frames += len(block)
        if len(block) >= self._window:
            self._tail = block[-self._window :].copy()
        else:
            self._tail = np.concatenate((self._tail, block))[-self._window :]

    def _energy(self, block: Samples, joined: Samples | None, end: int) -> npt.NDArray[np.float64]:
        """Σ x² of every channel over the 50 ms that end with frame `end` of the block."""
        if end + 1 >= self._window:
            piece = block[end + 1 - self._window : end + 1]
        else:
            assert joined is not None
            stop = len(self._tail) + end + 1
            piece = joined[max(0, stop - self._window) : stop]
        # One layout whatever the caller's: numpy's order of addition follows the layout.
        energy: npt.NDArray[np.float64] = np.square(piece.T, dtype=np.float64, order="C").sum(axis=1)
        return energy

    def result(self, channels: tuple[int, ...] | None = None) -> Activity:
        """Activity of the given channels together (None: all); the part sounds where any of them does.

        A file that ends without zeros has zero_tail_frames 0 and before_tail_rms_dbfs = end_rms_dbfs.
        """
        part = list(part_channels(channels, self._channels))
        firsts = [self._first[channel] for channel in part]
        lasts = [self._last[channel] for channel in part]
        active = (self._sums.powers[:, part] > ACTIVE_POWER).any(axis=1)
        end_power = float(np.square(self._tail[:, part], dtype=np.float64).mean()) if self._frames else 0.0
        latest = max(part, key=lambda channel: self._last_not_zero[channel])
        stop = self._last_not_zero[latest] + 1
        before = min(stop, self._window)
        power = float(self._before[latest, part].mean()) / before if before else 0.0
        return Activity(
            first_sound_frame=min((first for first in firsts if first is not None), default=None),
            last_sound_frame=max((last for last in lasts if last is not None), default=None),
            active_s=float(self._sums.step_lengths_s[active].sum()),
            end_rms_dbfs=power_to_db(end_power),
            zero_tail_frames=self._frames - stop,
            before_tail_rms_dbfs=power_to_db(power),
            rises_frame=self._rises_frame(part, firsts),
        )

    def _rises_frame(self, part: list[int], firsts: list[int | None]) -> int | None:
        """The middle of the step in which the part rises out of the floor that it opens with; None: it opens
        with sound."""
        first = min((first for first in firsts if first is not None), default=None)
        if first is None:
            return None
        step_frames = self._sums.step_frames
        powers = self._sums.powers[:, part].mean(axis=1, dtype=np.float64)
        with np.errstate(divide="ignore"):
            levels = 10.0 * np.log10(powers)
            tops = 20.0 * np.log10(self._sums.tops[:, part].max(axis=1).astype(np.float64))
        rise = floor_ends(levels, tops, first // step_frames)
        return None if rise is None else rise * step_frames + step_frames // 2


def floor_ends(levels: Decibels, tops: Decibels, first: int) -> int | None:
    """The step at which the music rises out of a noise floor; None where step `first` opens with sound.

    levels, tops: RMS and peaks of all steps; first: the step that holds the first sound.
    """
    shown = first + OPENING_STEPS + FLOOR_STEPS
    if first < OPENING_STEPS or shown > len(levels):
        return None
    floor = float(np.median(levels[shown - FLOOR_STEPS : shown]))
    if floor > FLOOR_DBFS or levels[first - OPENING_STEPS] > floor - SILENT_BELOW_DB:
        return None
    above = np.flatnonzero(levels[first:] > floor + FLOOR_EVEN_DB)
    if not len(above) or first + int(above[0]) < shown:
        return None  # nothing but the floor, or strokes in it
    end = first + int(above[0])
    level, top = levels[shown - FLOOR_STEPS : end], tops[first:end]
    sounding = level[level > -math.inf]
    even = bool((sounding >= floor - FLOOR_EVEN_DB).all()) and not (top > floor + FLOOR_CREST_DB).any()
    at_once = bool((levels[end : end + RISE_STEPS] >= floor + RISE_DB).any())
    return end if even and at_once else None


def _last_past(wave: npt.NDArray[np.float32], level: np.float32) -> int | None:
    """Index of the last sample with |x| above `level`, searched from the end in growing pieces."""
    stop, size = len(wave), 256
    while stop > 0:
        start = max(0, stop - size)
        hits = np.flatnonzero(np.abs(wave[start:stop]) > level)
        if len(hits):
            return start + int(hits[-1])
        stop, size = start, size * 4
    return None
