"""A show's folder against its seal: the whole check for `verify`, and the free one that a scan makes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import audit
from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import CREW_ROLES, Show
from audit.findings import ShowAudit
from audit.pipeline.sealed.pairing import Pairing, folder_of, left_its_song, paired_by_path
from audit.pipeline.sealed.show_copies import Copy, copies_of_folder, copies_of_seal
from audit.pipeline.sealed.sketching import packed
from audit.pipeline.settled import judge_with_settings, with_settings
from audit.results import AudioChange, ChangeKind, DeltaState, SealCheck, StemDelta
from audit.rules.seal import RULES as SEAL_RULES
from audit.seal.matching import find_moved
from audit.seal.model import Seal
from audit.seal.names import exact, folded, path_of, times_agree
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
    heard = [
        HeardStem(path_of(song.song.folder, stem.name), song, stem)
        for song in show.songs
        for stem in song.stems
    ]
    folders = {folded(exact(song.song.folder)) for song in show.songs}
    asked = frozenset(song.folder for song in seal.songs if whole or folded(song.folder) in folders)
    sealed = list(copies_of_seal(seal, asked))
    pairing = paired_by_path(sealed, heard)
    pairing.follow(_moved(pairing.missing, pairing.added))
    renamed = pairing.folders()
    return SealCheck(
        sealed_at=seal.sealed_at, stems=len(sealed), deltas=tuple(_deltas(pairing, renamed, heard)),
        songs_moved=tuple(renamed.items()), songs_gone=pairing.songs_gone(),
    )  # fmt: skip


def _moved(missing: Mapping[str, Copy], added: Mapping[str, HeardStem]) -> list[tuple[Copy, HeardStem]]:
    """Those of the same audio; of their files' bytes a scan knows nothing."""
    contents = (
        {path: one.sealed.audio_hash if one.sealed else None for path, one in missing.items()},
        {path: one.audio_hash for path, one in added.items()},
    )
    return [(one.old, one.new) for one in find_moved(missing, added, contents)]


def _deltas(
    pairing: Pairing[HeardStem], folders: Mapping[str, str], heard: Sequence[HeardStem]
) -> Iterator[StemDelta]:
    """folders: those that were renamed as a whole, was -> is; heard: every stem of the scan."""
    for one, now in pairing.same:
        if delta := _compared(one, now):
            yield delta
    for one, now in pairing.renamed:
        if delta := _compared(one, now):
            yield replace(delta, state=DeltaState.CHANGED, was=one.path)
    for one, now in pairing.moved:
        yield _elsewhere(one, now, folders)
    yield from _missing(pairing.missing.values(), folders, heard)
    yield from _new(pairing.added.values(), pairing.olds)


def _elsewhere(old: Copy, now: HeardStem, folders: Mapping[str, str]) -> StemDelta:
    return StemDelta(
        state=DeltaState.MOVED, path=now.path, song=now.song.name, stem=now.stem.name, was=old.path,
        was_song=old.song if left_its_song(old, now, folders) else None, audio_differs=False,
    )  # fmt: skip


def _missing(
    missing: Iterable[Copy], folders: Mapping[str, str], heard: Sequence[HeardStem]
) -> Iterator[StemDelta]:
    """Told of the song that plays without it, which may have another name now."""
    songs = {folder_of(one.path): one.song.name for one in heard}
    for copy in missing:
        song = songs.get(folders.get(folder_of(copy.path), ""), copy.song)
        yield StemDelta(state=DeltaState.MISSING, path=copy.path, song=song, stem=copy.stem)


def _new(added: Iterable[HeardStem], olds: Sequence[Copy]) -> Iterator[StemDelta]:
    """`same_as`: the first sealed stem with the same audio."""
    holders = {one.sealed.audio_hash: one.path for one in reversed(olds) if one.sealed is not None}
    for one in added:
        same = holders.get(one.audio_hash) if one.audio_hash is not None else None
        yield StemDelta(
            state=DeltaState.NEW, path=one.path, song=one.song.name, stem=one.stem.name, same_as=same
        )


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
    def audio_hash(self) -> str | None:
        return self.stem.audio.content_hash if self.stem.audio is not None else None

    @property
    def why_unread(self) -> str | None:
        return None if self.stem.audio is not None else self.stem.failure or "it could not be decoded"

    @property
    def fingerprint(self) -> bytes:
        part = self.stem.main_part
        return b"" if part is None else packed(part.measures.fingerprint)


def _compared(old: Copy, new: HeardStem) -> StemDelta | None:
    was, now = old.sealed, new.stem
    if was is None or was.format is None or now.audio is None:
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
        state=DeltaState.DECAYED if stamp else DeltaState.CHANGED,
        path=new.path, song=new.song.name, stem=now.name, changes=changes,
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
