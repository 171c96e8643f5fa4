"""Measures a few signals and prints the results: run with NUMBA_DISABLE_JIT=1 to have no kernel compiled."""

from __future__ import annotations

import json
from dataclasses import asdict

import numpy as np

from audit.measure.ceiling import CeilingMeter
from audit.measure.damage import DamageMeter
from audit.measure.fingerprint import FingerprintMeter
from audit.measure.flat_tops import FlatTopMeter
from audit.measure.hard_end import HardEndMeter
from audit.measure.nature import NatureMeter
from audit.measure.onsets import OnsetMeter
from audit.measure.scrambled import ScrambledMeter
from audit.measure.side_delay import SideDelayMeter
from audit.measure.steps import StepSums
from audit.measure.tick_events import TickMeter
from audit.measure.timecode import read_frames
from tests import signals
from tests.measure.feeding import fed, measure_chroma


def results() -> dict[str, object]:
    """What the compiled loops of this package say of short signals, in plain numbers."""
    bed = signals.music_bed(0.9)[0]
    clipped = signals.quantise(signals.turn(signals.clip(bed, 8.0)[0], -3.0), 16, dither=True)
    stepped = signals.quantise(signals.music_bed(0.4)[0], 7)
    sums = fed(StepSums(48_000, 2), bed, 7000)
    found: dict[str, object] = {
        "sums": [sums.sums.tolist(), sums.squares.tolist(), sums.peaks.tolist(), sums.products.tolist()]
    }
    for name, take, bits in (("clipped", clipped, 16), ("stepped", stepped, 24)):
        meter = fed(FlatTopMeter(48_000, 2, bits=bits, is_float=False), take, 7000)
        found[name] = [
            meter.result().plateaus,
            meter.result().share,
            [sight._state.tolist() for sight in meter._sights],
        ]
    damaged = signals.dropout(signals.turn(bed[:, :1], 3.0), 20_000, 300)[0]
    damaged[30_000:30_128] = damaged[29_872:30_000]
    damaged[36_000] += np.float32(0.3)
    damaged[41_000:41_020] = damaged[41_000]
    broken = fed(DamageMeter(48_000, 1, bits=24, is_float=False), damaged, 7000).result()
    found["damage"] = [
        [[hole.at_frame, hole.frames, round(hole.level_dbfs, 6)] for hole in broken.holes],
        [[copy.at_frame, copy.frames, copy.lag_frames] for copy in broken.repeats],
        [
            [click.at_frame, round(click.size_dbfs, 4), round(click.above_db, 3), click.held_frames]
            for click in broken.clicks
        ],
    ]
    hidden = signals.noise(0.5, low_hz=6000, rms=0.05)[0] + signals.noise(0.5, rms=1e-4, seed=8)[0]
    hidden[12_345] -= np.float32(0.05)
    under = fed(DamageMeter(48_000, 1, bits=24, is_float=False), hidden, 7000).result()
    # The survey's sums are float32, added up in another order.
    found["hidden"] = [
        [click.at_frame, round(click.size_dbfs, 3), round(click.above_db, 2)] for click in under.clicks
    ]
    for name, take in (
        ("timecode", signals.timecode(1.1, rate_hz=22_050)[0]),
        ("clicks", signals.clicks(2.6, rate_hz=22_050, bpm=240)[0]),
        ("noise", signals.noise(0.6, rate_hz=22_050)[0]),
        ("beeps", signals.beeps(0.6, rate_hz=22_050, low_hz=1000, high_hz=2000)[0]),
    ):
        found[name] = asdict(fed(NatureMeter(22_050, 1), take, 7000).result(0))
    ended = fed(HardEndMeter(22_050, 1), signals.clicks(1.6, rate_hz=22_050, bpm=240)[0], 7000).result((0,))
    found["ends"] = [ended.at_s, ended.stops, ended.hard_stops] if ended else []
    begun = fed(
        OnsetMeter(22_050, 2), np.repeat(signals.clicks(2.6, rate_hz=22_050, bpm=240)[0], 2, axis=1), 7000
    )
    chroma = measure_chroma(signals.beeps(0.6, rate_hz=22_050, low_hz=300, high_hz=2000)[0], 22_050)
    # Every byte may round the other way.
    found["chroma"] = [
        [round(byte / 64.0) for byte in chroma.classes], round(chroma.tonal, 4),
        round(chroma.tuning_agreed, 3),
    ]  # fmt: skip
    meter = FingerprintMeter(1, 4.0)
    spectra = np.random.default_rng(3).random((40, 700)).astype(np.float32) ** 8
    for some in (spectra[:13], spectra[13:]):
        meter.add(0, some)
    printed = meter.result((0,), 0.1)
    found["fingerprint"] = [list(printed.words), list(printed.spectrum_db)]
    # Their sums are float32, added up in another order: the last digits that matter are kept.
    ticks = fed(TickMeter(22_050, 1), signals.clicks(1.6, rate_hz=22_050, bpm=240)[0], 7000).result()
    found["ticks"] = [ticks.at_s.tolist(), ticks.level_db.tolist(), ticks.kind.tolist()]
    found["onsets"] = [
        np.round(begun.result().times_s, 4).tolist(),
        np.round(begun.result().strengths_db, 1).tolist(),
    ]
    # Two channels whose right side is the left one upside down and late, above a wall at 16 kHz nothing.
    walled = signals.quantise(signals.noise(0.5, high_hz=16_000)[0], 24)
    sides = np.concatenate((walled, -np.roll(walled, 20, axis=0)), axis=1)
    edge = fed(CeilingMeter(48_000, 2), sides, 7000).result()
    found["ceiling"] = [
        edge.edge_hz,
        round(edge.drop_db, 3),
        edge.breaks,
        edge.windows,
        round(edge.mirror, 4),
    ]
    delay = fed(SideDelayMeter(48_000, 2), sides, 7000).result()
    found["side delay"] = [round(delay.lowest, 6), delay.lowest_at_ms] if delay else []
    scrambled = signals.quantise(signals.music_bed(1.6)[0], 16)
    swapped = np.round(scrambled * 32_768.0).astype("<i2").byteswap().astype(np.float32) / np.float32(32_768)
    read = fed(ScrambledMeter(48_000, 2, bits=16, is_float=False), swapped, 7000).result()
    found["scrambled"] = [read.windows, read.readable, round(read.roughness_read, 6)]
    code = signals.noise(0.4, rate_hz=22_050, rms=0.02)[0][:, 0]
    code = code + signals.timecode(0.4, rate_hz=22_050, user=0x12345678)[0][:, 0]
    for name, wave in (("frames", code), ("frames backwards", code[::-1].copy())):
        frames = read_frames(wave, 22_050)
        found[name] = [frames[key].tolist() for key in ("word", "start", "end", "level", "edge_error")]
    return found


if __name__ == "__main__":
    print(json.dumps(results()))
