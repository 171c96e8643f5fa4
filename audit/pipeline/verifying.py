"""Two copies of a show, stem by stem: what is missing, new, moved, changed or decayed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from audit.pipeline.explain import explain_audio, explain_storage
from audit.pipeline.show_copies import Copy
from audit.pipeline.sketching import heard_alike
from audit.results import AudioChange, ChangeKind, DeltaState, StemDelta
from audit.seal.matching import find_moved, moved_folders
from audit.seal.names import exact, paired, times_agree

Told = Callable[[str, str, int], object]
"""Told (song, stem, bytes done)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Differences:
    """What came of it. `deltas`: in the old copy's order, new stems last."""

    deltas: tuple[StemDelta, ...]
    stems: int  # of the old copy
    not_read: int
    could_not_read: tuple[tuple[str, str], ...]
    songs_moved: tuple[tuple[str, str], ...]


def differences(
    olds: Iterable[Copy],
    news: Iterable[Copy],
    *,
    quick: bool = False,
    jobs: int = 1,
    told: Told = lambda song, stem, done: None,
) -> Differences:
    """How the new copy differs from the old one.

    quick: a file of the same size and time is taken as unchanged and not read. Where a stem differs it is
    read once more to say how.
    """
    old, new = list(olds), list(news)
    pairs = paired(old, new, lambda copy: copy.path)
    known_old, known_new = {id(one) for one, _ in pairs}, {id(other) for _, other in pairs}
    missing = {copy.path: copy for copy in old if id(copy) not in known_old}
    added = {copy.path: copy for copy in new if id(copy) not in known_new}
    to_read = [
        (one, other)
        for one, other in pairs
        if not quick
        or one.size_bytes != other.size_bytes
        or not times_agree(one.modified_ns, other.modified_ns)
    ]
    _read([*(pair[1] for pair in to_read), *(pair[0] for pair in to_read)], jobs, told)
    moved = _moved(missing, added, jobs, told)
    holders = {one.file_hash: one.path for one, _ in to_read if one.why_unread is None and _sounding(one)}
    found: dict[str, StemDelta] = {}
    could_not: list[tuple[str, str]] = []
    for one, other in to_read:
        why = one.why_unread or other.why_unread
        if why is not None:
            could_not.append((other.path, why))
        elif one.file_hash != other.file_hash:
            told(other.song, other.stem, 0)
            found[one.path] = _changed(one, other, holders.get(other.file_hash))
    for old_copy, new_copy in moved:
        found[old_copy.path] = StemDelta(
            state=DeltaState.MOVED, path=new_copy.path, song=new_copy.song, stem=new_copy.stem,
            was=old_copy.path, audio_differs=False,
        )  # fmt: skip
        del missing[old_copy.path], added[new_copy.path]
    for path, copy in missing.items():
        found[path] = StemDelta(state=DeltaState.MISSING, path=path, song=copy.song, stem=copy.stem)
    fresh = [
        StemDelta(state=DeltaState.NEW, path=path, song=copy.song, stem=copy.stem)
        for path, copy in added.items()
    ]
    kept = {exact(one.path).rpartition("/")[0] for one, other in pairs}
    renamed = moved_folders([(one.path, other.path) for one, other in moved], kept)
    return Differences(
        deltas=(*(found[copy.path] for copy in old if copy.path in found), *fresh),
        stems=len(old),
        not_read=len(pairs) - len(to_read),
        could_not_read=tuple(could_not),
        songs_moved=tuple(renamed.items()),
    )


def _read(copies: Sequence[Copy], jobs: int, told: Told) -> None:
    """Hash the files, several at a time: disks like it, and hashing lets go of Python's lock."""

    def read(copy: Copy) -> None:
        if copy.sealed is None:
            told(copy.song, copy.stem, 0)
            _ = copy.file_hash
            told(copy.song, copy.stem, copy.size_bytes)

    with ThreadPoolExecutor(max_workers=jobs) as pool:
        list(pool.map(read, copies))


def _moved(
    missing: dict[str, Copy], added: dict[str, Copy], jobs: int, told: Told
) -> list[tuple[Copy, Copy]]:
    """By all bytes first, then by the audio alone: a renamed stem may have got other metadata too."""
    if not missing or not added:
        return []
    _read([*missing.values(), *added.values()], jobs, told)
    hashes = tuple({path: copy.file_hash for path, copy in side.items()} for side in (missing, added))
    found = [(one.old, one.new) for one in find_moved(missing, added, (hashes[0], hashes[1]))]
    left_old = {path: copy for path, copy in missing.items() if all(copy is not one for one, _ in found)}
    left_new = {path: copy for path, copy in added.items() if all(copy is not one for _, one in found)}
    if left_old and left_new:
        audio = tuple(
            {path: _sounding(copy) for path, copy in side.items() if copy.why_unread is None}
            for side in (left_old, left_new)
        )
        found += [(one.old, one.new) for one in find_moved(left_old, left_new, (audio[0], audio[1]))]
    return found


def _sounding(copy: Copy) -> tuple[object, ...] | None:
    """Silence is like any silence of its length: no sign of a stem."""
    audio = copy.audio
    return audio if audio is not None and audio[0] is not None else None


def _changed(old: Copy, new: Copy, holder: str | None) -> StemDelta:
    """holder: the old stem whose very file this now is: names were exchanged, or one put over the other."""
    # Files of one bounce have one size and hardly differ in time: a file of the show under another's name was
    # put there, whatever its stamp says.
    same_stamp = (
        holder is None and old.size_bytes == new.size_bytes and times_agree(old.modified_ns, new.modified_ns)
    )
    changes, audio_differs = explain(old, new)
    if holder is not None and audio_differs:
        changes = (AudioChange(kind=ChangeKind.OTHER, now=holder),)
    return StemDelta(
        state=DeltaState.DECAYED if same_stamp else DeltaState.CHANGED,
        path=new.path, song=new.song, stem=new.stem, was=old.path if old.path != new.path else None,
        changes=changes, audio_differs=audio_differs,
    )  # fmt: skip


def explain(old: Copy, new: Copy) -> tuple[tuple[AudioChange, ...], bool]:
    """What differs between two copies of a stem whose bytes do, and whether the audio does."""
    if new.audio is None and old.audio is None:
        return (AudioChange(kind=ChangeKind.METADATA),), old.format is not None or new.format is not None
    if new.audio is None:
        return (AudioChange(kind=ChangeKind.UNREADABLE, now=new.failure or "it holds no audio"),), True
    if old.audio is None:
        return (AudioChange(kind=ChangeKind.SOUNDS, was=old.failure),), True
    if old.audio == new.audio:
        return (explain_storage(old.format, new.format),), False
    assert old.sketch is not None
    assert new.sketch is not None
    changes = explain_audio(
        old.sketch,
        new.sketch,
        resketch=new.sketch_from if new.sealed is None else None,
        bar_s=old.bar_s,
        sounds_alike=lambda: heard_alike(old.fingerprint, new.fingerprint),
    )
    return changes, True
