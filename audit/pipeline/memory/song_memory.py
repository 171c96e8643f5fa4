"""One song in a worker process: what of it is known already, and what is worth keeping once it was heard."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np
import numpy.typing as npt

from audit.cache.identity import hash_file, look_at
from audit.cache.keys import absent, stem_key
from audit.cache.packing import UnpackError, pack, unpack
from audit.cache.records import StemRecord, song_record, stem_evidence, stem_record
from audit.cache.store import Content, Store, now_ns
from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Song, Stem
from audit.pipeline.memory.learned import Learned
from audit.pipeline.memory.recall import identity, key_of, recall_songs
from audit.pipeline.song.ear import Powers, Progress
from audit.pipeline.workers.task import Task
from audit.results import Cause


class SongMemory:
    """Made before the song is heard: it hashes those of its files that size and time do not vouch for."""

    def __init__(self, task: Task, progress: Progress) -> None:
        assert task.memory is not None
        self._task = task
        self._song: Song = task.song
        self._folder: Path = task.memory
        self._hashed: list[Content] = []
        self._trusted: set[str] = set()  # files that size and time vouch for
        with Store(self._folder, only_reads=True) as store:
            self._contents = self._look(store, progress)
            self._key = key_of(task, self._contents)
        self._stem_keys: dict[str, str] = {}  # file -> key, of what has a record
        self._new: dict[str, bytes] = {}
        self._recalled: dict[str, str] = {}  # file -> key of the record that it was taken from

    def song(self) -> SongEvidence | None:
        """The whole song, where it is known."""
        if self._key is None:
            return None
        with Store(self._folder, only_reads=True) as store:
            found = recall_songs(store, [self._task], {self._song.name: self._key})
        if found:
            self._recalled = dict.fromkeys((stem.file for stem in self._song.stems), self._key)
        return found.get(self._song.name)

    def recall(self, stem: Stem, block_frames: int) -> tuple[StemEvidence, Powers] | None:
        """See `audit.pipeline.song.ear.StemMemory`."""
        content = self._contents.get(stem.file)
        if content is None or absent(stem) is not None:
            return None
        key = stem_key(stem, content, block_frames)
        with Store(self._folder, only_reads=True) as store:
            body = store.read("stem", [key]).get(key)
        try:
            record = unpack(body, StemRecord) if body is not None else None
        except UnpackError:
            return None
        if record is None:
            return None
        self._recalled[stem.file] = key
        self._stem_keys[stem.file] = key
        powers: npt.NDArray[np.float32] = np.frombuffer(record.powers, dtype=np.float32)
        return stem_evidence(record, stem), powers.reshape(-1, record.channels)

    def keep(self, heard: StemEvidence, powers: Powers, block_frames: int) -> None:
        """See `audit.pipeline.song.ear.StemMemory`."""
        content = self._contents.get(heard.name)
        if content is None:
            return
        key = stem_key(heard.stem, content, block_frames)
        plain = np.ascontiguousarray(powers, dtype=np.float32)
        self._stem_keys[heard.name] = key
        self._new[key] = pack(stem_record(heard, plain.tobytes(), plain.shape[1]))

    def learned(self, heard: SongEvidence | None = None) -> Learned:
        """What is worth keeping. heard: the song, where it had to be heard.

        Nothing is kept of files that changed meanwhile, nor of what came of this machine's own troubles.
        """
        as_found = [stem for stem in self._song.stems if _as_found(stem)]
        unchanged, paths = {stem.file for stem in as_found}, {identity(stem).path for stem in as_found}
        by_size = sum(file in self._trusted for file in self._recalled)
        key, record = self._key, None
        if heard is not None:
            if not _worth_keeping(heard) or len(unchanged) < len(self._song.stems):
                key = None
            else:
                keys = [self._stem_keys.get(stem.name) if stem.audio else None for stem in heard.stems]
                record = pack(song_record(heard, keys))
        kept = {self._stem_keys[file] for file in unchanged & set(self._stem_keys)}
        return Learned(
            song=self._song.name,
            contents=tuple(one for one in self._hashed if one.identity.path in paths),
            stems={name: body for name, body in self._new.items() if name in kept},
            key=key,
            record=record,
            by_size_and_time=by_size,
            by_content=tuple(key for file, key in self._recalled.items() if file not in self._trusted),
        )

    def _look(self, store: Store, progress: Progress) -> dict[str, str]:
        """The content of each stem by file; those are missing that cannot be read."""
        here = [stem for stem in self._song.stems if absent(stem) is None]
        known = {} if self._task.rehash else store.contents([identity(stem) for stem in here])
        contents: dict[str, str] = {}
        for stem in self._song.stems:
            file, why_absent = identity(stem), absent(stem)
            if why_absent is not None:
                contents[stem.file] = why_absent
            elif file in known:
                contents[stem.file] = known[file]
                self._trusted.add(stem.file)
            else:
                seen_ns = now_ns()
                try:
                    content = hash_file(stem.path, partial(progress, stem.file, 0))
                except (OSError, ValueError):
                    continue  # its own finding tells
                contents[stem.file] = content
                self._hashed.append(Content(identity=file, seen_ns=seen_ns, content=content))
        return contents


def _worth_keeping(song: SongEvidence) -> bool:
    """Not what came of a system short of files or memory, or of a reader without permission."""
    if any(stem.failure and stem.failure_cause in (Cause.OURS, Cause.PERMISSION) for stem in song.stems):
        return False
    heard = any(part.audience and not part.silent for stem in song.stems for part in stem.parts)
    return song.mix_failure is None and (song.mix is not None or not heard)


def _as_found(stem: Stem) -> bool:
    """Whether the file is still the one that the folder walk found."""
    try:
        now = look_at(stem.path)
    except (OSError, ValueError):
        return False
    return (now.size_bytes, now.modified_ns) == (stem.size_bytes, stem.modified_ns) and (
        not stem.file_id or stem.file_id == now.file_id
    )
