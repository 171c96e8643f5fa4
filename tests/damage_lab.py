"""Damage planted by the hundred: `python -m tests.damage_lab [--seed N] [--most N] [KIND …]`.

Holes, blocks played twice and clicks are put into stems of the corpus, the demo and songs of this seed, where
they sound, and the measure is asked for their places. Prints recall with counts and 95 % bounds by kind,
size and group of roles, and false alarms on the untouched stems. The measure was tuned on seed 1 and on every
third stem of the corpus, the ordinary show and the demo; other seeds are fresh.

Sizes: easy, medium, hard. Holes 20, 5, 2 ms, hard-edged, faded over 16 samples, on one side, or a held value;
longer ones of 100 ms beside them. Blocks of 1024, 256, 64 samples, inserted or written over what followed;
those of 1024 and 256 also dithered anew. Clicks of one or two samples or a jump that dies away, 10, 20, 30 dB
under the stem's peak. Joins: 1 to 5000 samples missing, 1 to 32 played again, the last value held for 2 to
64. Of clicks and joins, those that the sound hides from the ear ("masked"), and those that no linear filter
shows ("drowned"), are counted by themselves: the criteria stand in tests/masking.py. What a join adds to the
sound is what a crossfade of FADE_S in its place would not have.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from audit.facts import Role
from audit.measure.damage import DamageMeter
from audit.results import Damage
from tests.lab.kind import wilson
from tests.lab.songs import MARKING, LabShow, LabStem, corpus, demo, long_show
from tests.masking import DROWNED, heard_beside, stands_out
from tests.shared import shared_folder
from tests.signals import Samples, quantise

APART_S = 6.0
EACH = 4
"""Plantings a stem, that far apart."""

FADE_S = 0.01
Wave = np.ndarray

VOICES = frozenset({Role.LEAD_VOCAL, Role.BACKING_VOCALS, Role.CHOIR})
Plant = Callable[[Samples, int, int, float], tuple[Samples, int]]
"""(samples, rate, place, size) -> the damaged samples, and where the fault is in them."""


def hole(style: str) -> Plant:
    def plant(samples: Samples, rate_hz: int, at: int, size_ms: float) -> tuple[Samples, int]:
        count = round(size_ms * rate_hz / 1000)
        gain = np.zeros((count, 1), np.float32)
        if style == "faded":
            fade = min(16, count // 4)
            gain[:fade, 0] = np.linspace(1, 0, fade, endpoint=False)
            gain[count - fade :] = gain[:fade][::-1]
        piece = samples[at : at + count]
        if style == "held":
            piece[:] = piece[0].copy()
        elif style == "one side":
            piece[:, -1:] *= gain
        else:
            piece *= gain
        return samples, at

    return plant


def block(style: str) -> Plant:
    def plant(samples: Samples, rate_hz: int, at: int, size: float) -> tuple[Samples, int]:
        count = int(size)
        if style == "inserted":
            return np.concatenate((samples[: at + count], samples[at:])), at + count
        samples[at + count : at + 2 * count] = samples[at : at + count].copy()
        return samples, at + count

    return plant


def held(samples: Samples, rate_hz: int, at: int, size: float) -> tuple[Samples, int]:
    """An output that runs dry and keeps its last value; the music goes on meanwhile."""
    samples[at : at + int(size)] = samples[at - 1].copy()
    return samples, at


def again(samples: Samples, rate_hz: int, at: int, size: float) -> tuple[Samples, int]:
    return np.concatenate((samples[:at], samples[at - int(size) :])), at


def click(style: str) -> Plant:
    def plant(samples: Samples, rate_hz: int, at: int, size_db: float) -> tuple[Samples, int]:
        size = np.abs(samples).max() * 10 ** (size_db / 20)
        away = -1.0 if samples[at].sum() > 0 else 1.0
        if style == "jump":
            count = round(0.05 * rate_hz)
            samples[at : at + count] += (away * size * np.exp(-np.arange(count) / (0.012 * rate_hz)))[:, None]
        else:
            samples[at] += away * size
            if style == "two":
                samples[at + 1] += 0.7 * away * size
        return np.clip(samples, -1.0, 1.0).astype(np.float32), at

    return plant


def join(samples: Samples, rate_hz: int, at: int, missing: float) -> tuple[Samples, int]:
    return np.concatenate((samples[:at], samples[at + int(missing) :])), at


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of damage. found: the frames of what the measure says."""

    name: str
    unit: str
    sizes: tuple[float, ...]
    plant: Plant
    found: Callable[[Damage], list[int]]
    slack: int = 8
    bits: int = 24
    dither: bool = False  # to those bits, in a 24-bit file
    can_be_masked: bool = False
    goes_on: int = 0  # a join: the sound goes on so many samples later for each of the size


def _holes(damage: Damage) -> list[int]:
    return [hole.at_frame for hole in damage.holes]


def _repeats(damage: Damage) -> list[int]:
    return [repeat.at_frame for repeat in damage.repeats]


def _clicks(damage: Damage) -> list[int]:
    return [click.at_frame for click in damage.clicks]


BLOCKS = (1024, 256, 64)

KINDS: tuple[Kind, ...] = (
    Kind(name="hole, hard", unit="ms", sizes=(100, 20, 5, 2), plant=hole("hard"), found=_holes, slack=40),
    Kind(name="hole, faded", unit="ms", sizes=(20, 5, 2), plant=hole("faded"), found=_holes, slack=40),
    Kind(name="hole, one side", unit="ms", sizes=(20, 5, 2), plant=hole("one side"), found=_holes, slack=40),
    Kind(name="hole, held value", unit="ms", sizes=(20, 5, 2), plant=hole("held"), found=_holes, slack=40),
    Kind(name="block, inserted", unit="samples", sizes=BLOCKS, plant=block("inserted"), found=_repeats),
    Kind(name="block, written over", unit="samples", sizes=BLOCKS, plant=block("over"), found=_repeats),
    Kind(name="block, dithered 24", unit="samples", sizes=(1024, 256), plant=block("over"), found=_repeats,
         dither=True),
    Kind(name="block, dithered 16", unit="samples", sizes=(1024, 256), plant=block("over"), found=_repeats,
         bits=16, dither=True),
    Kind(name="click, one sample", unit="dB", sizes=(-10, -20, -30), plant=click("one"), found=_clicks,
         can_be_masked=True),
    Kind(name="click, a jump", unit="dB", sizes=(-10, -20, -30), plant=click("jump"), found=_clicks,
         can_be_masked=True),
    Kind(name="click, two samples", unit="dB", sizes=(-10, -20, -30), plant=click("two"), found=_clicks,
         can_be_masked=True),
    Kind(name="join, missing", unit="samples", sizes=(500, 5000, 64, 10, 3, 1), plant=join, found=_clicks,
         can_be_masked=True, goes_on=1),
    Kind(name="join, again", unit="samples", sizes=(32, 10, 3, 1), plant=again, found=_clicks,
         can_be_masked=True, goes_on=-1),
    Kind(name="join, held value", unit="samples", sizes=(64, 32, 16, 8, 4, 2), plant=held, found=_clicks,
         can_be_masked=True),
)  # fmt: skip


def hear(samples: Samples, rate_hz: int, *, bits: int = 24, dither: bool = False) -> Damage:
    """As a scan of a 24-bit file hears it. bits, dither: of the audio in it."""
    meter = DamageMeter(rate_hz, samples.shape[1], bits=24, is_float=False)
    meter.add(quantise(samples, bits, dither=dither))
    return meter.result()


def places(samples: Samples, rate_hz: int, seed: int) -> list[int]:
    """Frames inside sound: 50 ms around them stay within 20 dB of the stem's own level and above −50 dBFS."""
    hop = rate_hz // 100
    loudest = samples[np.arange(len(samples)), np.abs(samples).argmax(axis=1)].astype(np.float64)
    levels = np.sqrt((loudest[: len(loudest) // hop * hop].reshape(-1, hop) ** 2).mean(axis=1))
    sounding = levels[levels > 1e-3]
    if len(sounding) < 50:
        return []
    least = max(0.1 * np.sqrt(np.mean(sounding**2)), 10 ** (-50 / 20))
    fit = [k for k in range(50, len(levels) - 60) if levels[k - 2 : k + 3].min() > least]
    random = np.random.default_rng(seed)
    random.shuffle(fit)
    chosen: list[int] = []
    for k in fit:
        if len(chosen) < EACH and all(abs(k - other) * hop > APART_S * rate_hz for other in chosen):
            chosen.append(k)
    return sorted(int(k * hop + random.integers(0, hop)) for k in chosen)


@dataclass(frozen=True, kw_only=True)
class Planted:
    """One planted fault: whether it was told, and whether the sound hides it from the ear or any filter."""

    found: bool
    masked: bool
    drowned: bool = False


def plant_and_hear(kind: Kind, size: float, samples: Samples, rate_hz: int, seed: int) -> list[Planted]:
    """All plantings of one stem; places come from the seed alone."""
    damaged = samples.copy()
    truth: list[tuple[int, bool, bool]] = []
    for at in reversed(places(samples, rate_hz, seed)):
        before = len(damaged)
        damaged, where = kind.plant(damaged, rate_hz, at, size)
        masked = drowned = False
        if kind.can_be_masked:
            added, sound = _added(samples, damaged, rate_hz, at, kind.goes_on * int(size))
            masked, drowned = _masked(added, sound, rate_hz), _drowned(added, sound, rate_hz)
        truth = [
            (where, masked, drowned),
            *((later + len(damaged) - before, *were) for later, *were in truth),
        ]
    found = kind.found(hear(damaged, rate_hz, bits=kind.bits, dither=kind.dither)) if truth else []
    return [
        Planted(found=any(abs(one - at) <= kind.slack for one in found), masked=masked, drowned=drowned)
        for at, masked, drowned in truth
    ]


def _added(clean: Samples, damaged: Samples, rate_hz: int, at: int, later: int) -> tuple[Wave, Wave]:
    """What a fault adds, and the sound without it, 45 ms to either side, shape (frames, channels).

    later: at a join, by how many samples the sound goes on later than it should; it is laid beside the same
    join made with a crossfade.
    """
    reach, half = round(0.045 * rate_hz), round(0.5 * FADE_S * rate_hz)
    sound = clean[at - reach : at + reach].astype(np.float64)
    if later:
        behind = clean[at - reach + later : at + reach + later].astype(np.float64)
        risen = np.clip((np.arange(2 * reach) - reach + half) / (2 * half), 0.0, 1.0)[:, None]
        sound = (1.0 - risen) * sound + risen * behind
    return damaged[at - reach : at + reach] - sound, sound


def _masked(added: Wave, sound: Wave, rate_hz: int) -> bool:
    """Whether no channel lets the click be heard."""
    return not any(heard_beside(added[:, k], sound[:, k], rate_hz) for k in range(sound.shape[1]))


def _drowned(added: Wave, sound: Wave, rate_hz: int) -> bool:
    """Whether no linear filter shows it on any channel."""
    return all(stands_out(added[:, k], sound[:, k], rate_hz) < DROWNED for k in range(sound.shape[1]))


def group_of(stem: LabStem) -> str:
    if stem.role in MARKING:
        return "drums, percussion, loops"
    return "voices" if stem.role in VOICES else "other instruments"


def stems(shows: Sequence[LabShow], most: int) -> Iterator[tuple[int, int, str, LabStem]]:
    """(number, rate, song, stem), `most` of each show, spread over its songs."""
    for show in shows:
        listed = [(song.rate_hz, song.name, stem) for song in show.songs for stem in song.stems]
        for number, (rate_hz, name, stem) in enumerate(listed[:: max(1, len(listed) // most)]):
            yield number, rate_hz, name, stem


def table(kinds: Sequence[Kind], shows: Sequence[LabShow], seed: int, most: int) -> Iterator[str]:
    """Lines of text: false alarms first, then recall, kind by kind."""
    chosen = list(stems(shows, most))
    alarms = [
        f"  {name}/{stem.name}, {bits} bits{', dithered' if dither else ''}"
        for _, rate_hz, name, stem in chosen
        for bits, dither in ((24, False), (24, True), (16, True))
        if hear(stem.samples, rate_hz, bits=bits, dither=dither) != Damage()
    ]
    yield f"untouched in three ways: {len(chosen)} stems, {len(alarms)} false alarms"
    yield from alarms
    for kind in kinds:
        for size in kind.sizes:
            cells: dict[str, list[int]] = {}
            for number, rate_hz, _, stem in chosen:
                for one in plant_and_hear(kind, size, stem.samples, rate_hz, 1000 * seed + number):
                    for group in (group_of(stem), "all"):
                        cell = cells.setdefault(
                            group + (", masked" if one.masked else ", drowned" if one.drowned else ""), [0, 0]
                        )
                        cell[0] += one.found
                        cell[1] += 1
            for group, (found, planted) in sorted(cells.items()):
                low, high = wilson(found, planted)
                yield (
                    f"{kind.name:20}{size:6g} {kind.unit:8}{group:34}{found:4}/{planted:<4}"
                    f"{100 * found / max(1, planted):6.1f} % [{100 * low:.0f}–{100 * high:.0f}]"
                )


def main() -> None:
    names = [kind.name for kind in KINDS]
    parser = argparse.ArgumentParser(prog="python -m tests.damage_lab", description=__doc__)
    parser.add_argument("kind", nargs="*", help=f"words of {', '.join(names)}; all by default")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=int, default=20, help="stems of each show")
    given = parser.parse_args()
    kinds = [kind for kind in KINDS if not given.kind or any(word in kind.name for word in given.kind)]
    shows = [corpus(shared_folder("corpus")), demo(), long_show(given.seed, songs=3, seconds=60.0)]
    for line in table(kinds, shows, given.seed, given.most):
        print(line, flush=True)


if __name__ == "__main__":
    main()
