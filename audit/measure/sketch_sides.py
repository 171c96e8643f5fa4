"""What became of left and right between two sketches: exchanged, silent, upside down, added up.

    sides_of(old, new, at_hand) -> Sides | None

Each side of the new audio is searched for among the old one's sides and half their sum, at one lag for both.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from audit.measure.sketch import crest_frames, crests_of, side_crest_frames, side_crests
from audit.measure.sketch_fit import NEAR_RATIO, STEP, WITHIN, AtHand, commonest, moved_grid
from audit.results import Sketch

Floats = npt.NDArray[np.float64]
Trace = tuple[npt.NDArray[np.int64], Floats]
"""Where the highest samples are, in frames, and what they are."""

SOUNDS = 1e-4
"""A highest sample below (−80 dBFS) is silence."""

ENOUGH = 0.85
"""Share of the highest samples that have to be found again: a few are none's, as those that were cut off."""

MOST_LAGS, FEWEST_VOTES = 3, 4


class Side(str, Enum):
    """What a side of the new audio was."""

    LEFT = "left"
    RIGHT = "right"
    SUM = "sum"  # half of what both sides add up to
    ONLY = "only"  # a mono stem's one
    SILENCE = "silence"


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a side came from. gain: 1.0 none, below zero upside down."""

    side: Side
    gain: float
    share: float  # 0 … 1: of its highest samples, those found again


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Where each channel of the new audio came from."""

    lag_frames: int
    origins: tuple[Origin, ...]


def sides_of(old: Sketch, new: Sketch, at_hand: AtHand | None = None) -> Sides | None:
    """None where a side of the new one is none of the old one's, or a seal does not tell its sides."""
    sources = _sources(old)
    if not sources or not _sources(new):
        return None
    best: Sides | None = None
    for lag in _lags(sources, _channels(new), new.frames - old.frames):
        grid = _grid(old, new, lag, at_hand)
        if grid is None:
            continue
        origins = [_origin(sources, trace) for trace in _channels(grid)]
        found = tuple(origin for origin in origins if origin is not None)
        if len(found) == len(origins) and any(origin.side is not Side.SILENCE for origin in found):
            this = Sides(lag_frames=lag, origins=found)
            if best is None or _share(this) > _share(best):
                best = this
    return best


def _share(sides: Sides) -> float:
    return sum(origin.share for origin in sides.origins)


def _sources(sketch: Sketch) -> dict[Side, Trace]:
    if sketch.channels == 1:
        return {Side.ONLY: (crest_frames(sketch), crests_of(sketch))}
    return {
        side: (side_crest_frames(one, sketch.chunk_frames), side_crests(one))
        for side, one in zip((Side.LEFT, Side.RIGHT, Side.SUM), sketch.sides, strict=False)
    }


def _channels(sketch: Sketch) -> list[Trace]:
    """Of the audio as it is: without the sum."""
    return [trace for side, trace in _sources(sketch).items() if side is not Side.SUM]


def _grid(old: Sketch, new: Sketch, lag: int, at_hand: AtHand | None) -> Sketch | None:
    if lag == 0:
        return new
    if at_hand is not None:
        return at_hand.sketch_from(lag)
    chunks, rest = divmod(lag, old.chunk_frames)
    return moved_grid(new, chunks) if rest == 0 else None


def _lags(olds: dict[Side, Trace], news: list[Trace], longer: int) -> list[int]:
    """None, the difference of the lengths, and those that most highest samples of any two sides agree on."""
    votes: dict[int, int] = {}
    for places, crests in olds.values():
        first = places[np.abs(crests) > SOUNDS][:500]
        for others, others_crests in news:
            second = others[np.abs(others_crests) > SOUNDS][:500]
            lags, counts = np.unique((second[None, :] - first[:, None]).ravel(), return_counts=True)
            for at in np.argsort(-counts, kind="stable")[:MOST_LAGS]:
                votes[int(lags[at])] = max(votes.get(int(lags[at]), 0), int(counts[at]))
    ranked = sorted((lag for lag in votes if votes[lag] >= FEWEST_VOTES), key=lambda lag: (-votes[lag], lag))
    return list(dict.fromkeys([0, longer, *ranked[:MOST_LAGS]]))


def _origin(sources: dict[Side, Trace], now: Trace) -> Origin | None:
    """The first of the best ones: a stem whose sides are equal keeps them as they are."""
    if not (np.abs(now[1]) > SOUNDS).any():
        return Origin(side=Side.SILENCE, gain=1.0, share=1.0)
    found = [origin for side, was in sources.items() if (origin := _compared(side, was, now)) is not None]
    return max(found, key=lambda origin: round(origin.share, 2), default=None)


def _compared(side: Side, was: Trace, now: Trace) -> Origin | None:
    common = min(len(was[0]), len(now[0]))
    first, second = was[1][:common], now[1][:common]
    loud = np.abs(first) > SOUNDS
    here = loud & (np.abs(was[0][:common] - now[0][:common]) <= WITHIN)
    if not here.any():
        return None
    gain = commonest(second[here] / first[here])
    off = np.abs(second - gain * first)
    found = here & (off <= np.maximum(NEAR_RATIO * np.abs(gain * first), STEP))
    share = float(found.sum()) / float(max(loud.sum(), (np.abs(second) > SOUNDS).sum()))
    return Origin(side=side, gain=gain, share=share) if share >= ENOUGH else None
