"""Runs the click finder on the clicks of `click_lab`, clean ones and faulty ones, and scores it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import mir_eval
import numpy as np

from audit.measure.click_hearing import hear_click
from audit.results import ClickTrack
from tests.click_lab import (
    METRES,
    Made,
    Recipe,
    build,
    doubled,
    even_beats,
    halved,
    missing,
    moved,
    ramped_beats,
)
from tests.measure.feeding import blocks
from tests.waves import Samples

FAULTS = ("1 beat missing", "3 beats missing", "doubled beat", "off-grid beat", "half time", "tempo +0.1 %")
TEMPI = (63.0, 96.0, 120.0, 168.0)


def hear(samples: Samples, rate_hz: int) -> ClickTrack | None:
    """The click in a part, as the scan finds it."""
    return hear_click(lambda: blocks(samples, 65_536), rate_hz, samples.shape[1])


@dataclass(frozen=True, kw_only=True)
class Score:
    """How well a click was heard."""

    f_measure: float  # mir_eval, ±5 ms
    median_error_s: float
    faults: int  # gaps and extras reported


def score(made: Made, click: ClickTrack | None) -> Score:
    truth = np.array(made.beats_s)
    if click is None:
        return Score(f_measure=0.0, median_error_s=np.inf, faults=0)
    found = np.array(click.beats_s)
    # f_measure itself: `evaluate` would drop all beats of the first five seconds.
    f_measure = mir_eval.beat.f_measure(truth, found, f_measure_threshold=0.005)
    errors = [float(np.abs(found - beat).min()) for beat in truth]
    return Score(
        f_measure=float(f_measure),
        median_error_s=float(np.median(errors)),
        faults=len(click.gaps) + len(click.extras),
    )


def plan(shape: str, bpm: float, metre: str) -> Recipe:
    """Twelve bars or so of one tempo, a ramp, or with swung eighths between."""
    bpm = min(bpm, 250.0 / METRES[metre][1])
    if shape == "ramp":
        return Recipe(beats=ramped_beats(bpm, bpm * 1.25, 16, metre), metre=metre)
    bars = 56 // METRES[metre][0]
    recipe = Recipe(beats=even_beats(bpm, bars, metre), metre=metre)
    return replace(recipe, subdivision=2, sub_db=-12.0, swing=0.33) if shape == "swing" else recipe


def planted(recipe: Recipe, fault: str, rng: np.random.Generator) -> tuple[Recipe, float]:
    """The recipe with one fault, and where it lies in seconds."""
    beats = recipe.beats
    row = int(rng.integers(10, len(beats) - 12))
    step = beats[row + 1].at_s - beats[row].at_s
    if fault == "1 beat missing":
        return replace(recipe, beats=missing(beats, row, 1)), beats[row].at_s
    if fault == "3 beats missing":
        return replace(recipe, beats=missing(beats, row, 3)), beats[row].at_s
    if fault == "doubled beat":
        later = float(rng.uniform(0.06, max(0.07, 0.75 * step)))
        return replace(recipe, beats=doubled(beats, row, later)), beats[row].at_s + later
    if fault == "off-grid beat":
        by = float(rng.choice([-1, 1]) * rng.uniform(0.012, 0.3 * step))
        return replace(recipe, beats=moved(beats, row, by)), beats[row].at_s + by
    if fault == "half time":
        per_bar = METRES[recipe.metre][0]
        row = (len(beats) // 2 // per_bar) * per_bar
        return replace(recipe, beats=halved(beats, row)), beats[row].at_s
    assert fault == "tempo +0.1 %"
    return replace(recipe, beats=tuple(replace(b, at_s=1.0 + (b.at_s - 1.0) / 1.001) for b in beats)), 0.0


def found(fault: str, at_s: float, made: Made, click: ClickTrack | None, bpm: float) -> bool:
    """Whether the click's report names exactly the planted fault, in its place."""
    if click is None:
        return False
    clean = not click.gaps and not click.extras
    if fault in ("1 beat missing", "3 beats missing"):
        wanted = 1 if fault.startswith("1") else 3
        return (
            [gap.beats for gap in click.gaps] == [wanted]
            and abs(click.gaps[0].at_s - at_s) < 0.02
            and not click.extras
        )
    if fault in ("doubled beat", "off-grid beat"):
        return len(click.extras) == 1 and abs(click.extras[0].at_s - at_s) < 0.003 and not click.gaps
    if fault == "half time":
        return clean and [(c.ratio, abs(c.at_s - at_s) < 1.5) for c in click.changes] == [(0.5, True)]
    return clean and click.bpm is not None and abs(click.bpm / (bpm * 1.001) - 1.0) < 0.0002


def trials(seed: int, sounds: tuple[str, ...], per_cell: int) -> Iterator[tuple[str, str, Recipe, bool]]:
    """Fault, sound, recipe, and whether it was found; tempo, metre, shape, rate and level by the seed."""
    rng = np.random.default_rng([seed, 3])
    for fault in FAULTS:
        for sound in sounds:
            for number in range(per_cell):
                metre = str(rng.choice(list(METRES)))
                shape = str(rng.choice(["even", "even", "ramp", "swing"]))
                if fault in ("tempo +0.1 %", "half time"):
                    shape = "even"
                if shape == "swing" and (METRES[metre][1] > 1.0 or sound in ("triangle", "cowbell")):
                    shape = "even"
                if fault == "3 beats missing" and metre == "2/4":
                    metre = "4/4"  # three beats are more than a bar of two
                bpm = (
                    float(rng.choice(TEMPI)) if METRES[metre][1] == 1.0 else float(rng.choice([84, 110, 140]))
                )
                recipe = replace(
                    plan(shape, bpm, metre),
                    sound=sound,
                    accents=str(rng.choice(["both", "level", "none"])),
                    rate_hz=int(rng.choice([44_100, 48_000, 96_000])),
                    peak_db=float(rng.choice([0.0, -6.0, -20.0, -50.0])),
                    sides=int(rng.choice([1, 2])),
                    seed=seed * 1000 + number,
                )
                true_bpm = 60.0 / (recipe.beats[1].at_s - recipe.beats[0].at_s)
                recipe, at_s = planted(recipe, fault, rng)
                made = build(recipe)
                yield (
                    fault,
                    sound,
                    recipe,
                    found(fault, at_s, made, hear(made.samples, recipe.rate_hz), true_bpm),
                )
