"""Whether a channel's sound is a click track: short, alike, evenly spaced events with silence between them.

    TickSigns(rate_hz, hop_frames)   .look(wave), .share() -> 0 … 1; one channel

A cheap signature to tell a click channel that nobody named; it would rather miss one than take a hi-hat for
one. Per millisecond the highest |sample| is followed; an event begins 30 dB below the loudest so far and ends
where it has been 40 dB below its own peak for 8 ms. What makes an event a tick (own measurement, on synthetic
clicks, drums, hi-hats, speech, basses, arpeggios, and the rendered songs of ../shared/corpus):

* 20 dB down within 80 ms, and 40 dB down within 160 ms; a hiss (more than 5000 Hz by its zero crossings, as a
  hi-hat is) 40 dB down within 40 ms; no bass (300 Hz and more).
* One of the three most frequent pairs of pitch and level: a click has an accent, a beat, perhaps a
  subdivision, each always the same; a player or a melody has not.
* Spaced by 1, 2, 3, 4 or 1/2, 1/3, 1/4 of the median spacing around it (so ramps are followed), within 3 %.

Not recognised: clicks with a long ring, swelling or spoken ones, a click with music below it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FLOOR = 10.0 ** (-70.0 / 20.0)
HUSH = 10.0 ** (-90.0 / 20.0)
"""An event has to rise above −70 dBFS, and −90 dBFS counts as silence after any."""

SPARSE = 61
"""Of so many samples one is looked at first."""

MOST_EVENTS = 100_000
"""Later ones are not kept: nearly three hours of sixteenths at 150 beats a minute."""

FEWEST_TICKS = 8
LOUD_MS = 80.0
HEARD_MS = 160.0
HISS_HZ = 5000.0
HISS_MS = 40.0
LOWEST_HZ = 300.0
SAME_PITCH = 1.12
SAME_LEVEL_DB = 1.5
SPACINGS = np.array([1 / 4, 1 / 3, 1 / 2, 1.0, 2.0, 3.0, 4.0])
SHORTEST_SPACING_S = 0.045
LONGEST_SPACING_S = 2.1
"""300 beats a minute in sixteenths, and 30 beats a minute, with room."""

Numbers = npt.NDArray[np.float64]


class TickSigns:
    """Memory: 40 bytes an event."""

    def __init__(self, rate_hz: int, hop_frames: int) -> None:
        from audit.measure import ticks_kernel as kernel

        self._kernel = kernel
        self._hop_frames = hop_frames
        self._hop_s = hop_frames / rate_hz
        self._state = np.zeros(kernel.STATE_SIZE)
        self._events: list[Numbers] = []
        self._kept = 0

    def look(self, wave: npt.NDArray[np.float32]) -> None:
        """Whole hops of one channel, one after another, in order."""
        wave = _without_offset(wave)
        room = len(wave) // self._hop_frames // self._kernel.QUIET_HOPS + 2
        events = np.zeros((room, self._kernel.COLUMNS))
        found = self._kernel.find_events(wave, self._hop_frames, FLOOR, HUSH, self._state, events)
        if found and self._kept < MOST_EVENTS:
            self._events.append(events[:found].copy())
            self._kept += found

    def share(self) -> float:
        """Share of the sounding time taken by ticks, times how purely the events are ticks, times how evenly
        they are spaced (these two: 0 at 60 % and below, 1 from 95 % on); 0 … 1.

        An event that has not ended counts as sound; the last, unfinished 0.25 s of a file are not looked at.
        """
        k = self._kernel
        if self._kept < FEWEST_TICKS:
            return 0.0
        events = np.concatenate(self._events)
        ticks = events[self._alike(events)]
        if len(ticks) < FEWEST_TICKS:
            return 0.0
        sound = self._state[k.SOUND_HOPS]
        if self._state[k.IN_EVENT]:
            sound += self._state[k.LAST_HEARD] - self._state[k.START] + 1.0
        share = min(1.0, ticks[:, k.HEARD_HOPS].sum() / sound)
        purity = _surely(len(ticks) / len(events))
        return float(share * purity * _surely(self._evenness(ticks[:, k.FIRST] * self._hop_s)))

    def _alike(self, events: Numbers) -> npt.NDArray[np.bool_]:
        """Which events are ticks by their length, pitch and level."""
        k = self._kernel
        loud_ms = events[:, k.LOUD_HOPS] * self._hop_s * 1000.0
        heard_ms = events[:, k.HEARD_HOPS] * self._hop_s * 1000.0
        pitch_hz = events[:, k.EVENT_CROSSINGS] / 2.0 / (loud_ms / 1000.0)
        short = (loud_ms <= LOUD_MS) & (heard_ms <= np.where(pitch_hz > HISS_HZ, HISS_MS, HEARD_MS))
        ticks = short & (pitch_hz >= LOWEST_HZ)
        if not ticks.any():
            return ticks
        pitches = _groups(np.log(np.maximum(pitch_hz, 1.0)), ticks, np.log(SAME_PITCH))
        level_db = 20.0 * np.log10(events[:, k.EVENT_PEAK])
        kinds = np.full(len(events), -1)
        for pitch in np.unique(pitches[ticks]):
            members = ticks & (pitches == pitch)
            kinds[members] = pitch * 1000 + _groups(level_db, members, SAME_LEVEL_DB)[members]
        return ticks & _among_the_most(kinds, ticks, 3)

    def _evenness(self, at_s: Numbers) -> float:
        """Share of the spacings that fit those around them."""
        spacing = np.diff(at_s)
        spacing = spacing[spacing <= LONGEST_SPACING_S * 2.0]  # longer: a section without click
        if len(spacing) < FEWEST_TICKS - 2:
            return 0.0
        padded = np.pad(spacing, 8, mode="edge")
        around = np.median(np.lib.stride_tricks.sliding_window_view(padded, 17), axis=1)
        middle = float(np.median(spacing))
        if not SHORTEST_SPACING_S <= middle <= LONGEST_SPACING_S:
            return 0.0
        off = np.abs(spacing[:, None] - around[:, None] * SPACINGS)
        room = np.maximum(0.03 * spacing, 1.5 * self._hop_s)
        return float(np.mean(off.min(axis=1) <= room))


def _without_offset(wave: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """The wave without the constant that half of it stands at, to within −90 dBFS: else a DC offset would
    fill the silence between the ticks. Sound never stands; where nothing does, the wave as it is."""
    few = wave[::SPARSE]
    if _moves(few) or not few.any():
        return wave
    middle = 0.0
    for look in (few, wave):  # a few samples tell nearly always
        low, middle, high = np.percentile(look, (25.0, 50.0, 75.0)) if len(look) else (0.0, 0.0, 0.0)
        if abs(middle) <= HUSH or high - low > 2.0 * HUSH:
            return wave
    return np.subtract(wave, middle, dtype=np.float32)


def _moves(look: npt.NDArray[np.float32]) -> bool:
    """Whether the middle half of some samples surely spans more than that, for a fourth of what percentiles
    cost."""
    last = len(look) - 1
    if last < 4:
        return False
    low, high = -(-last // 4), 3 * last // 4
    ordered = np.partition(look, (low, high))
    return bool(ordered[high] - ordered[low] > 2.0 * HUSH)


def _surely(share: float) -> float:
    """0 for a share of 60 % and below, 1 from 95 % on."""
    return min(1.0, max(0.0, (share - 0.6) / 0.35))


def _groups(values: Numbers, among: npt.NDArray[np.bool_], width: float) -> npt.NDArray[np.int64]:
    """Group number of each value: sorted, a group ends where a value lies `width` above its first."""
    groups = np.full(len(values), -1, dtype=np.int64)
    order = np.flatnonzero(among)[np.argsort(values[among], kind="stable")]
    group, first = -1, -np.inf
    for index in order:
        if values[index] - first > width:
            group, first = group + 1, values[index]
        groups[index] = group
    return groups


def _among_the_most(
    groups: npt.NDArray[np.int64], among: npt.NDArray[np.bool_], count: int
) -> npt.NDArray[np.bool_]:
    """Members of the `count` largest groups."""
    names, sizes = np.unique(groups[among], return_counts=True)
    largest = names[np.argsort(-sizes, kind="stable")[:count]]
    return np.isin(groups, largest)
