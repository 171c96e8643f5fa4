"""One SQLite file with all that is kept. Whatever goes wrong with it costs time, never a result.

    with Store(folder, say) as store:
        store.contents(identities)  -> {identity: hash of the file's bytes}
        store.read("stem", keys)    -> {key: bytes}
        store.remember(…), store.write("stem", {key: bytes})

Two programs may have it open at once (SQLite's write-ahead log); one that is killed loses what it had not
written, and nothing else. Every row of results carries a check sum: what does not fit it is not read.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

import xxhash

from audit.cache.identity import FileIdentity, vouches

SCHEMA = 1
NAME = f"results-{SCHEMA}.sqlite"
"""Another layout gets another number, and so another file."""

PATIENCE_S = 10.0
"""How long one program waits for another to finish writing."""

ASKED_AGAIN_S = 0.01

UNUSED_DAYS = (60, 14, 3)
MOST_BYTES = 1 << 30
"""What nobody asked for in 60 days goes; of a file larger than a gigabyte, in 14 or 3 days."""

AT_ONCE = 500
"""Values in one question; SQLite takes 999 at least."""

TABLES = """
CREATE TABLE IF NOT EXISTS files (
    path BLOB PRIMARY KEY, size INTEGER, modified_ns INTEGER, file_id INTEGER,
    seen_ns INTEGER, content TEXT, day INTEGER);
CREATE TABLE IF NOT EXISTS kept (
    kind TEXT, key TEXT, day INTEGER, check_sum INTEGER, body BLOB, PRIMARY KEY (kind, key));
CREATE TABLE IF NOT EXISTS notes (name TEXT PRIMARY KEY, value INTEGER);
"""

Say = Callable[[str], object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """A file as it was when its bytes were hashed."""

    identity: FileIdentity
    seen_ns: int  # when the hashing began, nanoseconds of the system's clock
    content: str


class Store:
    """Context manager. After trouble it answers nothing and takes nothing; `say` was told in a line."""

    def __init__(self, folder: Path, say: Say = lambda words: None, *, only_reads: bool = False) -> None:
        self._path = folder / NAME
        self._say = say
        self._only_reads = only_reads  # a worker process: mending is the main process's business
        self._begun_anew = False
        self._base: sqlite3.Connection | None = None
        self._open()

    def contents(self, identities: Sequence[FileIdentity]) -> dict[FileIdentity, str]:
        """The content of those files that are what they were, by path, size, time and number."""
        found: dict[FileIdentity, str] = {}
        wanted = {identity.path: identity for identity in identities}
        with self._guarded():
            for path, size, modified_ns, file_id, seen_ns, content in self._rows(
                "SELECT path, size, modified_ns, file_id, seen_ns, content FROM files WHERE path IN ({})",
                list(wanted),
            ):
                identity = wanted[path]
                same = (size, modified_ns, file_id) == (
                    identity.size_bytes, identity.modified_ns, _signed(identity.file_id),
                )  # fmt: skip
                if same and vouches(identity, seen_ns):
                    found[identity] = content
        return found

    def remember(self, contents: Iterable[Content]) -> None:
        """What these files hold."""
        today = _today()
        rows = [
            (
                one.identity.path, one.identity.size_bytes, one.identity.modified_ns,
                _signed(one.identity.file_id), one.seen_ns, one.content, today,
            )
            for one in contents
        ]  # fmt: skip
        if not rows:
            return
        with self._guarded(), self._written() as base:
            base.executemany("INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?, ?, ?)", rows)

    def read(self, kind: str, keys: Iterable[str]) -> dict[str, bytes]:
        """The results of that kind that are here, by key."""
        found: dict[str, bytes] = {}
        aged: list[str] = []
        today = _today()
        with self._guarded():
            for key, day, check_sum, body in self._rows(
                "SELECT key, day, check_sum, body FROM kept WHERE kind = ? AND key IN ({})",
                list(dict.fromkeys(keys)),
                kind,
            ):
                if check_sum == _check_sum(key, body):
                    found[key] = body
                    aged += [key] if day != today else []
        if aged and not self._only_reads:
            with self._guarded(), self._written() as base:
                rows = [(today, kind, key) for key in aged]
                base.executemany("UPDATE kept SET day = ? WHERE kind = ? AND key = ?", rows)
        return found

    def write(self, kind: str, bodies: Mapping[str, bytes]) -> None:
        """Keep these results of that kind; those of the same key are replaced."""
        today = _today()
        rows = [(kind, key, today, _check_sum(key, body), body) for key, body in bodies.items()]
        if not rows:
            return
        with self._guarded(), self._written() as base:
            base.executemany("INSERT OR REPLACE INTO kept VALUES (?, ?, ?, ?, ?)", rows)

    def count(self, kind: str) -> int:
        """How many results of that kind are here."""
        with self._guarded():
            if self._base is not None:
                return int(
                    self._base.execute("SELECT count(*) FROM kept WHERE kind = ?", (kind,)).fetchone()[0]
                )
        return 0

    def prune(self) -> None:
        """Drop what nobody has asked for in a long time; at most once a day."""
        today = _today()
        with self._guarded(), self._written() as base:
            last = base.execute("SELECT value FROM notes WHERE name = 'pruned'").fetchone()
            if last is not None and last[0] == today:
                return
            for days in UNUSED_DAYS:
                for table in ("kept", "files"):
                    base.execute(f"DELETE FROM {table} WHERE day < ?", (today - days,))
                if self._used_bytes(base) <= MOST_BYTES:
                    break
            base.execute("INSERT OR REPLACE INTO notes VALUES ('pruned', ?)", (today,))

    def close(self) -> None:
        base, self._base = self._base, None
        if base is not None:
            base.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _open(self) -> None:
        with self._guarded():
            try:
                self._path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                self._give_up(error.strerror or str(error))
                return
            self._base = self._laid_out()

    def _laid_out(self) -> sqlite3.Connection:
        """The open file, with its tables. Raises sqlite3.Error.

        SQLite's own patience does not hold while two programs lay a new file out or one that leaves tidies
        up: the other is told "locked" at once. So it is asked again, for as long as it would have waited.
        """
        until = time.monotonic() + PATIENCE_S
        while True:
            base = sqlite3.connect(self._path, timeout=PATIENCE_S, isolation_level=None)
            try:
                # Where a file system knows no write-ahead log, SQLite stays with its journal; both are safe.
                if base.execute("PRAGMA journal_mode").fetchone() != ("wal",):
                    base.execute("PRAGMA journal_mode = WAL")
                base.execute("PRAGMA synchronous = NORMAL")
                if not base.execute("SELECT 1 FROM sqlite_master WHERE name = 'notes'").fetchone():
                    base.executescript(TABLES)
                return base
            except sqlite3.OperationalError as error:
                base.close()
                if not _is_taken(error) or time.monotonic() > until:
                    raise
                time.sleep(ASKED_AGAIN_S)
            except BaseException:
                base.close()
                raise

    def _rows(self, question: str, values: Sequence[object], *before: object) -> Iterator[Sequence[Any]]:
        if self._base is None:
            return
        for start in range(0, len(values), AT_ONCE):
            some = values[start : start + AT_ONCE]
            yield from self._base.execute(question.format(", ".join("?" * len(some))), (*before, *some))

    @contextmanager
    def _written(self) -> Iterator[sqlite3.Connection]:
        """One transaction."""
        if self._base is None:
            raise _GoneError
        self._base.execute("BEGIN IMMEDIATE")
        try:
            yield self._base
            self._base.execute("COMMIT")
        except BaseException:
            if self._base.in_transaction:
                self._base.execute("ROLLBACK")
            raise

    @contextmanager
    def _guarded(self) -> Iterator[None]:
        """Trouble in here ends at a word: the scan goes on without."""
        try:
            yield
        except _GoneError:
            pass
        except sqlite3.OperationalError as error:  # full, locked, read-only, no permission
            self._give_up(str(error))
        except (sqlite3.DatabaseError, TypeError, ValueError):  # torn pages, or columns that hold nonsense
            self._begin_anew()

    def _give_up(self, why: str) -> None:
        self.close()
        self._say(
            f"the results of this scan cannot be kept in {self._path.parent}: {why}; the scan is as good"
        )

    def _begin_anew(self) -> None:
        """Away with a file that is damaged; an empty one takes its place."""
        self.close()
        if self._only_reads or self._begun_anew:
            return
        self._begun_anew = True
        try:
            remove_files(self._path.parent)
        except OSError as error:
            self._give_up(error.strerror or str(error))
            return
        self._say(f"what earlier scans left in {self._path.parent} was damaged and is begun anew")
        self._open()

    def _used_bytes(self, base: sqlite3.Connection) -> int:
        pages, free, size = (
            int(base.execute(f"PRAGMA {name}").fetchone()[0])
            for name in ("page_count", "freelist_count", "page_size")
        )
        return (pages - free) * size


class _GoneError(Exception):
    """There is nothing to write to; `say` was told why."""


def remove_files(folder: Path) -> int:
    """Delete all that is kept in the folder, of any schema; how many bytes that was. Raises OSError."""
    freed = 0
    for path in kept_files(folder):
        freed += path.stat().st_size
        path.unlink()
    return freed


def kept_files(folder: Path) -> list[Path]:
    """The files with results, and SQLite's own beside them."""
    return sorted(folder.glob("results-*.sqlite*")) if folder.is_dir() else []


def now_ns() -> int:
    """The system's clock, which files' times are compared with."""
    return time.time_ns()


def _is_taken(error: sqlite3.Error) -> bool:
    """Whether another program has the file for the moment; Python tells SQLite's own code from 3.11 on."""
    return "locked" in str(error)


def _today() -> int:
    return int(time.time() // 86_400)


def _check_sum(key: str, body: bytes) -> int:
    return _signed(xxhash.xxh3_64_intdigest(key.encode() + body))


def _signed(number: int) -> int:
    """Of 64 bits, as SQLite keeps numbers."""
    return (number & (1 << 64) - 1) - (1 << 64 if number & 1 << 63 else 0)
