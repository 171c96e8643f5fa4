"""The memory of a scan: what earlier ones heard of the same files, and what this one has to tell the next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from types import TracebackType

from audit.cache.keys import absent, between_key
from audit.cache.packing import UnpackError, pack, unpack
from audit.cache.records import BetweenRecord, PairRow, between_record, with_between
from audit.cache.store import Store
from audit.evidence import ShowEvidence, SongEvidence
from audit.pipeline.memory.learned import Learned
from audit.pipeline.memory.pair_memory import PairMemory
from audit.pipeline.memory.recall import identity, key_of, recall_songs
from audit.pipeline.workers.task import Task


class LastScan:
    """Context manager around a scan. Everything in it may be lost at any time, and is then heard again.

    folder: where results are kept. say: told, in a line, where that does not work. rehash: believe no file's
    size and time, but read every file and compare its content.
    """

    def __init__(
        self, folder: Path, say: Callable[[str], object] = lambda words: None, *, rehash: bool = False
    ) -> None:
        self._folder = folder.absolute()
        self._store = Store(self._folder, say)
        self._store.prune()
        self._rehash = rehash
        self._keys: dict[str, str] = {}
        self.by_size_and_time = 0  # stems that were not heard again, as size and time are what they were
        self.by_content = 0  # stems that were not heard again, as their bytes are what they were
        self.copies = 0  # stems that were not heard, as this very scan has heard the same bytes
        self._made: set[str] = set()  # keys of what this scan has found out

    def recall(self, tasks: Sequence[Task]) -> dict[str, SongEvidence]:
        """The songs of which nothing has changed, by name."""
        if self._rehash:
            return {}
        here = [stem for task in tasks for stem in task.song.stems if absent(stem) is None]
        contents = self._store.contents([identity(stem) for stem in here])
        for task in tasks:
            known = {
                stem.file: content
                for stem in task.song.stems
                if (content := absent(stem) or contents.get(identity(stem))) is not None
            }
            if (key := key_of(task, known)) is not None:
                self._keys[task.song.name] = key
        found = recall_songs(self._store, tasks, self._keys)
        self._keys = {name: key for name, key in self._keys.items() if name in found}
        self.by_size_and_time += sum(len(song.stems) for song in found.values())
        return found

    def task(self, task: Task) -> Task:
        """The same task for a worker that may recall single stems."""
        return replace(task, memory=self._folder, rehash=self._rehash)

    def learn(self, learned: Learned) -> None:
        """Keep what a worker found out of a song, at once."""
        copies = sum(key in self._made for key in learned.by_content)
        self.copies += copies
        self.by_content += len(learned.by_content) - copies
        self._made.update(learned.stems)
        self._store.write("stem", learned.stems)
        if learned.key is not None:
            self._keys[learned.song] = learned.key
            if learned.record is not None:
                self._made.add(learned.key)
                self._store.write("song", {learned.key: learned.record})
        self._store.remember(learned.contents)
        self.by_size_and_time += learned.by_size_and_time

    def compared(
        self, show: ShowEvidence, compare: Callable[[ShowEvidence, PairMemory], ShowEvidence]
    ) -> ShowEvidence:
        """The show with what shows between its songs; `compare` finds out what is not known."""
        if any(song.name not in self._keys for song in show.songs if song.stems):
            return self._paired(show, compare)
        key = between_key({song.name: self._keys.get(song.name, "no stems") for song in show.songs})
        body = self._store.read("between", [key]).get(key)
        if body is not None:
            with suppress(UnpackError, ValueError):  # damaged: compared again
                return with_between(unpack(body, BetweenRecord), show)
        whole = self._paired(show, compare)
        self._store.write("between", {key: pack(between_record(whole))})
        return whole

    def _paired(
        self, show: ShowEvidence, compare: Callable[[ShowEvidence, PairMemory], ShowEvidence]
    ) -> ShowEvidence:
        """Only pairs of songs that are not known are compared."""
        rows = {}
        for key, body in self._store.read("pairs", self._keys.values()).items():
            with suppress(UnpackError, ValueError):
                rows[key] = unpack(body, PairRow).pairs
        memory = PairMemory(self._keys, rows)
        whole = compare(show, memory)
        self._store.write("pairs", {key: pack(PairRow(pairs=row)) for key, row in memory.touched().items()})
        return whole

    def __enter__(self) -> LastScan:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._store.close()
