"""What a stem was before, told or not: `python -m tests.benchmarks.origin [seed] [stems]`.

Full-band stems (tests/full_band.py) are coded by ffmpeg at several bit rates, and converted from 44.1 to
48 kHz by several resamplers; stems of music are scrambled byte by byte, clipped, and clipped and turned down.
Prints recall with counts and 95 % bounds a kind and size, and the false alarms on the same stems untouched.
Every stem stands alone in its song under its own role. Seed 11 served for tuning; others are fresh.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from scipy import signal

from audit.facts import Role
from audit.measure.stem import StemMeter
from audit.results import StemMeasures
from tests.codecs import coded, converted
from tests.evidence import findings, show, song, stem
from tests.full_band import STEMS, full_band
from tests.lab.kind import wilson
from tests.lab.songs import corpus, demo
from tests.waves import Samples

ROLES = {
    "drum_kit": Role.DRUMS, "hats": Role.PERCUSSION, "shaker": Role.PERCUSSION, "tambourine": Role.PERCUSSION,
    "riser": Role.EFFECTS, "supersaw": Role.SYNTH, "distorted_guitar": Role.GUITAR,
    "lead_vocal": Role.LEAD_VOCAL, "acoustic_guitar": Role.GUITAR, "strings": Role.STRINGS,
    "claps": Role.PERCUSSION, "vinyl_loop": Role.LOOP, "brass": Role.BRASS, "piano": Role.PIANO,
    "band": Role.FULL_MIX,
}  # fmt: skip

CODED = (
    ("libmp3lame", 128), ("libmp3lame", 192), ("libmp3lame", 256), ("aac", 128), ("aac", 192),
    ("libvorbis", 128), ("libopus", 128),
)  # fmt: skip

RULES = ("lossy-source", "upsampled-source", "full-scale-noise", "sample-clipping", "flattened-peaks")

Plant = Callable[[Samples], Samples]


def told(samples: Samples, rate_hz: int, role: Role, bits: int, *, is_float: bool = False) -> set[str]:
    """Which of RULES speak of a stem with these samples, measured as in a scan."""
    meter = StemMeter(rate_hz, samples.shape[1], bits=bits, is_float=is_float)
    for start in range(0, len(samples), 65_536):
        meter.add(samples[start : start + 65_536])
    parts = (tuple(range(samples.shape[1])),)
    measures = meter.result(parts, frames=len(samples), md5_checked=None)
    evidence = show(song("Trial", _stem(measures, role, rate_hz, bits, samples.shape)))
    return {rule for rule in RULES if findings(rule, evidence)}


def _stem(measures: StemMeasures, role: Role, rate_hz: int, bits: int, shape: tuple[int, ...]):  # type: ignore[no-untyped-def]
    from dataclasses import replace

    made = stem("Stem.wav", role=role, rate_hz=rate_hz, bits=bits, channels=shape[1], frames=shape[0])
    part = replace(made.parts[0], measures=measures.parts[0])
    return replace(made, audio=measures, parts=(part,))


def quantised(samples: Samples, bits: int) -> Samples:
    scale = 2.0 ** (bits - 1)
    codes = np.clip(np.round(samples.astype(np.float64) * scale), -scale, scale - 1)
    return np.asarray(codes / scale, np.float32)


def linear(samples: Samples) -> Samples:
    at = np.arange(int(len(samples) * 160 / 147) - 1) * 147 / 160
    return np.stack([np.interp(at, np.arange(len(samples)), side) for side in samples.T], axis=1).astype("f4")


def resamplers(folder: Path) -> dict[str, Plant]:
    made: dict[str, Plant] = {
        "scipy resample_poly": lambda x: signal.resample_poly(x, 160, 147, axis=0).astype("f4"),
        "straight lines": linear,
    }
    try:
        import soxr
    except ImportError:
        pass
    else:
        for quality in ("VHQ", "HQ", "MQ", "LQ", "QQ"):
            made[f"soxr {quality}"] = lambda x, q=quality: soxr.resample(x, 44_100, 48_000, quality=q)
    if shutil.which("ffmpeg"):
        made["ffmpeg swr"] = lambda x: converted(x, 44_100, 48_000, folder)
        made["ffmpeg soxr"] = lambda x: converted(
            x, 44_100, 48_000, folder, filters="aresample=resampler=soxr"
        )
    return made


def _bytes(samples: Samples, width: int) -> np.ndarray:
    codes = np.clip(np.round(samples.astype(float) * 2**31), -(2**31), 2**31 - 1).astype("<i4")
    return np.frombuffer(codes.tobytes(), np.uint8).reshape(-1, 4)[:, 4 - width :].reshape(-1)


def _samples(data: np.ndarray | bytes, width: int, channels: int) -> Samples:
    stream = np.frombuffer(data, np.uint8)
    whole = stream[: len(stream) // (width * channels) * width * channels]
    wide = np.zeros((len(whole) // width, 4), np.uint8)
    wide[:, 4 - width :] = whole.reshape(-1, width)
    wave = np.frombuffer(wide.tobytes(), "<i4") / 2.0**31
    return wave.astype(np.float32).reshape(-1, channels)


def scramblings() -> Iterator[tuple[str, int, Plant]]:
    """Name, bits of the file that results, and how."""
    for width in (2, 3):
        yield (
            f"{8 * width} bits, bytes reversed", 8 * width,
            lambda x, w=width: _samples(_bytes(x, w).reshape(-1, w)[:, ::-1].reshape(-1), w, x.shape[1]),
        )  # fmt: skip
        for shift in range(1, width):
            yield (
                f"{8 * width} bits, {shift} bytes lost", 8 * width,
                lambda x, w=width, s=shift: _samples(_bytes(x, w)[s:], w, x.shape[1]),
            )  # fmt: skip
    yield "24 bits read as 16", 16, lambda x: _samples(_bytes(x, 3), 2, x.shape[1])
    yield "16 bits read as 24", 24, lambda x: _samples(_bytes(x, 2), 3, x.shape[1])
    yield (
        "float read as 24 bits", 24,
        lambda x: _samples(np.frombuffer(x.astype("<f4").tobytes(), np.uint8), 3, x.shape[1]),
    )  # fmt: skip
    yield (
        "random bytes", 16,
        lambda x: _samples(np.random.default_rng(1).bytes(2 * x.size), 2, x.shape[1]),
    )  # fmt: skip


def over(samples: Samples, over_db: float, down_db: float, bits: int, *, dither: bool) -> Samples:
    """Turned up until the peak would be so far over full scale, clipped, turned down, stored."""
    wave = samples.astype(np.float64) * 10 ** (over_db / 20) / np.abs(samples).max()
    top = 1.0 - 2.0 ** -(bits - 1)
    wave = np.clip(wave, -top, top) * 10 ** (-down_db / 20)
    if dither:
        random = np.random.default_rng(7)
        wave = wave + (random.random(wave.shape) - random.random(wave.shape)) * 2.0 ** -(bits - 1)
    return quantised(wave.astype(np.float32), bits)


class Table:
    def __init__(self) -> None:
        self.cells: dict[str, list[tuple[str, bool]]] = {}

    def count(self, cell: str, name: str, found: bool) -> None:
        self.cells.setdefault(cell, []).append((name, found))

    def lines(self) -> Iterator[str]:
        for cell, entries in self.cells.items():
            found, all_of = sum(hit for _, hit in entries), len(entries)
            low, high = wilson(found, all_of)
            missed = [name for name, hit in entries if not hit]
            yield (
                f"  {cell:44}{found:4}/{all_of:<4}{100 * found / all_of:6.1f} % "
                f"[{100 * low:3.0f}–{100 * high:3.0f}]"
                + (f"  not: {', '.join(missed[:4])}" if missed and found else "")
            )


def main(seed: int = 31, stems: int = len(STEMS)) -> None:
    names = STEMS[:: max(1, len(STEMS) // stems)]
    with tempfile.TemporaryDirectory() as place:
        for title, lines in (
            ("full-band stems", _full_band(names, seed, Path(place))),
            ("music", _music(seed)),
        ):
            print(f"{title}, seed {seed}", flush=True)
            for line in lines:
                print(line, flush=True)


def _full_band(names: tuple[str, ...], seed: int, folder: Path) -> Iterator[str]:
    alarms = []
    for rate_hz in (48_000, 44_100):
        table = Table()
        for name in names:
            role = ROLES[name.split()[0]]
            plain = quantised(full_band(name, rate_hz, seed=seed), 24)
            alarms += [(name, rate_hz, rule) for rule in told(plain, rate_hz, role, 24)]
            for encoder, kbit in CODED if shutil.which("ffmpeg") else ():
                if encoder != "libopus" or rate_hz == 48_000:
                    heard = told(coded(plain, rate_hz, encoder, kbit, folder), rate_hz, role, 24)
                    table.count(f"{encoder} {kbit} kbit/s, {rate_hz} Hz", name, "lossy-source" in heard)
        yield from table.lines()
    table = Table()
    for name in names:
        plain = full_band(name, 44_100, seed=seed)
        for how, resample in resamplers(folder).items():
            heard = told(quantised(resample(plain), 24), 48_000, ROLES[name.split()[0]], 24)
            table.count(f"44.1 to 48 kHz, {how}", name, "upsampled-source" in heard)
    yield from table.lines()
    yield f"  untouched: {2 * len(names)} stems, {len(alarms)} false alarms {alarms or ''}"


def _music(seed: int) -> Iterator[str]:
    shared = Path(__file__).parents[3] / "shared" / "corpus"
    shows = [demo(), *([corpus(shared)] if shared.is_dir() else [])]
    table, alarms, count = Table(), [], 0
    for lab_show in shows:
        for lab_song in lab_show.songs:
            for one in lab_song.stems:
                samples = one.samples[: 25 * lab_song.rate_hz]
                if np.abs(samples).max(initial=0.0) < 0.01:
                    continue
                count += 1
                name = f"{lab_song.name}/{one.name}"
                plain = quantised(samples, 24)
                alarms += [(name, rule) for rule in told(plain, lab_song.rate_hz, one.role, 24)]
                for kind, bits, plant in scramblings():
                    heard = told(plant(plain), lab_song.rate_hz, one.role, bits)
                    table.count(f"scrambled: {kind}", name, "full-scale-noise" in heard)
                for over_db in (1.0, 3.0):
                    hot = over(samples, over_db, 0.0, 24, dither=False)
                    heard = told(hot, lab_song.rate_hz, one.role, 24)
                    table.count(f"clipped by {over_db:g} dB", name, "sample-clipping" in heard)
                    for bits, dither in ((24, False), (16, True)):
                        soft = over(samples, over_db, 4.3, bits, dither=dither)
                        heard = told(soft, lab_song.rate_hz, one.role, bits)
                        how = f"{bits} bits{', dithered' if dither else ''}"
                        table.count(
                            f"clipped by {over_db:g} dB, then −4.3 dB, {how}",
                            name,
                            "flattened-peaks" in heard,
                        )
    yield from table.lines()
    yield f"  untouched: {count} stems, {len(alarms)} false alarms {alarms or ''}"


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
