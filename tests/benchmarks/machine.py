"""`python -m tests.benchmarks.machine [study]`: the load model against this machine.

Without a word: 16, 32 and 64 stereo stems (24-bit WAV; FLAC; 44.1 kHz in a 48 kHz player) are forecast and
streamed. The processor time of the refills a second of the show stands beside the forecast's (other jobs do
not count in it), and the highest speed that stays in time beside the forecast's (there they do).
`study`: the same song with a slow reader or a slow mixer, probed and rehearsed under the same hindrance; no
forecast may say "fits" where the rehearsal at its own speed is dirty.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import soundfile as sf

from audit.decode.header import read_header
from audit.load.demand import EngineSetup, SongLoad, load_of_stem
from audit.load.figure import Figure, Provenance, estimate
from audit.load.forecast import forecast_song
from audit.load.profile import Profile, numbers_of
from audit.load.usage import usage_of
from audit.machine import cpu_probe
from audit.machine.disk_probe import measure_disk
from audit.machine.hindrance import FREE, Hindrance
from audit.machine.material import music, write_stems
from audit.machine.probe import probe
from audit.machine.rehearsal import rehearse
from audit.results.load import Fit

SETUP = EngineSetup(frames=256, refill_s=0.25, prebuffer_s=0.5)
STUDY = EngineSetup(frames=8192, refill_s=0.5, prebuffer_s=1.0)
"""A buffer that rides out what else a shared machine does: the hindrance decides, not the neighbours."""

KINDS = {"24-bit WAV": ("WAV", 48000), "FLAC": ("FLAC", 48000), "WAV, converted": ("WAV", 44100)}
MOST_STEMS = 64
SONG_S = 8.0
AGAIN = 20
"""How often a buffer is mixed to learn what one time costs in the study."""


def write_kind(folder: Path, container: str, rate_hz: int) -> list[Path]:
    """64 stereo stems, no two alike."""
    paths = []
    for number in range(MOST_STEMS):
        path = folder / f"{container}-{rate_hz}-{number:02d}.{container.lower()}"
        sf.write(path, music(SONG_S, seed=number), rate_hz, subtype="PCM_24", format=container)
        paths.append(path)
    return paths


def load_of(paths: list[Path]) -> SongLoad:
    stems = []
    for path in paths:
        size = path.stat().st_size
        shape = read_header(path, size_bytes=size).format
        assert shape is not None
        stems.append(load_of_stem(path.name, shape, size))
    return SongLoad(name="benchmark", stems=tuple(stems))


def own_mixer(profile: Profile, setup: EngineSetup, channels: int, hindrance: Hindrance) -> Profile:
    """The profile for this program's own mixer, with its costs at this number of channels."""
    nothing = Figure(value=0.0, unit="s", provenance=Provenance.MEASURED)
    mix = cpu_probe.mix_ns(channels, setup.frames, hindrance)
    return replace(
        profile, callback_base=nothing, callback_per_voice=nothing, cost={**profile.cost, "mix": mix},
        throttle=Figure(value=1.0, unit="1", provenance=Provenance.MEASURED),
    )  # fmt: skip


def forecast_speed(song: SongLoad, profile: Profile, setup: EngineSetup) -> float:
    """How many times its own speed the busier of the two threads could go, files in memory."""
    used = usage_of(song, numbers_of(profile), setup, disk_limit=profile.limits.disk)
    return 1.0 / max(used.decode, used.callback)


def side_by_side() -> None:
    with tempfile.TemporaryDirectory(prefix="stemaudit-bench-") as name:
        folder = Path(name)
        print("probing", flush=True)
        profile = probe(folder, name="here", day=date.today(), setup=SETUP)
        print(
            f"{'stems':>5}  {'kind':15} {'work forecast/measured':>24} {'speed forecast':>15} {'measured':>9}"
        )
        for kind, (container, rate_hz) in KINDS.items():
            paths = write_kind(folder, container, rate_hz)
            for number in (16, 32, 64):
                song = load_of(paths[:number])
                here = own_mixer(profile, SETUP, song.channels, FREE)
                used = usage_of(song, numbers_of(here), SETUP, disk_limit=1.0)
                lone = rehearse(paths[:number], SETUP, seconds=2.0)
                seen = rehearse(paths[:number], SETUP, seconds=1.0, climb=True).headroom or 0.0
                ratio = used.decode / lone.run.refill_work
                work = f"{100 * used.decode:.1f} / {100 * lone.run.refill_work:.1f} % = {ratio:.2f}"
                told = forecast_speed(song, here, SETUP)
                print(f"{number:5d}  {kind:15} {work:>24} {told:14.1f}x {seen:8.1f}x", flush=True)
            for path in paths:
                path.unlink()


@dataclass(frozen=True, kw_only=True)
class Trial:
    hindrance: Hindrance
    said: Fit
    clean: bool


def study(trials_a_kind: int = 24) -> list[Trial]:
    """Hindrances from none to far too much; half of them slow the reader, half the mixer."""
    made: list[Trial] = []
    with tempfile.TemporaryDirectory(prefix="stemaudit-study-") as name:
        folder = Path(name)
        paths = write_kind(folder, "WAV", 48000)[:16]
        song = load_of(paths)
        base = probe(folder, name="here", day=date.today(), setup=STUDY)
        files = write_stems(folder)
        refill_bytes = round(sum(stem.bytes_per_s for stem in song.stems) / len(song.stems) * STUDY.refill_s)
        # Mixed again, a buffer lies in the processor's cache already: one more time is what counts.
        # The fastest there is: what the neighbours took meanwhile is no hindrance of ours.
        again = Hindrance(mix_times=AGAIN)
        mix = min(cpu_probe.mix_ns(song.channels, STUDY.frames, again).value for _ in range(5)) / AGAIN
        once = mix * 1e-9 * song.channels * STUDY.frames
        for step in range(trials_a_kind):
            share = 0.05 + 1.55 * step / (trials_a_kind - 1)  # of the time there is
            slow_reader = Hindrance(read_delay_s=share * STUDY.refill_s / len(paths))
            slow_mixer = Hindrance(mix_times=max(1, round(share * STUDY.period_s / once)))
            for hindrance in (slow_reader, slow_mixer):
                made.append(_trial(base, song, paths, files, refill_bytes, hindrance))
                last = made[-1]
                which = "reader" if hindrance.read_delay_s else "mixer"
                print(
                    f"{which:7} {share:4.2f}  {last.said.value:6} {'clean' if last.clean else 'dirty'}",
                    flush=True,
                )
    return made


def _trial(
    base: Profile,
    song: SongLoad,
    paths: list[Path],
    files: list[Path],
    refill_bytes: int,
    hindrance: Hindrance,
) -> Trial:
    """Probe and rehearse one after the other, so that both see the same machine."""
    late, _ = cpu_probe.lateness(3.0, STUDY.period_s)
    disk = measure_disk(files, refill_bytes, hindrance, reads=24)
    here = own_mixer(base, STUDY, song.channels, hindrance)
    here = replace(here, latency=disk.latency, transfer=disk.transfer, lateness=late)
    # Opening is another question than streaming, and memory is not hindered.
    here = replace(here, limits=replace(here.limits, open_s=60.0), memory_available=estimate(1e12, "B"))
    said = forecast_song(song, here, STUDY).fit
    return Trial(
        hindrance=hindrance, said=said, clean=rehearse(paths, STUDY, seconds=4.0, hindrance=hindrance).clean
    )


def print_study() -> int:
    made = study()
    table = Counter((trial.said.value, "clean" if trial.clean else "dirty") for trial in made)
    print(f"\n{'forecast':10} {'clean':>6} {'dirty':>6}")
    for fit in Fit:
        print(f"{fit.value:10} {table[fit.value, 'clean']:6d} {table[fit.value, 'dirty']:6d}")
    wrong = table["fits", "dirty"]
    print(f"forecast fits, rehearsal dirty: {wrong} of {len(made)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    if sys.argv[1:] == ["study"]:
        sys.exit(print_study())
    side_by_side()
