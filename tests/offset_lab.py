"""DC offsets that come and go, planted by the hundred: `python -m tests.offset_lab [--seed N]`.

Into stems of the corpus, the demo, long songs and songs that people play, where they sound: plateaus of 0.7
to 6 s and swings of a period of 2 to 8 s for 20 s, of 5, 1.5 and 0.5 % of full scale (easy, medium, hard; the
rule's limit is 0.32 %). Prints recall with counts and 95 % bounds by shape, size and group of roles, how many
of these a mean over 10 s shows, and false alarms on the untouched stems. The bounds were chosen on seeds 801
and 802.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence

import numpy as np

from audit.measure.levels import DC_WINDOW_S, LevelMeter
from audit.measure.wander import LIMIT
from tests.damage_lab import group_of
from tests.lab.human import human_show
from tests.lab.kind import wilson
from tests.lab.provoking import provoking
from tests.lab.songs import LabShow, LabStem, corpus, demo, long_show
from tests.provoking import PROVOKING
from tests.shared import shared_folder
from tests.signals import Samples

SIZES = (0.05, 0.015, 0.005)
SWING_S = 20.0
SHAPES: dict[str, tuple[str, float]] = {
    "for 0.7 s": ("plateau", 0.7), "for 1.5 s": ("plateau", 1.5), "for 3 s": ("plateau", 3.0),
    "for 6 s": ("plateau", 6.0), "swings in 2 s": ("swing", 2.0), "swings in 4 s": ("swing", 4.0),
    "swings in 8 s": ("swing", 8.0),
}  # fmt: skip


def told(samples: Samples, rate_hz: int) -> tuple[bool, bool]:
    """As the rule has it of a stem whose mean is zero: over 10 s, and for a second and more."""
    meter = LevelMeter(rate_hz, samples.shape[1])
    meter.add(samples)
    levels = meter.result()
    long_enough = len(samples) >= DC_WINDOW_S * rate_hz
    return long_enough and abs(levels.dc_worst_window) > LIMIT, abs(levels.dc_wander) > LIMIT


def wandering(samples: Samples, rate_hz: int, shape: str, size: float, at: int) -> Samples:
    """The stem with such an offset from frame `at` on, on its first channel."""
    kind, seconds = SHAPES[shape]
    changed = samples.copy()
    part = changed[at : at + round((seconds if kind == "plateau" else SWING_S) * rate_hz), 0]
    part += np.float32(size)
    if kind == "swing":
        turn = np.sin(2 * np.pi * np.arange(len(part)) / (seconds * rate_hz))
        part += (size * (turn - 1.0)).astype(np.float32)
    return changed


def table(shows: Sequence[LabShow], seed: int, every: int) -> Iterator[str]:
    """Lines of text: false alarms first."""
    chosen: list[tuple[int, str, LabStem]] = []
    count, alarms = 0, []
    for show in shows:
        for song in show.songs:
            for stem in song.stems:
                count += 1
                if any(told(stem.samples, song.rate_hz)):
                    alarms.append(f"  {show.name}/{song.name}/{stem.name}")
                if count % every == 0 and song.seconds > 25.0 and not show.name.startswith("provoking"):
                    chosen.append((song.rate_hz, song.name, stem))
    alarms += [f"  {stem.name}" for stem in PROVOKING if any(told(stem.make(), 48_000))]
    yield f"untouched: {count + len(PROVOKING)} stems, {len(alarms)} false alarms"
    yield from alarms
    random = np.random.default_rng(seed)
    for shape in SHAPES:
        for size in SIZES:
            cells: dict[str, list[int]] = {}
            for rate_hz, _, stem in chosen:
                loud = np.flatnonzero(np.abs(stem.samples[:: rate_hz // 100]).max(axis=1) > 0.003)
                if not len(loud):
                    continue
                at = int(random.choice(loud)) * (rate_hz // 100)
                over_10_s, shorter = told(wandering(stem.samples, rate_hz, shape, size, at), rate_hz)
                for group in (group_of(stem), "all"):
                    cell = cells.setdefault(group, [0, 0, 0])
                    cell[0] += over_10_s or shorter
                    cell[1] += 1
                    cell[2] += over_10_s
            for group, (found, planted, over) in sorted(cells.items()):
                low, high = wilson(found, planted)
                yield (
                    f"{shape:14}{100 * size:5.1f} %  {group:28}{found:4}/{planted:<4}"
                    f"{100 * found / planted:6.1f} % [{100 * low:.0f}–{100 * high:.0f}], over 10 s {over}"
                )


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.offset_lab", description=__doc__)
    parser.add_argument("--seed", type=int, default=801)
    parser.add_argument("--every", type=int, default=4, help="of how many stems one is planted in")
    given = parser.parse_args()
    shows = [
        corpus(shared_folder("corpus")), demo(), long_show(given.seed, songs=3, seconds=60.0),
        human_show(given.seed, songs=6, seconds=60.0), provoking(given.seed),
    ]  # fmt: skip
    for line in table(shows, given.seed, given.every):
        print(line, flush=True)


if __name__ == "__main__":
    main()
