"""A show's folder against its seal: the whole check for `verify`, and the free one that a scan makes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import audit
from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import CREW_ROLES, Show
from audit.findings import ShowAudit
from audit.pipeline.settled import judge_with_settings, with_settings
from audit.results import AudioChange, ChangeKind, DeltaState, SealCheck, StemDelta
from audit.rules.seal import RULES as SEAL_RULES
from audit.seal.matching import find_moved, moved_folders
from audit.seal.model import Seal, SealedSong, SealedStem
from audit.seal.names import exact, folded, paired, path_of, times_agree
from audit.settings.model import ShowSettings

if TYPE_CHECKING:
    from audit.pipeline.sealed.part_of_show import PartOfShow

Told = Callable[[str, str, int], object]


def verify_show(
    show: Show,
    seal: Seal,
    *,
    quick: bool,
    jobs: int,
    told: Told = lambda song, stem, done: None,
    part: PartOfShow | None = None,
) -> ShowEvidence:
    """The show with what has happened since; its songs without stems, as none is measured.

    part: only these songs, and `show` is theirs.
    """
    from audit.pipeline.sealed.show_copies import copies_of_folder, copies_of_seal
    from audit.pipeline.sealed.verifying import differences

    olds = part.copies(seal) if part is not None else copies_of_seal(seal)
    found = differences(olds, copies_of_folder(show), quick=quick, jobs=jobs, told=told)
    if part is not None:
        found = part.kept(found, seal)
        show = part.checked(found)
    check = SealCheck(
        sealed_at=seal.sealed_at, stems=found.stems, deltas=found.deltas, not_read=found.not_read,
        could_not_read=found.could_not_read, songs_moved=found.songs_moved, songs_gone=found.songs_gone,
        anew=tuple(
            (song.name, song.sealed_at)
            for song in seal.songs
            if song.sealed_at is not None and (part is None or song.name in part.sealed)
        ),
    )  # fmt: skip
    bare = tuple(SongEvidence(song=replace(song, stems=()), stems=()) for song in show.songs)
    return ShowEvidence(show=show, songs=bare, seal=check, partial=part is not None)


def check_heard(show: ShowEvidence, seal: Seal, *, whole: bool) -> SealCheck:
    """What a scan can say without reading anything again: the decoded audio's hash is among its measures.

    Metadata are not looked at. whole: False where only some songs were heard: others are not missing.
    """
    heard = [(path_of(song.song.folder, stem.name), song, stem) for song in show.songs for stem in song.stems]
    folders = {folded(exact(song.song.folder)) for song in show.songs}
    sealed = [
        (stem.path, song, stem)
        for song in seal.songs
        if whole or folded(song.folder) in folders
        for stem in song.stems
    ]
    pairs = paired([*sealed], [*heard], lambda one: one[0])
    return _check(seal, sealed, heard, pairs)  # type: ignore[arg-type]


_Sealed = tuple[str, SealedSong, SealedStem]
_Heard = tuple[str, SongEvidence, StemEvidence]


def _check(
    seal: Seal, sealed: list[_Sealed], heard: list[_Heard], pairs: list[tuple[_Sealed, _Heard]]
) -> SealCheck:
    known = {id(one) for pair in pairs for one in pair}
    missing = {one[0]: one for one in sealed if id(one) not in known}
    added = {one[0]: one for one in heard if id(one) not in known}
    deltas = [delta for (_, _, was), (path, song, now) in pairs if (delta := _compared(was, path, song, now))]
    contents = (
        {path: one[2].audio_hash for path, one in missing.items()},
        {path: one[2].audio.content_hash if one[2].audio else None for path, one in added.items()},
    )
    moved = [(one.old, one.new) for one in find_moved(missing, added, contents)]
    for one, other in moved:
        del missing[one[0]], added[other[0]]
    changed = _renamed(missing, added, moved)
    for one, other in changed:
        del missing[one[0]], added[other[0]]
    kept = {old[0].rpartition("/")[0] for old, _ in pairs}
    folders = {one[0].rpartition("/")[0] for one in sealed}
    renamed = moved_folders([(old[0], new[0]) for old, new in [*moved, *changed]], kept, folders)
    for (was, _, then), (path, song, now) in changed:
        if delta := _compared(then, path, song, now):
            deltas.append(replace(delta, state=DeltaState.CHANGED, was=was))
    for (was, home, _), (path, song, now) in moved:
        there = renamed.get(was.rpartition("/")[0])
        lost = folded(home.folder) != folded(exact(song.song.folder)) and there != path.rpartition("/")[0]
        deltas.append(
            StemDelta(
                state=DeltaState.MOVED, path=path, song=song.name, stem=now.name, was=was,
                was_song=home.name if lost else None, audio_differs=False,
            )
        )  # fmt: skip
    here = {path.rpartition("/")[0]: song.name for path, song, _ in heard}
    for path, home, then in missing.values():
        now_in = here.get(renamed.get(path.rpartition("/")[0], ""), home.name)  # that song plays without it
        deltas.append(StemDelta(state=DeltaState.MISSING, path=path, song=now_in, stem=then.file))
    holders: dict[str | None, str] = {
        stem.audio_hash: path for path, _, stem in reversed(sealed) if stem.audio_hash is not None
    }
    deltas += [
        StemDelta(
            state=DeltaState.NEW, path=path, song=song.name, stem=stem.name,
            same_as=holders.get(stem.audio.content_hash) if stem.audio is not None else None,
        )
        for path, song, stem in added.values()
    ]  # fmt: skip
    stems = Counter(song.name for _, song, _ in sealed)
    left_out = Counter(song.name for _, song, _ in missing.values())
    return SealCheck(
        sealed_at=seal.sealed_at, stems=len(sealed), deltas=tuple(deltas), songs_moved=tuple(renamed.items()),
        songs_gone=tuple((name, number) for name, number in stems.items() if left_out[name] == number),
    )  # fmt: skip


def _renamed(
    missing: Mapping[str, _Sealed], added: Mapping[str, _Heard], moved: list[tuple[_Sealed, _Heard]]
) -> list[tuple[_Sealed, _Heard]]:
    """Those with another name and other audio, known as `verify` knows them. moved: with the same audio."""
    from audit.pipeline.sealed.renamed import renamed_stems
    from audit.pipeline.sealed.show_copies import Copy

    def then(one: _Sealed) -> Copy:
        path, song, stem = one
        return Copy(path=path, song=song.name, stem=stem.file, sealed=stem)

    pairs = [(then(one), HeardStem(*other)) for one, other in moved]
    followed = {(folded(one.folder), folded(other.folder)) for one, other in pairs if one.is_music}
    olds = {path: then(one) for path, one in missing.items()}
    news = {path: HeardStem(*one) for path, one in added.items()}
    found = renamed_stems(olds, news, followed)
    return [(missing[one.path], added[other.path]) for one, other in found]


@dataclass(frozen=True, slots=True)
class HeardStem:
    """A stem that the scan has heard; see audit.pipeline.sealed.renamed.OneStem."""

    path: str
    song: SongEvidence
    stem: StemEvidence

    @property
    def folder(self) -> str:
        return self.path.removesuffix(exact(self.stem.name)).rstrip("/")

    @property
    def is_music(self) -> bool:
        return self.stem.role not in CREW_ROLES

    @property
    def why_unread(self) -> str | None:
        return None if self.stem.audio is not None else self.stem.failure or "it could not be decoded"

    @property
    def fingerprint(self) -> bytes:
        from audit.pipeline.sealed.sketching import packed

        part = self.stem.main_part
        return b"" if part is None else packed(part.measures.fingerprint)


def _compared(was: SealedStem, path: str, song: SongEvidence, now: StemEvidence) -> StemDelta | None:
    if now.audio is None or was.format is None:
        return None  # rules of their own speak of what cannot be read
    frames = was.sketch.frames if was.sketch is not None else was.format.frames
    if now.audio.content_hash == was.audio_hash and now.audio.frames == frames:
        return None
    longer = now.audio.frames - frames
    rate_hz = now.format.sample_rate_hz if now.format else was.format.sample_rate_hz
    changes: tuple[AudioChange, ...] = ()
    if longer:
        length = AudioChange(
            kind=ChangeKind.LENGTH, value=longer / rate_hz, unit="s", frames=longer, placed=False
        )
        changes = (length,)
    stamp = was.size_bytes == now.stem.size_bytes and times_agree(was.modified_ns, now.stem.modified_ns)
    return StemDelta(
        state=DeltaState.DECAYED if stamp else DeltaState.CHANGED, path=path, song=song.name, stem=now.name,
        changes=changes,
    )  # fmt: skip


def judge_seal(show: ShowEvidence, settings: ShowSettings) -> ShowAudit:
    """The show judged by the rules of the seal alone, with the settings' waivers; findings song by song."""
    whole = with_settings(show, settings)
    judged = judge_with_settings(whole, SEAL_RULES, version=audit.__version__, today=None, whole=False)
    songs: dict[str, int] = {}
    for delta in show.seal.deltas if show.seal else ():
        songs.setdefault(delta.was_song or delta.song, len(songs))
    ordered = sorted(judged.show_findings, key=lambda f: (f.severity.rank, songs[f.songs[0]]))
    return replace(judged, show_findings=tuple(ordered))
