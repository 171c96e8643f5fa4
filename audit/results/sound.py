"""Levels, peaks, loudness and sides of a part."""

from __future__ import annotations

from dataclasses import dataclass

from audit.units import SILENCE_DB


@dataclass(frozen=True, slots=True, kw_only=True)
class Peaks:
    """Highest sample and highest value of the interpolated waveform, over the channels of a part."""

    sample_dbfs: float
    sample_at_frame: int
    true_dbtp: float  # never below sample_dbfs
    true_at_s: float
    channel_dbfs: tuple[float, ...]  # sample peak of each channel


@dataclass(frozen=True, slots=True, kw_only=True)
class Clipping:
    """Runs of three or more samples at full scale of one sign, summed over the part's channels."""

    runs: int  # of 3 and more
    long_runs: int  # of 10 and more
    longest_frames: int
    longest_at_frame: int | None
    first_at_frame: int | None
    over_full_scale: int  # samples above ±1.0 (float files only)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatTops:
    """Plateaus at the part's own maximum: three or more equal samples that the waveform enters and leaves
    at a corner. Clipping that was turned down later leaves them; limiters, basses and square waves do not."""

    level_dbfs: float  # the level of the highest plateaus; -inf where there are none
    plateaus: int
    longest_frames: int
    first_at_frame: int | None
    share: float  # part of the sounding frames that stand at that level (a square wave: near 1)
    touches: int = 0  # how often those channels come to exactly their maximum, in plateaus or single samples
    pairs: int = 0  # different tops of exactly two equal samples at a channel's maximum, at corners
    pairs_among: int = 0  # touches of the channels that have any
    pairs_dbfs: float = SILENCE_DB
    pairs_at_frame: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Loudness:
    """ITU-R BS.1770-5 / EBU Tech 3341, 3342. None: no block passed the gates (silence, or under 400 ms)."""

    integrated_lufs: float | None
    max_momentary_lufs: float | None
    max_momentary_at_s: float | None  # centre of the loudest 400 ms
    max_short_term_lufs: float | None
    range_lu: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """RMS (peak sense: a full-scale sine reads −3.01 dBFS), crest factor, DC offset and mean."""

    rms_dbfs: float
    active_rms_dbfs: float  # over the sounding 100 ms steps only
    crest_db: float | None
    dc_offset: float  # standing under the sound, worst channel, full scale 1.0, signed (measure.offset)
    dc_worst_window: float  # the same over the worst full 10 s; equals dc_offset for shorter files
    dc_worst_at_s: float
    dc_mean: float = 0.0  # plain mean of the worst channel: lopsided waveforms have one without an offset
    dc_wander: float = 0.0  # standing for a second and more where it outweighs the sound; 0.0: nowhere
    dc_wander_at_s: float = 0.0
    dc_wander_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """Where a part sounds. Sound: |sample| above −70 dBFS."""

    first_sound_frame: int | None  # None: it never sounds
    last_sound_frame: int | None
    active_s: float  # 100 ms steps whose RMS is above −60 dBFS
    end_rms_dbfs: float  # RMS of the last 50 ms of the file
    zero_tail_frames: int  # exact zeros at the very end, all channels of the part
    before_tail_rms_dbfs: float  # RMS of the 50 ms before those zeros
    # where it rises out of a noise floor that opens before it, to 100 ms; None: it begins with sound
    rises_frame: int | None = None

    @property
    def first_played_frame(self) -> int | None:
        """The first sound, a noise floor that opens before the music left out; None: it never sounds."""
        return self.first_sound_frame if self.rises_frame is None else self.rises_frame

    @property
    def span_frames(self) -> int:
        """From the first sound to the last, both counted; 0 where it never sounds."""
        if self.first_sound_frame is None or self.last_sound_frame is None:
            return 0
        return self.last_sound_frame - self.first_sound_frame + 1


AT_ONCE_S = 0.01
"""What sounds so early in a file sounds from its begin on, and may be hiss."""

HISS_S, HISS_DBFS, ABOVE_HISS_DB = 1.0, -45.0, 12.0
"""What sounds in the first second up to this level may be hiss, hum or the room: amplifiers −50 to −70 dBFS,
open microphones −45 to −65 (common practice). What is played rises so much above it."""

SOFT_DBFS, EVEN_DB = -75.0, 4.0
"""Hiss softer than this first peaks above what counts as sound, −70 dBFS, tens of milliseconds in: louder one
does at once (its samples reach 2.5 times their RMS every 80). Its bins lie within the second."""

_FULL_SCALE_CODE, _CODES_A_DB = 240, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelope:
    """How a part's level runs, bin by bin, for pictures: one byte a bin, code 0 = silence, else half decibels
    with 240 = full scale (120 dB below it to 7.5 dB above). The last bin may be shorter."""

    bin_s: float
    peaks: bytes  # highest |sample| of any channel
    levels: bytes  # RMS, mean of the channels' powers (a full-scale sine: −3.01 dB)

    def quietest_dbfs(self, percent: float) -> float | None:
        """The RMS that so many per cent of its sounding bins lie at or below; None where none sounds."""
        sounding = sorted(code for code in self.levels if code > 0)
        if not sounding:
            return None
        code = sounding[min(len(sounding) - 1, int(len(sounding) * percent / 100.0))]
        return (code - _FULL_SCALE_CODE) / _CODES_A_DB

    def peak_dbfs(self, begin_s: float, end_s: float) -> float | None:
        """The highest |sample| of the bins that a stretch touches, to half a decibel; None in silence or
        past the end."""
        first = max(0, int(begin_s / self.bin_s))
        code = max(self.peaks[first : int(end_s / self.bin_s) + 1], default=0)
        return (code - _FULL_SCALE_CODE) / _CODES_A_DB if code else None

    def first_above_s(self, dbfs: float) -> float | None:
        """When its |samples| first come above that: the begin of the bin; None where they never do."""
        least = _FULL_SCALE_CODE + _CODES_A_DB * dbfs
        return next((number * self.bin_s for number, code in enumerate(self.peaks) if code > least), None)

    def above_hiss_s(self) -> tuple[float, float] | None:
        """Of a part that sounds from its first frame on: begin of the first bin and end of the last one that
        rise above what its first second holds. All of it, from 0.0 on, where that is no hiss but sound; None
        where nothing ever rises."""
        if not self.levels:
            return None
        first = sorted(self.levels[: max(1, round(HISS_S / self.bin_s))])
        floor = first[len(first) // 2]
        if floor > _FULL_SCALE_CODE + _CODES_A_DB * HISS_DBFS:
            return 0.0, self.bin_s * len(self.levels)
        least = floor + _CODES_A_DB * ABOVE_HISS_DB
        above = [number for number, code in enumerate(self.levels) if code >= least]
        return (above[0] * self.bin_s, (above[-1] + 1) * self.bin_s) if above else None

    def played_s(self, first_s: float, last_s: float) -> tuple[float, float] | None:
        """From when to when a part is played that first and last sounds at these times: of one that hisses
        from its begin on, from the begin of the bin where it rises out of that; None where it only hisses."""
        rises = self.above_hiss_s() if first_s <= AT_ONCE_S or self._begins_softly() else (0.0, last_s)
        if rises is None:
            return None
        begin_s, end_s = rises
        if first_s > AT_ONCE_S and begin_s <= first_s + self.bin_s:
            return first_s, last_s
        return begin_s, min(last_s, end_s)

    def _begins_softly(self) -> bool:
        """Whether its first second is hiss too soft to count as sound at once: of one level, as what fades in
        is not."""
        first = sorted(self.levels[: max(1, round(HISS_S / self.bin_s))])
        if not first:
            return False
        low, high = (first[round(share * (len(first) - 1))] for share in (0.1, 0.9))
        soft = high <= _FULL_SCALE_CODE + _CODES_A_DB * SOFT_DBFS
        return low > 0 and soft and high - low <= EVEN_DB * _CODES_A_DB


@dataclass(frozen=True, slots=True, kw_only=True)
class Stereo:
    """How the two sides of a pair belong together. Energies over the whole file."""

    correlation: float  # −1 … 1; 0.0 where a side is silent
    difference_db: float  # energy of L−R relative to L and R together; −inf for identical sides
    mid_side_db: float  # energy of the mid relative to the side; +inf where the side is empty
    imbalance_db: float  # level of left over right; ±inf where one side is silent


@dataclass(frozen=True, slots=True, kw_only=True)
class SideDelay:
    """Correlation of a pair's sides over lags of up to 1 ms either way."""

    lowest: float  # −1 … 1
    lowest_at_ms: float  # positive: the right side is late
    highest: float
