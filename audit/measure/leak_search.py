"""Looks for a leak in one part: where to look, what was found there, and whether it is a leak or music.

LeakSource(…)   search(source, read, powers, …) -> Leak | None
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.leak import FEWEST, LEAD_S, VERY_SURE, Found, Numbers, find_leak
from audit.measure.leak_spectra import PIECE_S, Pieces, Spectra, spectra
from audit.measure.quiet_places import Powers, quiet_places, rests
from audit.results import Leak
from audit.units import from_db, power_to_db

MOST_PLACES = 400
"""Of a source, evenly over it; they stay in memory: 15 MB at 48 kHz."""

MOST_PIECES = 96
FIRST_TICKS, FIRST_STEADY = 40, 20
SUSPECT = 6.0
"""That a part is asked at; all of them are read only where the first, whose surroundings are quietest,
suspect something. Own measurement: with 24 of a click's, 2 of 77 faint ones through a room are not suspected;
of timecode, which fills its pieces, 20 suspect as much as 40."""

SPACING_S = 0.25

SAME_SOUND = 0.5
SAME_LOUDNESS_DB = -10.0
PLAYED = 0.15
AT_ONCE_S = 0.0005
BETWEEN = 0.3
"""A part made of the click's own sound (half of the energy behind the ticks, or nearly as loud as the
whole part) that pauses at some beats or varies its level plays it. So does one that plays it between the
beats, at a third of its level there or more."""

ITS_SHAPE, ALONE = 0.9, 0.001
"""A copy has this squared correlation with the click, low-passed or not, in a part that is silent between its
ticks. Decays of 10 and 30 ms of one tone have 4ab/(a + b)² = 0.75."""

Rows = npt.NDArray[np.int64]
Read = Callable[[Numbers], Pieces]
"""Moments, in seconds, at which pieces of PIECE_S begin, to the pieces: shape (places, rows, frames). Rows:
the mean of the part's channels and, of a pair, half of their difference."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakSource:
    """Something that may leak, cut at its places."""

    places_s: Numbers  # where its pieces begin, ascending
    between_s: Numbers  # as many moments at which it is silent; none where it never is
    spectra_of: Callable[[Rows], Spectra]  # of its pieces at some places, shape (rows, bins)
    lufs: float | None  # of one channel
    level_dbfs: float  # of its peaks

    @property
    def ticks(self) -> bool:
        return len(self.between_s) > 0

    def quietest(self, powers: Powers, most: int = MOST_PIECES) -> tuple[Rows, int]:
        """Rows of the places where a part is asked, and how many places hold no sound of it."""
        return quiet_places(self.places_s, powers, length_s=PIECE_S, most=most)

    def asked_first(self, powers: Powers) -> Rows:
        """Rows of the places where a part is asked in any case."""
        return self.quietest(powers, FIRST_TICKS if self.ticks else FIRST_STEADY)[0]


def click_places(beats_s: Numbers, subdivision: int) -> tuple[Numbers, Numbers]:
    """Where a click's pieces begin, and those between its ticks. subdivision: ticks a beat; two beats or
    more."""
    steps_s = np.diff(beats_s)
    half_s = np.append(steps_s, np.median(steps_s)) / 2.0 / subdivision
    rows = _thinned(len(beats_s))
    return beats_s[rows] - LEAD_S, (beats_s + half_s)[rows] - LEAD_S


def steady_places(start_s: float, end_s: float) -> Numbers:
    """Where the pieces of a source begin that never stops."""
    places_s = np.arange(start_s, end_s - PIECE_S, SPACING_S)
    return places_s[_thinned(len(places_s))]


def search(
    source: LeakSource, read: Read, powers: Powers, *, lufs: float | None, channels: int
) -> Leak | None:
    """What of the source is in a part; None where nothing is, where it cannot be told, and where it is music.

    powers: the part's mean square every 100 ms, shape (steps,). lufs, channels: of the part.
    """
    rows, silent = source.quietest(powers)
    suspected = _suspected(source, read, powers) if len(rows) else []
    if not suspected:
        return None
    pieces = read(source.places_s[rows])
    mine = source.spectra_of(rows)
    found = _first_there(pieces, mine, suspected, ticks=source.ticks)
    if found is None or _is_faint_and_rests(source, found, silent):
        return None
    # What passes a narrow band only is quieter than the gain in that band says.
    change_db = power_to_db(found.passed)
    relative_db = _relative_db(source, change_db, lufs, channels)
    if source.ticks:
        mostly = found.own > SAME_SOUND or (relative_db is not None and relative_db > SAME_LOUDNESS_DB)
        if mostly and (silent or found.silent or _is_played(found)):
            return None
        rest = read(source.between_s[rows])
        if mostly and _is_another_sound(found, pieces[:, 0], rest[:, 0], mine):
            return None
        if _plays_between(rest, mine, found):
            return None
    level_dbfs = source.level_dbfs + change_db
    first_s, last_s = float(source.places_s[0]), float(source.places_s[-1]) + PIECE_S
    return Leak(
        level_dbfs=level_dbfs,
        relative_db=relative_db,
        best_at_s=float(source.places_s[rows[found.best]]) + (LEAD_S if source.ticks else 0.0),
        delay_ms=1000.0 * found.delay_s,
        spread=found.spread,
        in_rest=rests(powers, from_db(level_dbfs) ** 2, first_s, last_s),
        low_hz=found.low_hz,
        high_hz=found.high_hz,
        places=found.looked,
        surety=found.surety,
    )


def _relative_db(source: LeakSource, change_db: float, lufs: float | None, channels: int) -> float | None:
    """How loud the leak is beside the whole part; None where one of them has no loudness."""
    if lufs is None or source.lufs is None:
        return None
    return source.lufs + change_db + power_to_db(channels) - lufs


def _is_faint_and_rests(source: LeakSource, found: Found, silent: int) -> bool:
    """A click that leaks is in the rests too, unless they were cut: a faint one has to be surer."""
    return source.ticks and silent + found.silent >= FEWEST and found.surety < VERY_SURE


def _plays_between(rest: Pieces, click: Spectra, found: Found) -> bool:
    between = _first_there(rest, click, range(rest.shape[1]), ticks=True)
    return between is not None and between.gain > BETWEEN * found.gain


def _is_played(found: Found) -> bool:
    """Louder and softer, without a headphone's delay: a musician."""
    return found.spread > PLAYED and abs(found.delay_s) < AT_ONCE_S


def _is_another_sound(found: Found, pieces: Pieces, rest: Pieces, click: Spectra) -> bool:
    """A part of nothing but notes on the beats, at once with the click and of another shape: somebody plays
    the click's own pitch. A copy has the click's shape, a room or a headphone makes it late."""
    powers = [float(np.mean(np.square(one, dtype=np.float64))) for one in (pieces, rest)]
    if abs(found.delay_s) >= AT_ONCE_S or powers[1] > ALONE * powers[0]:
        return False
    mine = spectra(pieces)
    bins = min(mine.shape[1], click.shape[1])
    mine, click = mine[:, :bins], click[:, :bins]
    turn = np.exp(2j * np.pi * np.arange(bins) * found.delay_s / PIECE_S)
    crossed = np.abs((mine * np.conj(click)) @ turn) ** 2
    energies = np.sum(np.abs(mine) ** 2, axis=1) * np.sum(np.abs(click) ** 2, axis=1)
    return float(np.median(crossed / np.maximum(energies, 1e-30))) < ITS_SHAPE


def _suspected(source: LeakSource, read: Read, powers: Powers) -> list[int]:
    """The rows of a part (its middle, the difference of its sides) that a first look suspects. Mostly it
    tells that there is nothing, and the part's other pieces are never read."""
    first = source.asked_first(powers)
    pieces, mine = read(source.places_s[first]), source.spectra_of(first)
    found = [find_leak(_row(pieces, row), mine, ticks=source.ticks) for row in range(pieces.shape[1])]
    return [row for row, one in enumerate(found) if one is None or one.surety > SUSPECT]


def _first_there(pieces: Pieces, source: Spectra, rows: Sequence[int], *, ticks: bool) -> Found | None:
    """What is there, in the first of the rows that holds something."""
    for row in rows:
        found = find_leak(_row(pieces, row), source, ticks=ticks)
        if found is not None and found.there:
            return found
    return None


def _row(pieces: Pieces, row: int) -> Pieces:
    return np.ascontiguousarray(pieces[:, row])


def _thinned(count: int) -> Rows:
    return np.unique(np.linspace(0, count - 1, min(count, MOST_PLACES)).round().astype(np.int64))
