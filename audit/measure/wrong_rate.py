"""Onsets that fit their song only at another speed: audio of one sample rate under another one's header.

    wrong_rates(stems, beats_s, reach_s) -> {stem's number: WrongRate}

44.1 for 48 kHz and the like leave a stem that meets the others nowhere: the ratio at which it does is the
answer. At twice or half the speed a stem still falls on beats, so there its length has to say so as well: as
long as the song after it, half or twice as long before. A stem that ends half way and is right as it is has
its own marks: it meets the others as it stands, at lag none, and it starts when they do.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.coincidence import LagPeak, centred, lag_curve, lag_peak
from audit.results import WrongRate

Numbers = npt.NDArray[np.float64]

RATIOS = (160 / 147, 147 / 160, 2.0, 0.5, 320 / 147, 147 / 320)
"""44.1 and 48 kHz (88.2 and 96 kHz) taken for one another, doubled rates, 44.1 and 96 kHz (common
practice)."""

FEWEST = 12
"""Onsets below which nothing is said."""

SURE, BETTER = 7.0, 2.0
"""Standard deviations over chance that a ratio needs, and how many times as sure as without it."""

WITHIN_S = 0.025
"""Two onsets within this distance meet."""

FILE_STARTS_S = 0.05
"""An onset before is a file's first noise, no note."""

AS_LONG, SHORTER, LONGER = (0.8, 1.06), 0.6, 1.6
"""Last onset over the song's: after the ratio, and before it for doubled and halved rates."""

MUCH_BETTER, EARLY_S, MET = 1.8, 0.3, 0.5

RIGHT = 0.95
"""Twice as long as it should be, a stem strikes where nobody does for half of the song: one that meets the
others so often as it is enters late."""


def wrong_rates(stems: Sequence[Numbers], beats_s: Numbers, reach_s: float) -> dict[int, WrongRate]:
    """The stems whose times have to be multiplied to meet the others', by their place in the list.

    stems: onsets of each, seconds, ascending; beats_s: the click's. reach_s: half a beat, the farthest lag
    looked at. Stems that are right meet a wrong one better after the inverse ratio: so the stem that gains
    most is taken out first, and the others are looked at again without it.
    """
    left = dict(enumerate(stems))
    found: dict[int, WrongRate] = {}
    while True:
        gains = {}
        for number, times_s in left.items():
            rest = [one for other, one in left.items() if other != number and len(one)]
            if gain := _wrong_rate(times_s, rest, beats_s, reach_s):
                gains[number] = gain
        if not gains:
            return found
        worst = max(gains, key=lambda number: gains[number][0])
        found[worst] = gains[worst][1]
        del left[worst]


def _wrong_rate(
    times_s: Numbers, rest: Sequence[Numbers], beats_s: Numbers, reach_s: float
) -> tuple[float, WrongRate] | None:
    """How many times as sure a stem is of its place after the ratio; None where it is right, or unsure."""
    times_s = times_s[times_s > FILE_STARTS_S]
    others_s = np.sort(np.concatenate([*rest, beats_s]))
    if len(times_s) < FEWEST or len(others_s) < FEWEST:
        return None
    as_is = lag_peak(lag_curve(times_s, others_s, reach_s))
    peaks = {ratio: peak for ratio in RATIOS if (peak := _peak(times_s, ratio, others_s, reach_s))}
    if not peaks:
        return None
    best = max(peaks, key=lambda ratio: peaks[ratio].sure)
    found: float | None = None
    # A stem that slides meets the others better at half its speed: it slides half as far then.
    long_enough = best not in (2.0, 0.5) or _as_long(times_s, best, rest, beats_s)
    if long_enough and peaks[best].sure >= max(SURE, BETTER * max(as_is.sure, 1.0)):
        found = best
    else:
        for ratio in (2.0, 0.5):
            if ratio in peaks and _as_long(times_s, ratio, rest, beats_s):
                right = _doubled if ratio == 2.0 else _halved
                if right(times_s, peaks[ratio], as_is, rest):
                    found = ratio
    if found is None:
        return None
    fit = _met(_inside(times_s * found, others_s, reach_s), others_s, peaks[found].lag_s)
    fit_as_is = _met(times_s, others_s, as_is.lag_s)
    if falls_badly(found, best, fit, fit_as_is):
        return None
    return peaks[found].sure / max(as_is.sure, 1.0), WrongRate(
        ratio=found, fit=fit, fit_as_is=fit_as_is, onsets=len(times_s)
    )


def falls_badly(ratio: float, best: float, fit: float, fit_as_is: float) -> bool:
    """Whether too few strokes fall into place after a ratio, best being the one that fits most surely: a
    stem of figures of its own does so at half and twice its speed. At half its speed whoever fits as it is
    enters late."""
    fewer = fit < MET and (ratio != best or (ratio in (2.0, 0.5) and fit < fit_as_is))
    return fewer or (ratio == 0.5 and fit_as_is >= RIGHT)


def _inside(times_s: Numbers, others_s: Numbers, reach_s: float) -> Numbers:
    inside = (times_s > others_s[0] - reach_s) & (times_s < others_s[-1] + reach_s)
    return np.asarray(times_s[inside])


def _peak(times_s: Numbers, ratio: float, others_s: Numbers, reach_s: float) -> LagPeak | None:
    scaled = _inside(times_s * ratio, others_s, reach_s)
    if len(scaled) < max(FEWEST, 0.6 * len(times_s)):
        return None
    return lag_peak(lag_curve(scaled, others_s, reach_s))


def _as_long(times_s: Numbers, ratio: float, rest: Sequence[Numbers], beats_s: Numbers) -> bool:
    """Whether the stem ends with the song after the ratio and far from it before."""
    beat = float(beats_s[-1])
    ends = [max((float(one[-1]) for one in rest if len(one)), default=beat), beat]
    last = float(times_s[-1])
    # Multiplied, not divided: a drone's only onset may lie on the file's first frame.
    after = any(AS_LONG[0] * end < ratio * last < AS_LONG[1] * end for end in ends)
    if ratio > 1.0:
        return after and last <= SHORTER * max(ends) and last <= (SHORTER + 0.15) * ends[1]
    return after and last >= LONGER * max(ends)


def _doubled(times_s: Numbers, scaled: LagPeak, as_is: LagPeak, rest: Sequence[Numbers]) -> bool:
    """Half as long as the song: too fast, or a stem that ends half way?"""
    better = scaled.sure / max(as_is.sure, 1.0)
    out_before = as_is.zero - as_is.chance <= 0.6 * (as_is.height - as_is.chance)
    in_place = abs(scaled.lag_s) <= WITHIN_S and out_before
    starts = [float(late[0]) for one in rest if len(late := one[one > FILE_STARTS_S])]
    before = bool(starts) and times_s[0] < min(starts) - EARLY_S < 2.0 * times_s[0]
    return scaled.sure >= SURE and (
        better >= MUCH_BETTER or (better >= 1.0 and in_place) or (better >= 0.6 and before)
    )


def _halved(times_s: Numbers, scaled: LagPeak, as_is: LagPeak, rest: Sequence[Numbers]) -> bool:
    """Twice as long as everything else: nothing but a wrong rate fits the song after it."""
    return scaled.sure >= max(SURE, 0.85 * as_is.sure)


def _met(times_s: Numbers, others_s: Numbers, lag_s: float) -> float:
    """Share of the times that meet one of the others at that lag."""
    _, lags = centred(times_s, others_s, lag_s, WITHIN_S)
    return len(lags) / len(times_s)
