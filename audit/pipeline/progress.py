"""What the pipeline tells someone who waits: where it is, how much is left."""

from __future__ import annotations

from typing import Protocol


class Watcher(Protocol):
    """Told of the scan's course, always in the main process. `bytes_done` counts since the last call."""

    def begin(self, songs: int, total_bytes: int) -> None: ...

    def song_started(self, song: str) -> None: ...

    def stem_progress(self, song: str, stem: str, bytes_done: int) -> None: ...

    def song_done(self, song: str) -> None: ...

    def end(self) -> None: ...


class Unwatched:
    """Nobody waits: a script, a pipe, a test."""

    def begin(self, songs: int, total_bytes: int) -> None:
        pass

    def song_started(self, song: str) -> None:
        pass

    def stem_progress(self, song: str, stem: str, bytes_done: int) -> None:
        pass

    def song_done(self, song: str) -> None:
        pass

    def end(self) -> None:
        pass
