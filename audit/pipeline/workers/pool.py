"""Worker processes that survive what they are fed: a stem that brings a decoder down costs that stem only."""

from __future__ import annotations

import multiprocessing
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from audit.evidence import SongEvidence, StemEvidence
from audit.pipeline.memory.learned import Learned
from audit.pipeline.progress import Watcher
from audit.pipeline.workers.patience import is_starved
from audit.pipeline.workers.task import Said, Task
from audit.pipeline.workers.worker import work
from audit.results import Cause

SILENT_TOO_LONG_S = 120.0
"""A worker that says nothing for this long hangs: progress is due several times a second, and a sleeping
network drive needs well under a minute to wake. Own judgement."""

STARVED_TIMES = 4
"""So often as long again for a worker that waits its turn on an overloaded machine. Own judgement."""

CRASHED = "the decoder broke down on it"
OWN_FAULT = "stemaudit itself failed on it: please report the lines it printed"
HUNG = "it was given up: no progress for a long time"


@dataclass(slots=True)
class _Seat:
    """A worker process and what it is doing."""

    process: BaseProcess
    connection: Connection
    task: Task | None = None
    heard_at: float = field(default_factory=time.monotonic)
    starved: int = 0  # how often it was found waiting its turn since it was heard last
    bytes_done: int = 0  # of its task
    sender: threading.Thread | None = None


def listen_to_all(
    tasks: Sequence[Task],
    jobs: int,
    watcher: Watcher,
    learn: Callable[[Learned], object] = lambda learned: None,
) -> Iterator[SongEvidence]:
    """The evidence of every task's song, in the order in which they are done; longest work first.

    learn: told what of a song is worth keeping, as soon as it is heard.

    A worker that crashes or hangs is replaced; its song's stems are then tried one by one, and the song is
    heard again without those that cannot be decoded. On KeyboardInterrupt (or when the caller stops early)
    all workers are gone before the exception travels on.
    """
    waiting = deque(sorted(tasks, key=lambda task: -_bytes(task)))
    context = multiprocessing.get_context("spawn")
    seats: list[_Seat] = []
    trials: dict[str, _Trial] = {}
    try:
        for _ in range(min(jobs, len(waiting))):
            _hire(context, seats, len(seats))
        while waiting or any(seat.task for seat in seats):
            _give_out(waiting, seats, watcher)
            for seat, said in _messages(seats):
                done = None
                if said is None:
                    task, reason = _hire_instead(seat, context, seats)
                    done = _after_crash(task, reason, trials, waiting) if task is not None else None
                elif said.evidence is None:
                    _tell_progress(seat, said, watcher)
                else:
                    done = _finished(seat, said.evidence, said.learned, trials, waiting, learn)
                if done is not None:
                    watcher.song_done(done.name)
                    yield done
    finally:
        for seat in seats:
            _dismiss(seat)


def _give_out(waiting: deque[Task], seats: Sequence[_Seat], watcher: Watcher) -> None:
    for seat in seats:
        if seat.task is None and waiting:
            _give(seat, _with_spare_hands(waiting.popleft(), seats, waiting), watcher)


def _hire_instead(
    seat: _Seat, context: multiprocessing.context.SpawnContext, seats: list[_Seat]
) -> tuple[Task | None, str]:
    """Another worker in the place of a lost one; what that one was at, and why it was lost."""
    task, reason = seat.task, _why_lost(seat.process)
    _dismiss(seat)
    _hire(context, seats, seats.index(seat))
    return task, reason


def _tell_progress(seat: _Seat, said: Said, watcher: Watcher) -> None:
    """Nothing of a song that is heard once more: its bytes were told before."""
    seat.bytes_done += said.bytes_done
    if seat.task is not None and seat.task.probe is None and not seat.task.skip:
        watcher.stem_progress(seat.task.song.name, said.stem or "", said.bytes_done)


def _finished(
    seat: _Seat,
    evidence: SongEvidence,
    learned: Learned | None,
    trials: dict[str, _Trial],
    waiting: deque[Task],
    learn: Callable[[Learned], object],
) -> SongEvidence | None:
    """The song that a worker is done with; None where it was a stem tried by itself."""
    task, seat.task = seat.task, None
    if task is not None and task.probe is not None:
        _after_probe(task, None, trials, waiting)
        return None
    if learned is not None:
        learn(learned)
    return evidence


@dataclass(slots=True)
class _Trial:
    """A song that brought a worker down: its stems are tried one at a time."""

    task: Task
    untried: int
    culprits: dict[str, str] = field(default_factory=dict)


def _after_crash(
    task: Task, reason: str, trials: dict[str, _Trial], waiting: deque[Task]
) -> SongEvidence | None:
    """What to do next; evidence where nothing is left to try."""
    name = task.song.name
    if task.probe is not None:
        _after_probe(task, reason, trials, waiting)
        return None
    if task.skip is not None or len(task.song.stems) == 1:
        return _all_lost(task, reason)
    trials[name] = _Trial(task=task, untried=len(task.song.stems))
    for stem in reversed(task.song.stems):
        alone = replace(task.song, stems=(stem,))
        waiting.appendleft(replace(task, song=alone, probe=stem.file, threads=1))
    return None


def _after_probe(task: Task, reason: str | None, trials: dict[str, _Trial], waiting: deque[Task]) -> None:
    trial = trials[task.song.name]
    trial.untried -= 1
    if reason is not None and task.probe is not None:
        trial.culprits[task.probe] = reason
    if trial.untried == 0:
        waiting.appendleft(replace(trial.task, skip=trial.culprits))


def _why_lost(process: BaseProcess) -> str:
    if process.is_alive():
        return HUNG
    return OWN_FAULT if process.exitcode == 1 else CRASHED  # 1: Python ended it after an exception of ours


def _all_lost(task: Task, reason: str) -> SongEvidence:
    stems = tuple(
        StemEvidence(stem=stem, format=None, faults=(), audio=None, failure=reason, failure_cause=Cause.OURS)
        for stem in task.song.stems
    )
    return SongEvidence(song=task.song, stems=stems, passed_over=task.passed_over)


def _bytes(task: Task) -> int:
    return sum(stem.size_bytes for stem in task.song.stems)


def _hire(context: multiprocessing.context.SpawnContext, seats: list[_Seat], place: int) -> None:
    """A new worker at that place; in one piece, so that no interruption loses sight of its process."""
    ours, theirs = context.Pipe()
    process = context.Process(target=work, args=(theirs,), daemon=True)
    with _interrupts_held():
        process.start()
        seats[place : place + 1] = [_Seat(process=process, connection=ours)]
    theirs.close()


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Ctrl-C waits while a worker is started, and the worker inherits that it is not meant.

    A terminal sends it to every process of the group; one that is still loading Python would answer with a
    traceback before it can say that it does not listen. The mask is this thread's only, and the system gives
    the signal to any thread (a live display has one): so it is also noted instead of raised.
    """
    if threading.current_thread() is not threading.main_thread():
        with _masked():  # Python raises it in the main thread only
            yield
        return
    came: list[int] = []
    usual = signal.signal(signal.SIGINT, lambda number, frame: came.append(number))
    try:
        with _masked():
            yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler if usual is None else usual)
        if came:
            signal.raise_signal(signal.SIGINT)


@contextmanager
def _masked() -> Iterator[None]:
    if not hasattr(signal, "pthread_sigmask"):  # Windows: nothing is inherited
        yield
        return
    resource_tracker.ensure_running()  # it opens the mask again when it starts: so it starts before
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _with_spare_hands(task: Task, seats: Sequence[_Seat], waiting: Sequence[Task]) -> Task:
    """The last song in the workers' whole number of threads, where the others will soon have nothing to do.

    Soon: what is left of their songs is less than half of this one.
    """
    left = sum(_bytes(seat.task) - seat.bytes_done for seat in seats if seat.task is not None)
    if waiting or task.probe is not None or 2 * left > _bytes(task):
        return task
    return replace(task, threads=max(task.threads, len(seats)))


def _give(seat: _Seat, task: Task, watcher: Watcher) -> None:
    seat.task, seat.bytes_done = task, 0
    seat.heard_at, seat.starved = time.monotonic(), 0
    if task.probe is None and not task.skip:
        watcher.song_started(task.song.name)
    seat.sender = threading.Thread(target=_send, args=(seat, task), daemon=True)
    seat.sender.start()


def _send(seat: _Seat, task: Task) -> None:
    """In a thread of its own: a worker that hangs before it listens lets a large task wait for ever."""
    try:
        seat.connection.send(task)
    except OSError:
        seat.heard_at = -SILENT_TOO_LONG_S  # found dead at the next look


def _messages(seats: list[_Seat]) -> list[tuple[_Seat, Said | None]]:
    """What the workers said; None where one died or has been silent for too long."""
    busy = {seat.connection: seat for seat in seats if seat.task is not None}
    heard: list[tuple[_Seat, Said | None]] = []
    for ready in wait(list(busy), timeout=1.0):
        seat = busy.pop(ready)  # type: ignore[call-overload]
        try:
            said: Said | None = seat.connection.recv()
            seat.heard_at, seat.starved = time.monotonic(), 0
        except (EOFError, OSError):
            seat.process.join(5.0)
            said = None
        heard.append((seat, said))
    now = time.monotonic()
    silent = [seat for seat in busy.values() if now - seat.heard_at > SILENT_TOO_LONG_S]
    heard += [(seat, None) for seat in silent if not _waits_its_turn(seat)]
    return heard


def _waits_its_turn(seat: _Seat) -> bool:
    """Silent because others have the processors: it gets as long again, a few times."""
    if seat.starved == STARVED_TIMES or not is_starved(seat.process.pid or 0):
        return False
    seat.heard_at, seat.starved = time.monotonic(), seat.starved + 1
    return True


def _dismiss(seat: _Seat) -> None:
    """End the worker, then close its pipe: a closed pipe with words in it would make it complain aloud."""
    if seat.process.is_alive():
        seat.process.terminate()
        seat.process.join(2.0)
        if seat.process.is_alive():
            seat.process.kill()
    seat.process.join(5.0)
    if seat.sender is not None:
        seat.sender.join(5.0)
    seat.connection.close()
