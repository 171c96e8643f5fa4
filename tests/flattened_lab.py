"""Clipping that was turned down, planted by the hundred: `python -m tests.flattened_lab [--seed N] [OVER …]`.

Stems of the corpus, the demo, long songs and songs that people play, 30 s of each, are turned up until their
peak would be so many dB over, clipped, turned down by 0.5 to 12 dB, and stored in STORED's ways. Prints how
many flattened-peaks tells, with 95 % bounds, and the false alarms on the same stems, stored alike, untouched.
"Cut" are stems of which three samples in a row were cut off at least once in two places; fewer leave hardly
anything to find. Seed 1 served for tuning; the others are fresh, and leave corpus and demo out.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import fields

import numpy as np

from audit.evidence import StemEvidence
from audit.facts import Role
from audit.measure.flat_tops import FlatTopMeter
from audit.units import to_db
from tests import signals
from tests.evidence import findings, show, song, stem
from tests.lab.human import human_show
from tests.lab.kind import wilson
from tests.lab.songs import LabShow, LabStem, corpus, demo, long_show
from tests.shared import shared_folder

STORED = {
    "24 bit": (24, 24, False), "24 bit with dither": (24, 24, True), "16 bit": (16, 16, False),
    "16 bit with dither": (16, 16, True), "float": (None, None, False), "16 bit in 24": (16, 24, False),
    "dithered to 16 bit, in 24": (16, 24, True), "dithered to 16 bit, in float": (16, None, True),
    "dithered to 24 bit, in float": (24, None, True), "dithered to 20 bit, in 24": (20, 24, True),
}  # fmt: skip
"""Bits of the audio and of its file, None for float, and whether it was dithered."""


def stored(samples: signals.Samples, how: str, seed: int = 5) -> tuple[signals.Samples, int | None]:
    """The samples as they come out of the file, and its bits."""
    audio_bits, file_bits, dither = STORED[how]
    if audio_bits is not None:
        samples = signals.quantise(samples, audio_bits, dither=dither, seed=seed)
    return samples, file_bits


def told(samples: signals.Samples, rate_hz: int, role: Role, bits: int | None) -> bool:
    """Whether flattened-peaks speaks of these samples."""
    meter = FlatTopMeter(rate_hz, samples.shape[1], bits=bits, is_float=bits is None)
    for start in range(0, len(samples), 65_536):
        meter.add(samples[start : start + 65_536])
    return bool(findings("flattened-peaks", show(song("Trial", _evidence(samples, rate_hz, role, meter)))))


def _evidence(samples: signals.Samples, rate_hz: int, role: Role, meter: FlatTopMeter) -> StemEvidence:
    tops = meter.result()
    names = [field.name for field in fields(tops)]
    return stem(
        "Stem.wav",
        role=role,
        rate_hz=rate_hz,
        frames=len(samples),
        channels=samples.shape[1],
        peaks={"sample_dbfs": to_db(float(np.abs(samples).max()))},
        flat_tops={name: getattr(tops, name) for name in names},
    )


def stems(shows: Sequence[LabShow]) -> Iterator[tuple[int, LabStem, signals.Samples]]:
    """Rate, stem and its first 30 s, where there is sound in them."""
    for one in shows:
        for played in one.songs:
            for each in played.stems:
                samples = each.samples[: 30 * played.rate_hz]
                if np.abs(samples).max(initial=0.0) >= 0.01:
                    yield played.rate_hz, each, samples


def table(shows: Sequence[LabShow], seed: int, overs: Sequence[float]) -> Iterator[str]:
    """Lines of text: recall by depth and way of storing, then the false alarms."""
    cells: dict[str, list[bool]] = {}
    alarms, untouched = [], 0
    for number, (rate_hz, each, samples) in enumerate(stems(shows)):
        down_db = -float(np.random.default_rng((seed, number)).uniform(0.5, 12.0))
        for over_db in overs:
            clipped, truth = signals.clip(samples, over_db, rate_hz=rate_hz)
            softer = signals.turn(clipped, down_db)
            for how in STORED:
                hit = told(*_as_file(softer, rate_hz, each.role, how, number))
                for kind in ("all", "cut")[: 1 + (truth["runs"] >= 2)]:
                    cells.setdefault(f"{over_db:g} dB, {how}, {kind}", []).append(hit)
        for how in STORED:
            untouched += 1
            if told(*_as_file(samples, rate_hz, each.role, how, number)):
                alarms.append(f"  {each.name}, {how}")
    for name, hits in cells.items():
        low, high = wilson(sum(hits), len(hits))
        yield f"{name:50}{sum(hits):4}/{len(hits):<4}{100 * low:4.0f}–{100 * high:.0f} %"
    yield f"untouched: {untouched}, {len(alarms)} false alarms"
    yield from alarms


def _as_file(
    samples: signals.Samples, rate_hz: int, role: Role, how: str, seed: int
) -> tuple[signals.Samples, int, Role, int | None]:
    kept, bits = stored(samples, how, seed)
    return kept, rate_hz, role, bits


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.flattened_lab", description=__doc__)
    parser.add_argument("over", nargs="*", type=float, default=[1.0, 3.0], help="dB above the clipping level")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    seed = given.seed
    shows = [corpus(shared_folder("corpus")), demo()] if seed == 1 else []
    shows += [long_show(seed, songs=6, seconds=40.0), human_show(seed, songs=8, seconds=40.0)]
    for line in table(shows, seed, given.over):
        print(line, flush=True)


if __name__ == "__main__":
    main()
