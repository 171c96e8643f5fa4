"""How well clicks are heard: `python -m tests.benchmarks.clicks [seed] [clean clicks] [a cell]`.

Prints recall a fault and sound, false alarms and beat scores on clean clicks, and the worst of each.
Seeds 0 to 559 of the clean clicks and 1 and 2 of the planted ones served for tuning; others are fresh.
"""

from __future__ import annotations

import math
import sys
from collections import Counter

from tests.click_lab import SOUNDS, Recipe, build, random_recipe
from tests.click_trial import FAULTS, Score, hear, score, trials


def main(seed: int = 9, clean: int = 320, per_cell: int = 9) -> None:
    _planted(seed, per_cell)
    _clean(seed, clean)


def _planted(seed: int, per_cell: int) -> None:
    hits: Counter[tuple[str, str]] = Counter()
    misses: list[str] = []
    for fault, sound, recipe, found in trials(seed, SOUNDS, per_cell):
        hits[fault, sound] += found
        if not found:
            misses.append(f"  {fault}: {words(recipe)}")
    print(f"planted, seed {seed}: found of {per_cell} a sound".ljust(44), "all, 95 % bounds")
    for fault in FAULTS:
        row = [hits[fault, sound] for sound in SOUNDS]
        total, count = sum(row), per_cell * len(SOUNDS)
        low, high = bounds(total, count)
        cells = " ".join(f"{number:2d}" for number in row)
        print(f"{fault:18s} {cells}   {total}/{count} ({100 * low:.1f} to {100 * high:.1f} %)")
    print("sounds:", ", ".join(SOUNDS))
    print(*misses, sep="\n")


def _clean(seed: int, count: int) -> None:
    first = 1000 * seed
    scores: list[tuple[Score, Recipe]] = []
    for number in range(first, first + count):
        made = build(random_recipe(number))
        scores.append((score(made, hear(made.samples, made.recipe.rate_hz)), made.recipe))
    for name, under in (("without a voice", False), ("under a voice", True)):
        some = [(s, r) for s, r in scores if (r.speech_db is not None) is under]
        alarms = sum(s.faults > 0 for s, _ in some)
        exact = sum(s.f_measure == 1.0 for s, _ in some)
        tight = sum(s.median_error_s < 1e-4 for s, _ in some)
        low, high = bounds(alarms, len(some))
        print(
            f"clean, seeds {first} and on, {name}: {len(some)} clicks, {alarms} false alarms "
            f"({100 * low:.1f} to {100 * high:.1f} %), F = 1.0 in {exact}, median error < 0.1 ms in {tight}"
        )
    for result, recipe in sorted(scores, key=lambda pair: (-pair[0].faults, pair[0].f_measure))[:12]:
        if result.faults or result.f_measure < 1.0 or result.median_error_s >= 1e-4:
            print(
                f"  F {result.f_measure:.3f}, {1000 * result.median_error_s:.3f} ms, {result.faults} faults: "
                f"seed {recipe.seed}, {words(recipe)}"
            )


def words(recipe: Recipe) -> str:
    """A recipe in short."""
    voice = "" if recipe.speech_db is None else f", voice at {recipe.speech_db:.0f} dB"
    more = f", {recipe.subdivision} a beat" if recipe.subdivision > 1 else ""
    return (
        f"{recipe.sound}, {recipe.metre}, accents {recipe.accents}, {recipe.rate_hz} Hz, "
        f"{recipe.peak_db:g} dBFS{more}{voice} {'; '.join(recipe.notes)}"
    )


def bounds(hits: int, count: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share."""
    if count == 0:
        return 0.0, 1.0
    z, share = 1.96, hits / count
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    return max(0.0, middle - half), min(1.0, middle + half)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
