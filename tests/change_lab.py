"""Changes planted in stems of the shared corpus, and how many were told as what they are.

    python -m tests.change_lab [SEED [STEMS]]

`tests/pipeline/test_planted_changes.py` holds single cases; here played music, voices with pauses and
timecode are faded, cut, ridden, filtered and bounced with fewer bits. What was told otherwise is printed in
the words used.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np
import soundfile
from scipy.signal import butter, sosfilt

from audit.measure.samples import Samples
from audit.measure.sketch import SketchMeter
from audit.pipeline.sealed.change import audio_change
from audit.results import ChangeKind, Sketch
from audit.rules.seal_words import changes_in_words
from tests.shared import shared_folder

LONGEST_S = 60
Planted = tuple[str, Samples, set[ChangeKind]]


class Bounced:
    """The new audio, at hand."""

    def __init__(self, wave: Samples, rate_hz: int) -> None:
        self._wave, self._rate_hz = wave, rate_hz

    def sketch_from(self, first_frame: int) -> Sketch:
        meter = SketchMeter(self._rate_hz, self._wave.shape[1], first_frame=first_frame)
        meter.add(self._wave)
        return meter.result()

    def samples_at(self, frames: Sequence[int]) -> Samples:
        places = np.asarray(frames)
        found = np.zeros((len(places), self._wave.shape[1]), dtype=np.float32)
        inside = (places >= 0) & (places < len(self._wave))
        found[inside] = self._wave[places[inside]]
        return found

    def chunk(self, first_frame: int, frames: int) -> Samples:
        return self.samples_at(range(first_frame, first_frame + frames))


def ramp(one: float, other: float, frames: int) -> Samples:
    return np.linspace(one, other, frames, dtype=np.float32)[:, None]


def plants(wave: Samples, rate_hz: int, rng: np.random.Generator) -> Iterator[Planted]:
    """What is done to a stem, by name, with what should be told."""
    sounds = np.flatnonzero(np.abs(wave).max(axis=1) > 0.01)
    first, last = int(sounds[0]), int(sounds[-1])
    third, middle = (last - first) // 3, (first + last) // 2
    yield "quieter", wave * 0.7, {ChangeKind.GAIN}
    faded = wave.copy()
    faded[last - third : last] *= ramp(1, 0, third)
    faded[last:] = 0.0
    yield "faded out", faded, {ChangeKind.FADED_OUT}
    faded = wave.copy()
    faded[first : first + third] *= ramp(0, 1, third)
    yield "faded in", faded, {ChangeKind.FADED_IN}
    down = np.concatenate([ramp(1, 0.3, rate_hz // 2), ramp(0.3, 0.3, third), ramp(0.3, 1, rate_hz // 2)])
    held = wave.copy()
    held[first + third : first + third + len(down)] *= down[: len(wave) - first - third]
    yield "turned down", held, {ChangeKind.RIDDEN}
    swing_db = 3.0 * np.sin(2.0 * np.pi * np.arange(len(wave)) / (11.0 * rate_hz))
    yield "ridden", wave * 10.0 ** (swing_db / 20.0)[:, None], {ChangeKind.RIDDEN}
    yield "4 s out", np.concatenate([wave[:middle], wave[middle + 4 * rate_hz :]]), {ChangeKind.LENGTH}
    more = wave[first + rate_hz : first + 4 * rate_hz]
    yield "3 s in", np.concatenate([wave[:middle], more, wave[middle:]]), {ChangeKind.LENGTH}
    yield "end cut", wave[: last - 2 * rate_hz], {ChangeKind.LENGTH}
    moved = np.concatenate([np.zeros_like(wave[:777]), wave])[: len(wave)]
    yield "later", moved, {ChangeKind.SHIFT}
    noise = rng.uniform(-0.5, 0.5, (2, *wave.shape)).sum(axis=0)
    yield "16 bit, dither", np.round(wave * 2**15 + noise) / 2**15, {ChangeKind.LOWEST_BITS}
    yield "16 bit, cut off", np.floor(wave * 2**15) / 2**15, {ChangeKind.LOWEST_BITS}
    low = butter(2, 3000, fs=rate_hz, output="sos")
    yield "low-passed", sosfilt(low, wave, axis=0), {ChangeKind.PROCESSED}
    high = butter(1, 120, "highpass", fs=rate_hz, output="sos")
    yield "high-passed", sosfilt(high, wave, axis=0), {ChangeKind.PROCESSED}
    yield "saturated", np.tanh(wave * 6.0) / 3.0, {ChangeKind.PROCESSED}
    if wave.shape[1] == 2:
        yield "right silent", wave * np.float32([1, 0]), {ChangeKind.SIDES}
        yield "right upside down", wave * np.float32([1, -1]), {ChangeKind.SIDES}
        if np.abs(wave[:, 0] - wave[:, 1]).max() > 1e-3:
            yield "exchanged", wave[:, ::-1], {ChangeKind.SIDES}
            yield "added up", np.repeat(wave.mean(axis=1, keepdims=True), 2, axis=1), {ChangeKind.SIDES}


def run(seed: int, stems: int) -> None:
    rng = np.random.default_rng(seed)
    paths = sorted(path for path in shared_folder("corpus").rglob("*.*") if path.suffix in (".wav", ".flac"))
    right: Counter[str] = Counter()
    planted: Counter[str] = Counter()
    tried = 0
    for at in rng.permutation(len(paths)):
        wave, rate_hz = soundfile.read(str(paths[at]), always_2d=True, dtype="float32")
        wave = wave[: LONGEST_S * rate_hz]
        if tried == stems:
            break
        if len(wave) < 12 * rate_hz or wave.shape[1] > 2 or np.abs(wave).max() < 0.05:
            continue
        tried += 1
        old = Bounced(wave, rate_hz).sketch_from(0)
        for name, changed, wanted in plants(wave, rate_hz, rng):
            bounced = Bounced((np.round(np.clip(changed, -1, 1) * 2**23) / 2**23).astype("f4"), rate_hz)
            changes = audio_change(old, bounced.sketch_from(0), at_hand=bounced, sounds_alike=lambda: True)
            planted[name] += 1
            if {change.kind for change in changes} == wanted:
                right[name] += 1
            else:
                print(
                    f"  {name}, {paths[at].parent.name}/{paths[at].name}: {changes_in_words(changes)[:160]}"
                )
    for name, number in planted.items():
        print(f"{name:18} {right[name]}/{number}")


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    run(*words, *(1, 20)[len(words) :])
