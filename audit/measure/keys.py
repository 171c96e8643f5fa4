"""Whether a stem is in the key of its song: its harmony against that of the others, at the same times.

    harmony_of(chroma) -> Harmony | None   compare(one, others) -> KeyFit | None
    compare_keys(harmonies) -> list[KeyFit | None]

Half-second frames, each taken together with its neighbours: of a second and a half for chords, of eight
seconds for the scale. What the others play is one chroma, every stem weighing alike; a stem fits where its
chroma and theirs correlate over the twelve classes. The stem's classes are then turned by 1 … 11 semitones:
a stem after a transposition fits after one of these turns and not as it is. All of it is compared at the same
time, so a song may modulate as it likes. `chord_changes` adds what moves in time.

Square roots of the chroma are compared, so that one loud note does not outweigh the chord under it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from audit.measure.chord_changes import changes_fit, over_roots, thirds_fit
from audit.measure.chroma import STEPS_A_DB
from audit.measure.key_blame import KeyPairs
from audit.results import Chroma, KeyFit

FRAME_S = 0.5
NEIGHBOURS = 3
"""Frames that are taken together: a second and a half, less than a bar at most tempi."""

LONG = 17
"""Frames, eight seconds and a half: several chords, which make a scale."""

UNDER_LOUD_DB = 30.0
"""A stem sounds in the spectra that lie at most so far under its loud ones (their 95th percentile)."""

SOUNDING = 0.3
"""A frame counts where so much of it sounds."""

LEAST_FRAMES = 12
LEAST_TONAL = 0.3
"""Less of a stem in tones than this, and it is no harmony (drums 0.1 and less, a distorted bass 0.6)."""

STEADY = 0.85
"""Length of the mean of a stem's frames (each of length 1) from which on it is a drone: one chord all along
says nothing of a key."""

LINE = 1.7
"""Fewer classes at once than this on average are a line rather than chords."""

SUSPECT = 0.35
"""A turn that fits by so much more in all makes a stem suspect: the others are then compared without it."""

CLEAR, FITS = 0.6, 0.3
"""One that fits by so much more, chords and scale added, and so well when turned, is turned back instead."""

LEAD = 0.15
"""Unless another one, turned, would explain nearly as much: of two against two nobody is turned back."""

ALMOST = 0.8
"""A turn that gains so much of what the best one does is named beside it. Own measurement: of 29 stems of two
shows that were turned by one to three semitones and told by another number, 17 had the right one there."""

Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Harmony:
    """A stem's chroma in frames of half a second: rows that sum to 1, and where it sounds."""

    classes: Numbers  # (frames, 12)
    sounds: npt.NDArray[np.bool_]  # (frames,)

    @property
    def steady(self) -> bool:
        """A drone: the same tones from beginning to end."""
        rows = _centred(_roots(self.classes[self.sounds]))
        return bool(np.linalg.norm(rows.mean(axis=0)) > STEADY)

    @property
    def voices(self) -> float:
        """How many classes sound together, at half of the strongest and more: 1 for a line, 3 for chords."""
        rows = self.classes[self.sounds]
        return float((rows >= 0.5 * rows.max(axis=1, keepdims=True)).sum(axis=1).mean()) if len(rows) else 0.0

    @property
    def leading(self) -> float:
        """How many classes are the strongest in turn (perplexity): 1 for one all along, 12 for all alike."""
        rows = self.classes[self.sounds]
        if not len(rows):
            return 0.0
        shares = np.bincount(rows.argmax(axis=1), minlength=12) / len(rows)
        shares = shares[shares > 0.0]
        return float(np.exp(-(shares * np.log(shares)).sum()))


def harmony_of(chroma: Chroma | None) -> Harmony | None:
    """The stem's harmony; None for silence, drums, speech, noise, and what sounds for less than 6 s."""
    if chroma is None or not len(chroma.levels) or chroma.tonal < LEAST_TONAL:
        return None
    packed = np.frombuffer(chroma.levels, dtype=np.uint8)
    if not packed.any():
        return None
    level_db = packed / STEPS_A_DB
    top_db = float(np.percentile(level_db[packed > 0], 95))
    sounds = (packed > 0) & (level_db > top_db - UNDER_LOUD_DB)
    classes = np.frombuffer(chroma.classes, dtype=np.uint8).reshape(-1, 12).astype(np.float64)
    weights = np.where(sounds, 10.0 ** ((level_db - top_db) / 40.0), 0.0)
    classes *= (weights / np.maximum(classes.sum(axis=1), 1e-9))[:, None]
    # Frames of the same length in every stem and song, whatever their spectra's exact distance.
    frame = ((np.arange(len(packed)) * chroma.hop_s) / FRAME_S).astype(np.int64)
    count = int(frame[-1]) + 1
    summed = np.zeros((count, 12))
    np.add.at(summed, frame, classes)
    share = np.bincount(frame, sounds, count) / np.maximum(np.bincount(frame, minlength=count), 1)
    heard = share >= SOUNDING
    if heard.sum() < LEAST_FRAMES:
        return None
    return Harmony(_rows(summed), heard)


def compare_keys(found: Sequence[Harmony | None]) -> list[KeyFit | None]:
    """Each stem's fit with all the others; None where it has no harmony, or the others have none with it.

    One fault makes one suspect. A stem that clearly stands in another key is turned back before the others
    are compared with it; one that only fits badly is left out.
    """
    laid = list(found)
    asked = [number for number, one in enumerate(found) if one is not None]
    pairs = KeyPairs(asked, lambda one, other: _alone(found[one], found[other]))  # asked for by suspects only
    told: dict[int, KeyFit] = {}
    out: set[int] = set()
    while True:
        fits = _all(laid, out, told) | told
        suspects = [n for n, fit in fits.items() if n not in {*told, *out} and fit.evidence >= SUSPECT]
        if not suspects:
            break
        worst = max(suspects, key=lambda n: (pairs.gain(n, -fits[n].semitones), fits[n].evidence))
        fit = fits[worst]
        clear = fit.gain + fit.long_gain >= CLEAR and fit.fit_turned >= FITS
        if clear and pairs.lead(worst, -fit.semitones) >= LEAD:
            told[worst] = _with_witnesses(worst, fit, laid, pairs)
            pairs.turn_back(worst, -fit.semitones)
            laid[worst] = _turned_back(laid[worst], -fit.semitones)
        elif len(out) + 3 <= len(asked):
            out.add(worst)
        else:
            break
    return [
        told.get(n) or (_with_witnesses(n, fits[n], laid, pairs) if n in fits else None)
        for n in range(len(found))
    ]


def _turned_back(one: Harmony | None, turn: int) -> Harmony | None:
    return None if one is None else Harmony(np.roll(one.classes, turn, axis=1), one.sounds)


def _alone(one: Harmony | None, other: Harmony | None) -> Numbers:
    if one is None or other is None:
        return np.zeros((0, 12))
    return turned_scores(one, [other]) + turned(*together(one, [other], LONG))


def _with_witnesses(number: int, fit: KeyFit, laid: Sequence[Harmony | None], pairs: KeyPairs) -> KeyFit:
    """What each other stem alone says of the turn; and whether the turned stem is another line's double: two
    voices in strict thirds are no transposition."""
    one = laid[number]
    if one is None or fit.semitones == 0:
        return fit
    best = -fit.semitones % 12
    parallel = 0.0
    for k, other in enumerate(laid):
        if k != number and other is not None and other.voices < LINE:
            scores = turned_scores(one, [other])
            if len(scores):
                parallel = max(parallel, float(scores[:, best].mean()))
    agree, disagree = pairs.votes(number, best)
    return replace(fit, parallel=parallel, agree=agree, disagree=disagree, lead=pairs.lead(number, best))


def _all(found: Sequence[Harmony | None], out: set[int], told: Collection[int]) -> dict[int, KeyFit]:
    """Fits of all but those that are told, with all but those that are out."""
    fits = {}
    for number, one in enumerate(found):
        if one is None or number in told:
            continue
        others = [other for k, other in enumerate(found) if k not in {number, *out} and other is not None]
        fit = compare(one, others)
        if fit is not None:
            fits[number] = fit
    return fits


def compare(one: Harmony, others: Sequence[Harmony]) -> KeyFit | None:
    """A stem against some others at the same times.

    None for a drone, and where they sound together for less than 6 s.
    """
    if one.steady:
        return None
    mine, theirs = together(one, others, NEIGHBOURS)
    if len(mine) < LEAST_FRAMES:
        return None
    scores, long = turned(mine, theirs), turned(*together(one, others, LONG)).mean(axis=0)
    mean = scores.mean(axis=0)
    both = mean + long
    best = int(np.argmax(both))
    half = len(scores) // 2
    gains = scores[:, best] - scores[:, 0]
    changes = changes_fit(mine, theirs)
    steps = over_roots(mine, theirs)
    return KeyFit(
        semitones=_above(best),
        or_semitones=_or_above(both, best),
        fit_as_is=float(mean[0]),
        fit_turned=float(mean[best]),
        first_half_gain=float(gains[:half].mean()),
        second_half_gain=float(gains[half:].mean()),
        first_half_fit=float(scores[:half, 0].mean()),
        second_half_fit=float(scores[half:, 0].mean()),
        seconds=len(scores) * FRAME_S,
        voices=one.voices,
        others=len(others),
        long_gain=float(long[best] - long[0]),
        changes_as_is=float(changes[0]),
        changes_turned=float(changes[best]),
        first_half_changes=float(changes_fit(mine[:half], theirs[:half])[0]),
        second_half_changes=float(changes_fit(mine[half:], theirs[half:])[0]),
        thirds=thirds_fit(mine, theirs, best),
        on_fifth=float(steps[7]),
        on_ninth=float(steps[2]),
    )


def _above(turn: int) -> int:
    """How far above the others a stem stands that fits when it is turned so, −5 … 6."""
    return (-turn + 5) % 12 - 5


def _or_above(both: Numbers, best: int) -> int:
    """The next best place, where it is nearly as good: sevenths and chords without roots hold each other's
    tones. both: (12,) by turns."""
    gains = both - both[0]
    gains[[0, best]] = -np.inf
    second = int(np.argmax(gains))
    return _above(second) if gains[second] >= ALMOST * (both[best] - both[0]) > 0.0 else 0


def turned_scores(one: Harmony, others: Sequence[Harmony]) -> Numbers:
    """Correlations, shape (frames in which both sound, 12): column k with the stem k semitones higher."""
    return turned(*together(one, others, NEIGHBOURS))


def turned(mine: Numbers, theirs: Numbers) -> Numbers:
    """Of two chromas of one shape, (frames, 12), the same."""
    mine, theirs = _centred(mine), _centred(theirs)
    return np.stack([(np.roll(mine, turn, axis=1) * theirs).sum(axis=1) for turn in range(12)], axis=1)


def together(one: Harmony, others: Sequence[Harmony], neighbours: int) -> tuple[Numbers, Numbers]:
    """The stem's chroma and the others' where both sound: square roots, rows of length 1, (frames, 12)."""
    frames = min([len(one.sounds), max((len(other.sounds) for other in others), default=0)])
    total, heard = np.zeros((frames, 12)), np.zeros(frames, dtype=bool)
    for other in others:
        there = min(frames, len(other.sounds))
        total[:there] += other.classes[:there] * other.sounds[:there, None]
        heard[:there] |= other.sounds[:there]
    both = heard & one.sounds[:frames]
    mine, theirs = (_smoothed(rows, neighbours) for rows in (one.classes[:frames], total))
    return _roots(mine[both]), _roots(theirs[both])


def _rows(table: Numbers) -> Numbers:
    return np.asarray(table / np.maximum(table.sum(axis=1, keepdims=True), 1e-9))


def _roots(table: Numbers) -> Numbers:
    """Square roots, each row of length 1."""
    return np.sqrt(_rows(table))


def _smoothed(table: Numbers, neighbours: int) -> Numbers:
    """Each row with its neighbours, an odd number of rows; fewer at the ends."""
    sums = np.vstack([np.zeros((1, table.shape[1])), np.cumsum(table, axis=0)])
    at = np.arange(len(table))
    last = np.minimum(at + neighbours // 2 + 1, len(table))
    return np.asarray(np.maximum(sums[last] - sums[np.maximum(at - neighbours // 2, 0)], 0.0))


def _centred(rows: Numbers) -> Numbers:
    rows = rows - rows.mean(axis=1, keepdims=True)
    return np.asarray(rows / np.maximum(np.linalg.norm(rows, axis=1, keepdims=True), 1e-9))
