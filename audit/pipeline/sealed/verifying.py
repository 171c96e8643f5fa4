"""Two copies of a show, stem by stem: what is missing, new, moved, changed or decayed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from audit.pipeline.sealed.change import storage_change
from audit.pipeline.sealed.changed_stem import explain
from audit.pipeline.sealed.damaged_side import damaged_side
from audit.pipeline.sealed.pairing import left_its_song, paired_by_path
from audit.pipeline.sealed.show_copies import Copy
from audit.pipeline.sealed.zero_tail import ends_in_zeros
from audit.results import AudioChange, ChangeKind, DeltaState, StemDelta, Suspect
from audit.seal.matching import find_moved
from audit.seal.names import loose, times_agree

Told = Callable[[str, str, int], object]
"""Told (song, stem, bytes done)."""

BROKEN = frozenset({ChangeKind.UNREADABLE, ChangeKind.SOUNDS})
"""Said of a stem of which one copy cannot be decoded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Differences:
    """What came of it. `deltas`: song by song in the old copy's order, new songs last."""

    deltas: tuple[StemDelta, ...]
    stems: int  # of the old copy
    not_read: int
    could_not_read: tuple[tuple[str, str], ...]
    songs_moved: tuple[tuple[str, str], ...]
    songs_gone: tuple[tuple[str, int], ...]  # (song, stems) of which nothing is left


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
    pairing = paired_by_path(old, new)
    to_read = [pair for pair in pairing.same if not quick or not _same_stamp(*pair)]
    _read([*(other for _, other in to_read), *(one for one, _ in to_read)], jobs, told)
    _read([*pairing.missing.values(), *pairing.added.values()], jobs, told)
    pairing.follow(_moved(pairing.missing, pairing.added))
    folders = pairing.folders()
    read = [*to_read, *pairing.renamed]
    why_unread = [one.why_unread or other.why_unread for one, other in read]
    readable = [pair for pair, why in zip(read, why_unread, strict=True) if why is None]
    deltas = [
        *_changes(readable, _holders(to_read), told),
        *(_elsewhere(one, other, folders) for one, other in pairing.moved),
        *(_missing(copy) for copy in pairing.missing.values()),
        *(_new(copy, old) for copy in pairing.added.values()),
    ]
    return Differences(
        deltas=_by_song(deltas, old, new),
        stems=len(old),
        not_read=len(pairing.same) - len(to_read),
        could_not_read=tuple(
            (other.path, why) for (_, other), why in zip(read, why_unread, strict=True) if why is not None
        ),
        songs_moved=tuple(folders.items()),
        songs_gone=pairing.songs_gone(),
    )


def _same_stamp(old: Copy, new: Copy) -> bool:
    return old.size_bytes == new.size_bytes and times_agree(old.modified_ns, new.modified_ns)


def _read(copies: Sequence[Copy], jobs: int, told: Told) -> None:
    """Hash the files, several at a time: disks like it, and hashing lets go of Python's lock."""

    def read(copy: Copy) -> None:
        if copy.sealed is None:
            told(copy.song, copy.stem, 0)
            _ = copy.file_hash
            told(copy.song, copy.stem, copy.size_bytes)

    with ThreadPoolExecutor(max_workers=jobs) as pool:
        list(pool.map(read, copies))


def _moved(missing: Mapping[str, Copy], added: Mapping[str, Copy]) -> list[tuple[Copy, Copy]]:
    """By all bytes first, then by the audio alone: a renamed stem may have got other metadata too."""
    if not missing or not added:
        return []
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


def _holders(pairs: Sequence[tuple[Copy, Copy]]) -> dict[str | None, str]:
    """By the hash of a file, the path that it had in the old copy; of stems that sound."""
    return {one.file_hash: one.path for one, _ in pairs if one.why_unread is None and _sounding(one)}


def _changes(
    pairs: Sequence[tuple[Copy, Copy]], holders: Mapping[str | None, str], told: Told
) -> Iterator[StemDelta]:
    """Of those whose bytes are other ones. pairs: of which both can be read."""
    for one, other in pairs:
        if one.file_hash != other.file_hash:
            told(other.song, other.stem, 0)
            yield _changed(one, other, holders.get(other.file_hash))


def _changed(old: Copy, new: Copy, holder: str | None) -> StemDelta:
    """holder: the old stem whose very file this now is: names were exchanged, or one put over the other."""
    # Files of one bounce have one size and hardly differ in time: a file of the show under another's name was
    # put there, whatever its stamp says.
    same_stamp = holder is None and _same_stamp(old, new)
    changes, audio_differs = explain(old, new)
    if holder is not None and audio_differs:
        changes = (AudioChange(kind=ChangeKind.OTHER, now=holder),)
    state = DeltaState.DECAYED if same_stamp else DeltaState.CHANGED
    if same_stamp:
        changes = tuple(
            replace(one, kind=ChangeKind.DIFFERS) if one.kind is ChangeKind.EDITED else one for one in changes
        )
    suspect = _suspect(old, new, changes, same_stamp=same_stamp) if audio_differs and holder is None else None
    other_name = loose(old.path) != loose(new.path)
    if other_name:  # silence is known by its name only: of the same content, and moved
        state = DeltaState.CHANGED if audio_differs else DeltaState.MOVED
    return StemDelta(
        state=state, path=new.path, song=new.song, stem=new.stem,
        was=old.path if other_name else None, changes=changes, audio_differs=audio_differs, suspect=suspect,
    )  # fmt: skip


def _suspect(old: Copy, new: Copy, changes: Sequence[AudioChange], *, same_stamp: bool) -> Suspect | None:
    """Which of two copies on disk is the damaged one; None where neither need be: somebody edited it."""
    kinds = {change.kind for change in changes}
    if ChangeKind.BROKEN_OFF in kinds:
        return Suspect(of_old=old.broken_off or (not new.broken_off and ends_in_zeros(new, old) is None))
    broken = bool(kinds & BROKEN) and (old.audio is None) != (new.audio is None)
    if not (same_stamp or broken or ChangeKind.DAMAGED in kinds or old.size_bytes == new.size_bytes):
        return None
    suspect = damaged_side(old, new, changes, saved=not same_stamp)
    # Another time and more than a sample: a bounce may have the size of the one before.
    sure = same_stamp or broken or suspect.of_old is not None or kinds == {ChangeKind.SAMPLE}
    return suspect if sure else None


def _elsewhere(old: Copy, new: Copy, folders: Mapping[str, str]) -> StemDelta:
    """folders: those that were renamed as a whole."""
    changes = (storage_change(old.format, new.format),) if old.file_hash != new.file_hash else ()
    return StemDelta(
        state=DeltaState.MOVED, path=new.path, song=new.song, stem=new.stem, was=old.path,
        was_song=old.song if left_its_song(old, new, folders) else None, changes=changes, audio_differs=False,
    )  # fmt: skip


def _missing(copy: Copy) -> StemDelta:
    return StemDelta(state=DeltaState.MISSING, path=copy.path, song=copy.song, stem=copy.stem)


def _new(copy: Copy, olds: Sequence[Copy]) -> StemDelta:
    return StemDelta(
        state=DeltaState.NEW, path=copy.path, song=copy.song, stem=copy.stem, same_as=_known_as(copy, olds)
    )


def _known_as(copy: Copy, olds: Sequence[Copy]) -> str | None:
    """The old stem whose audio a new one holds. What was not read because it is as it was is read for this
    only where the sizes are the same."""
    for old in olds:
        cheap = old.sealed is not None or old.size_bytes == copy.size_bytes
        if cheap and old.file_hash is not None and old.file_hash == copy.file_hash:
            return old.path
    sealed = [old for old in olds if old.sealed is not None]
    if not sealed or copy.why_unread is not None or (audio := _sounding(copy)) is None:
        return None
    return next((old.path for old in sealed if _sounding(old) == audio), None)


def _by_song(
    deltas: Sequence[StemDelta], olds: Sequence[Copy], news: Sequence[Copy]
) -> tuple[StemDelta, ...]:
    """Song by song as the old copy has them, stem by stem; new stems behind the others of their song."""
    songs: dict[str, int] = {}
    place: dict[str, int] = {}
    for number, copy in enumerate([*olds, *news]):
        songs.setdefault(copy.song, len(songs))
        place.setdefault(copy.path, number)

    def order(delta: StemDelta) -> tuple[int, bool, int]:
        song = songs[delta.was_song or delta.song]
        return song, delta.state is DeltaState.NEW, place[delta.was or delta.path]

    return tuple(sorted(deltas, key=order))
