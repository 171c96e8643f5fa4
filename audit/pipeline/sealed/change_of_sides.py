"""What became of left and right, as people say it."""

from __future__ import annotations

import math

from audit.measure.sketch_sides import Origin, Side, Sides
from audit.results import AudioChange, ChangeKind

GAIN_DB = 0.2
"""By so much one side has to be off the other to be told: more than the rounding of highest samples."""


def sides_change(sides: Sides) -> tuple[tuple[AudioChange, ...], float]:
    """What is said of them, and the gain that both have in common; () where they are as they were."""
    origins = sides.origins
    words = _of_one(origins[0]) if len(origins) == 1 else _of_two(*origins)
    if words is None:
        return (), origins[0].gain
    told = [AudioChange(kind=ChangeKind.SIDES, now=one) for one in words]
    return tuple(told), _common_gain(origins)


def _of_one(only: Origin) -> list[str] | None:
    """Of a mono stem."""
    plain = {
        Side.LEFT: ["the left side alone"],
        Side.RIGHT: ["the right side alone"],
        Side.SUM: ["both sides added up"],
    }
    return plain.get(only.side)


def _of_two(left: Origin, right: Origin) -> list[str] | None:
    pair = left.side, right.side
    if Side.SILENCE in pair:
        which, other = ("left", right) if left.side is Side.SILENCE else ("right", left)
        words = [f"the {which} side is silent"]
        if other.side is Side.SUM:
            words.append("the other one holds both sides, added up")
        elif other.side in (Side.LEFT, Side.RIGHT) and other.side.value == which:
            words.append(f"what was on it is on the {'right' if which == 'left' else 'left'}")
        return words
    words = {
        (Side.RIGHT, Side.LEFT): ["left and right are exchanged"],
        (Side.SUM, Side.SUM): ["both sides hold both, added up (mono)"],
        (Side.LEFT, Side.LEFT): ["both sides hold what was on the left"],
        (Side.RIGHT, Side.RIGHT): ["both sides hold what was on the right"],
        (Side.ONLY, Side.ONLY): ["the same on both sides"],
    }.get(pair, [])
    if pair != (Side.LEFT, Side.RIGHT) and not words:
        words = [f"the {name} side holds {_holds(one)}" for name, one in (("left", left), ("right", right))
                 if one.side.value != name]  # fmt: skip
    words += _unlike(left, right)
    return words or None


def _holds(one: Origin) -> str:
    return "both, added up" if one.side is Side.SUM else f"what was on the {one.side.value}"


def _unlike(left: Origin, right: Origin) -> list[str]:
    """Gains that only one of the sides has. The one that was left alone is the measure of the other."""
    words = []
    if left.gain * right.gain < 0.0:
        words.append(f"the {'left' if left.gain < 0.0 else 'right'} side is upside down (other polarity)")
    db = [20.0 * math.log10(max(abs(one.gain), 1e-9)) for one in (left, right)]
    if abs(db[0] - db[1]) >= GAIN_DB:
        changed = 0 if abs(db[0]) > abs(db[1]) else 1
        by = db[changed] - db[1 - changed]
        how = f"{'louder' if by > 0 else 'quieter'} by {abs(by):.1f} dB"
        words.append(f"the {('left', 'right')[changed]} side is {how}")
    return words


def _common_gain(origins: tuple[Origin, ...]) -> float:
    """Of what sounds, that nearest to none. Who adds up two sides halves them or not: none is told of it."""
    if any(one.side is Side.SUM for one in origins):
        return 1.0
    gains = [one.gain for one in origins if one.side is not Side.SILENCE]
    least = min(gains, key=lambda gain: abs(math.log(max(abs(gain), 1e-9))))
    return -abs(least) if all(gain < 0.0 for gain in gains) else abs(least)
