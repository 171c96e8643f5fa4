"""A song streamed on this machine under the deadlines of a show: refill threads, a mixer at its due times.

Round r of the refills must be finished when the mixer comes to its first frame; it may begin when the slot
it goes into has been played. Times are absolute: what is late stays late, nothing is put off.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from audit.errors import UnreadableAudioError, UsageError
from audit.load.demand import EngineSetup
from audit.machine.busy import Others
from audit.machine.cold import drop
from audit.machine.hindrance import FREE, Hindrance
from audit.machine.mixer import Mixer
from audit.machine.streaming import SongStream
from audit.results.rehearsal import Rehearsal, Run

WAKE_S = 2e-3
"""At higher speeds the mixer does all callbacks that are due whenever it wakes, at most this often: an
ordinary thread cannot wake more often."""

CLIMB_ROUNDS = 6
TRIES = 3
STEPS_BETWEEN = 3
HIGHEST_SPEED = 4096.0


Tell = Callable[[str], None]


def rehearse(
    paths: Sequence[Path],
    setup: EngineSetup,
    *,
    seconds: float,
    climb: bool = False,
    hindrance: Hindrance = FREE,
    tell: Tell = lambda words: None,
    stop: threading.Event | None = None,
) -> Rehearsal:
    """Stream the stems for so many seconds of the show's time, or climb until the first late round.

    tell: hears what is going on. stop: set from outside, ends it early. Raises UsageError where no stem can
    be streamed.
    """
    stop, others = stop or threading.Event(), Others()
    cold = drop(paths)
    opening_cold = _opening_s(paths, setup, hindrance)
    opening_warm = _opening_s(paths, setup, hindrance)

    def at(speed: float, rounds: int) -> Run:
        return _run(paths, setup, speed=speed, rounds=rounds, hindrance=hindrance, tell=tell, stop=stop)

    runs: list[Run] = []
    if climb:
        headroom, runs = _climb(at, stop)
        chosen = max((run for run in runs if run.keeps_up), key=lambda run: run.speed, default=runs[-1])
    else:
        headroom = None
        chosen = at(1.0, max(2, round(seconds / setup.refill_s)))
    with _open(paths, setup, hindrance) as song:
        stems, failed = len(song.stems), tuple(song.failed)
    return Rehearsal(
        stems=stems, frames=setup.frames, rate_hz=setup.rate_hz, refill_s=setup.refill_s,
        prebuffer_s=setup.prebuffer_s, run=chosen, headroom=headroom, climb=tuple(runs),
        opening_cold_s=opening_cold, opening_warm_s=opening_warm, surely_cold=cold == "fadvise",
        failed=failed, stopped=stop.is_set(), others=others.share(),
    )  # fmt: skip


def _climb(at: Callable[[float, int], Run], stop: threading.Event) -> tuple[float, list[Run]]:
    """Doubles the speed up to the first late round, then halves the distance a few times.

    A late round is tried again: what else the machine does must not be taken for its limit.
    """
    runs: list[Run] = []

    def keeps_up(speed: float) -> bool:
        for _ in range(TRIES):
            runs.append(at(speed, CLIMB_ROUNDS))
            if runs[-1].keeps_up or stop.is_set():
                break
        return runs[-1].keeps_up

    speed = 1.0
    while speed <= HIGHEST_SPEED and not stop.is_set() and keeps_up(speed):
        speed *= 2.0
    clean, dirty = (speed / 2.0 if speed > 1.0 else 0.0), speed
    for _ in range(STEPS_BETWEEN if clean and not stop.is_set() else 0):
        middle = (clean * dirty) ** 0.5
        clean, dirty = (middle, dirty) if keeps_up(middle) else (clean, middle)
    return clean, runs


def _open(paths: Sequence[Path], setup: EngineSetup, hindrance: Hindrance) -> SongStream:
    slots = max(2, round(setup.prebuffer_s / setup.refill_s))
    song = SongStream(paths, rate_hz=setup.rate_hz, refill_s=setup.refill_s, slots=slots, hindrance=hindrance)
    if not song.stems:
        raise UsageError(f"no stem can be streamed: {song.failed[0] if song.failed else 'there is none'}")
    return song


def _opening_s(paths: Sequence[Path], setup: EngineSetup, hindrance: Hindrance) -> float:
    """From opening the first file to the last stem's first refill."""
    start = time.perf_counter()
    with _open(paths, setup, hindrance) as song:
        for stem in range(len(song.stems)):
            song.refill(stem, 0)
        return time.perf_counter() - start


class _Refills(threading.Thread):
    """Fills round after round, each when its slot is free."""

    def __init__(
        self, song: SongStream, setup: EngineSetup, speed: float, rounds: int, start: float,
        stop: threading.Event,
    ) -> None:  # fmt: skip
        super().__init__(name="refills", daemon=True)
        self._song, self._rounds, self._halt = song, rounds, stop
        self._threads = min(setup.refill_threads, len(song.stems))
        self.round_s = setup.refill_s / speed
        self._start_at = start
        self.filled = song.slots - 1  # rounds that are in the ring
        self.late = 0
        self.worst = 0.0
        self.work_s = 0.0  # processor time, of one thread alone
        self.failure: str | None = None

    def run(self) -> None:
        began_work = time.thread_time()
        try:
            with ThreadPoolExecutor(self._threads) as pool:
                for number in range(self._song.slots - 1, self._rounds + self._song.slots - 1):
                    free_at = self._start_at + (number - self._song.slots + 1) * self.round_s
                    if not _sleep_until(free_at, self._halt):
                        return
                    began = time.perf_counter()
                    stems = range(len(self._song.stems))
                    if self._threads == 1:
                        for stem in stems:
                            self._song.refill(stem, number)
                    else:
                        list(pool.map(partial(self._song.refill, round_number=number), stems))
                    ended = time.perf_counter()
                    self.filled = number + 1
                    self.worst = max(self.worst, (ended - began) / self.round_s)
                    # Due when the mixer comes to it; with two slots that is one round after it could begin.
                    self.late += ended > self._start_at + number * self.round_s
        except UnreadableAudioError as error:
            self.failure = str(error)
        finally:
            self.work_s = time.thread_time() - began_work


def _sleep_until(due: float, stop: threading.Event) -> bool:
    """False where it was stopped meanwhile."""
    left = due - time.perf_counter()
    if left > 0.2:
        if stop.wait(left - 0.1):
            return False
        left = due - time.perf_counter()
    if left > 0:
        time.sleep(left)
    return not stop.is_set()


def _run(
    paths: Sequence[Path],
    setup: EngineSetup,
    *,
    speed: float,
    rounds: int,
    hindrance: Hindrance,
    tell: Tell,
    stop: threading.Event,
) -> Run:
    with _open(paths, setup, hindrance) as song:
        for number in range(song.slots - 1):  # the prebuffer, less the slot that the first round fills
            for stem in range(len(song.stems)):
                song.refill(stem, number)
        mixer = Mixer(song.rows, setup.frames, hindrance)
        mixer.mix(song.block(0, setup.frames))
        cpu_before, start = time.process_time(), time.perf_counter() + 0.05
        refills = _Refills(song, setup, speed, rounds, start, stop)
        refills.start()
        mix_before = time.thread_time()
        try:
            callbacks, late, lowest = _mix_all(
                song, mixer, refills, setup, speed=speed, rounds=rounds, start=start, tell=tell, stop=stop
            )
        except BaseException:
            stop.set()
            raise
        finally:
            refills.join()
        took, mix_s = time.perf_counter() - start, time.thread_time() - mix_before
        show_s = max(1e-9, callbacks * setup.period_s)
        return Run(
            speed=speed, rounds=rounds, late_rounds=refills.late, callbacks=callbacks, late_callbacks=late,
            lowest_buffer_s=max(0.0, lowest), worst_round=refills.worst,
            cpu=(time.process_time() - cpu_before) / took, failure=refills.failure,
            refill_work=refills.work_s / show_s, mix_work=mix_s / show_s,
        )  # fmt: skip


def _mix_all(
    song: SongStream, mixer: Mixer, refills: _Refills, setup: EngineSetup, *, speed: float, rounds: int,
    start: float, tell: Tell, stop: threading.Event,
) -> tuple[int, int, float]:  # fmt: skip
    """Callbacks done, callbacks late, seconds of audio held at the worst moment."""
    period_s = setup.period_s / speed
    at_once = max(1, round(WAKE_S / period_s)) if speed > 1.0 else 1
    total = rounds * song.slot_frames // setup.frames
    late, lowest, told_at = 0, setup.prebuffer_s, 0.0
    done = 0
    while done < total and refills.failure is None:
        due = start + (done + at_once - 1) * period_s  # the last of them is due now
        if not _sleep_until(due, stop):
            break
        missed = int((time.perf_counter() - due) / period_s) if speed == 1.0 else 0
        if missed:
            # Buffers that fell due while this thread was not woken are lost, as in any player.
            missed = min(missed, total - done)
            late, done = late + missed, done + missed
            continue
        for _ in range(min(at_once, total - done)):
            frame = done * setup.frames
            held = (refills.filled * song.slot_frames - frame) / setup.rate_hz
            lowest = min(lowest, held)
            mixer.mix(song.block(frame, setup.frames))
            done += 1
        ended = time.perf_counter()
        if ended > due + at_once * period_s:
            late += at_once
        if ended - told_at > 0.5:
            told_at = ended
            played = f"{done * setup.period_s:.0f} s played at speed {speed:.3g}"
            tell(f"{played}; buffer {lowest:.2f} s at worst; late refills {refills.late}")
    return done, late, lowest
