"""Songs taken whole from an earlier scan: nothing here opens a stem, or loads what measures are made with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields

from audit.cache.identity import FileIdentity, identity_of
from audit.cache.keys import song_key
from audit.cache.packing import UnpackError, unpack
from audit.cache.records import SongRecord, StemRecord, song_evidence
from audit.cache.store import Store
from audit.evidence import SongEvidence
from audit.facts import Stem
from audit.pipeline.workers.task import Task

NOT_ASKED = frozenset({"song", "passed_over", "threads", "skip", "probe", "memory", "rehash"})
"""What of a task has no part in the answer, or is in its key by other ways. All the rest counts."""


def identity(stem: Stem) -> FileIdentity:
    """As the folder walk found it."""
    return identity_of(stem.path, stem.size_bytes, stem.modified_ns, stem.file_id)


def key_of(task: Task, contents: Mapping[str, str]) -> str | None:
    """The key of a song whose files have these contents, by stem; None where one of them is not known."""
    if any(stem.file not in contents for stem in task.song.stems):
        return None
    asked = [getattr(task, one.name) for one in fields(task) if one.name not in NOT_ASKED]
    return song_key(task.song, [contents[stem.file] for stem in task.song.stems], *asked)


def recall_songs(store: Store, tasks: Sequence[Task], keys: Mapping[str, str]) -> dict[str, SongEvidence]:
    """The evidence of those songs that are known, by name. keys: by name too; two songs may share one."""
    bodies = store.read("song", keys.values())
    found: dict[str, SongEvidence] = {}
    for task in tasks:
        body = bodies.get(keys.get(task.song.name, ""))
        try:
            if body is None:
                continue
            record = unpack(body, SongRecord)
            wanted = [name for name in record.stems if name is not None]
            stems = {name: unpack(data, StemRecord) for name, data in store.read("stem", wanted).items()}
            evidence = song_evidence(record, task.song, stems, task.passed_over)
        except (UnpackError, ValueError):
            continue  # damaged: the song is heard again, and its record replaced
        if evidence is not None:
            found[task.song.name] = evidence
    return found
