"""A song's folder made into a Song: its current stems, and what was passed over in it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from audit.facts import PassedOver, Role, Song, Stem, VersionMark
from audit.folder.beginnings import behind, shared_beginning
from audit.folder.clips import CLIPS
from audit.folder.current import Choice, choose
from audit.folder.dropped import dropped
from audit.folder.kinds_of_file import split_extension
from audit.folder.order import natural_key
from audit.folder.roles import NameReading, read_name, without_track_number
from audit.folder.tokens import compose, cut
from audit.folder.tree import AudioFile, Folder, walk_down
from audit.folder.versions import read_mark, take_off_marks
from audit.settings.model import NO_SETTINGS, ShowSettings
from audit.settings.naming import crew_roles, roles_of_stem, settings_of_song
from audit.settings.patterns import plain

_VOICES = frozenset({Role.GUIDE, Role.BACKING_VOCALS, Role.CHOIR})


@dataclass(frozen=True, slots=True)
class _Found:
    """A stem's file on its way to being a Stem."""

    file: str  # relative to the song's folder
    path: str
    audio: AudioFile
    group: str  # the name of the group folder it lies in, "" for none
    reading: NameReading


def gather_song(
    folder: Folder, name: str, settings: ShowSettings = NO_SETTINGS
) -> tuple[Song, list[PassedOver]]:
    """The song in the folder, under the (unique) name; its stems are in natural order."""
    title = without_track_number(name)
    bare = unmarked_title(title)
    wanted = settings_of_song(settings, name, title, bare).version
    gathered = _gather(folder, name, wanted)
    gathered.found = _read_behind_beginning(gathered.found, folder.name)
    stems = [_stem(each, settings, wanted) for each in _settle_versions(gathered.found)]
    title_key, title_mark = title_of(folder)
    versions = tuple(sorted(gathered.versions, key=natural_key))
    song = Song(
        name=name,
        folder=folder.inside or ".",
        path=Path(folder.path),
        stems=tuple(sorted(stems, key=lambda stem: natural_key(stem.file))),
        version=", ".join(versions) or None,
        older_versions=tuple(sorted(gathered.older, key=natural_key)),
        title_key=title_key,
        title_mark=title_mark,
        archive=gathered.archive,
        title=title,
        unmarked=bare,
        version_folders=versions,
        unfinished_version=gathered.unfinished,
        dropped_stems=dropped(
            {each.file: each.reading for each in gathered.before},
            [each.reading for each in gathered.found],
        ),
        wanted_version=wanted,
    )
    return song, gathered.passed_over


@dataclass(slots=True)
class _Gathered:
    """What lies in a song's folder, as it is gathered. Folders are named from the song's on."""

    found: list[_Found] = field(default_factory=list)
    before: list[_Found] = field(default_factory=list)  # of the version that the current one came after
    versions: list[str] = field(default_factory=list)
    older: list[str] = field(default_factory=list)
    unfinished: str | None = None
    archive: str | None = None
    passed_over: list[PassedOver] = field(default_factory=list)


def _gather(song: Folder, name: str, wanted: str | None) -> _Gathered:
    """Go down into whatever is taken of the song's folder; name: the song's."""
    gathered = _Gathered()
    waiting: list[tuple[Folder, str]] = [(song, "")]
    while waiting:
        here, group = waiting.pop()
        choice = choose(here, song.name, wanted)
        if choice.loose:
            gathered.found += [_find(file, here, group, song) for file in here.audio]
        gathered.passed_over += _passed_over(here, choice, name)
        _note_versions(gathered, choice, group, song)
        waiting += [(child, child.name if child in choice.groups else group) for child in choice.taken]
    if not song.has_audio:
        why = "looks like a song and holds no stems: copy them in, or delete the folder"
        gathered.passed_over.append(PassedOver(path=song.inside or ".", reason=why, song=name, unread=True))
    return gathered


def _note_versions(gathered: _Gathered, choice: Choice, group: str, song: Folder) -> None:
    if choice.version:
        gathered.versions.append(_inside(choice.version, song))
    gathered.older += [_inside(child, song) for child in choice.older]
    for inside in walk_down(choice.before) if choice.before else ():
        gathered.before += [_find(file, inside, group, song) for file in inside.audio]
    # Of several the one that was met first.
    if choice.unfinished and not gathered.unfinished:
        gathered.unfinished = _inside(choice.unfinished, song)
    if choice.archive and not gathered.archive:
        gathered.archive = _inside(choice.archive, song)


def _passed_over(here: Folder, choice: Choice, name: str) -> list[PassedOver]:
    """What of one folder is not heard, and why: itself, its files, its folders."""
    entries = [cut_short(here, song=name)] if here.failure else []
    if not choice.loose:
        entries += [
            PassedOver(path=here.relative(file.name), reason=choice.loose_reason, song=name, stem=True)
            for file in here.audio
        ]
    entries += [
        PassedOver(path=here.relative(other), reason=why.text, song=name, stray=why.stray, unread=why.unread)
        for other, why in here.others
    ]
    entries += [
        PassedOver(path=child.inside, reason=why, song=name, holds_audio=True)
        for child, why in (*choice.passed_over, *((child, CLIPS) for child in here.clips))
    ]
    for child in here.folders:
        if not child.has_audio:
            entries += folders_without_audio(child, song=name)
    return entries


def cut_short(folder: Folder, *, song: str | None) -> PassedOver:
    """The entry for a folder that could not be read, or not to its end."""
    why = f"cannot be looked into: {folder.failure}"
    return PassedOver(path=folder.inside or ".", reason=why, song=song, unread=True)


def folders_without_audio(folder: Folder, *, song: str | None) -> list[PassedOver]:
    """One entry for the folder, and one for every folder in it that could not be looked into."""
    entries: list[PassedOver] = []
    waiting = [folder]
    while waiting:
        here = waiting.pop()
        waiting += here.folders
        if here.failure:
            entries.append(cut_short(here, song=song))
        for other, reason in here.others:
            if reason.unread:
                entries.append(
                    PassedOver(path=here.relative(other), reason=reason.text, song=song, unread=True)
                )
    if folder.failure:
        return entries
    holds_content = any(reason.stray for _, reason in folder.others) or bool(folder.folders)
    why = "a folder without audio" if folder.folders or folder.others else "an empty folder"
    return [
        PassedOver(path=folder.inside, reason=why, song=song, stray=holds_content and song is not None),
        *entries,
    ]


def unmarked_title(title: str) -> str:
    """The title without its version mark; empty where it has none, or one that counts: "Rain (2)" may be
    another song."""
    marked = take_off_marks(title)
    counted = read_mark(marked.version).kind == "counted"
    return "" if marked.version is None or counted else marked.rest.strip()


def title_of(folder: Folder) -> tuple[str, VersionMark]:
    """The song's title without number and version mark, in one spelling; the mark, its shelf's for want."""
    marked = take_off_marks(without_track_number(compose(folder.name)))
    key = " ".join(token.word for token in cut(marked.rest))
    shelf = folder.inside.rpartition("/")[0].rpartition("/")[2]
    of_shelf = take_off_marks(shelf, keep_a_name=False).version if shelf else None
    return key, read_mark(marked.version or of_shelf)


def _inside(folder: Folder, song: Folder) -> str:
    return folder.inside[len(song.inside) :].lstrip("/")


def _find(audio: AudioFile, here: Folder, group: str, song: Folder) -> _Found:
    file = f"{_inside(here, song)}/{audio.name}" if here is not song else audio.name
    own = read_name(split_extension(audio.stands_for)[0], song.name)
    path = f"{here.path}/{audio.name}"
    return _Found(
        file, path, audio, group, _with_group(own, split_extension(audio.stands_for)[0], group, song)
    )


def _with_group(own: NameReading, file_stem: str, group: str, song: Folder) -> NameReading:
    """The reading of a stem in a group folder: "Drums/Room" is drums, "BGV/Vox 1" a backing vocal.

    The file's own word goes first, but for a plain vocal in a folder of other voices.
    """
    if not group:
        return own
    of_group = read_name(group, song.name)
    key = compose(group.casefold())
    keyed = replace(own, version_key=f"{key}/{own.version_key}", numbered_key=f"{key}/{own.numbered_key}")
    if of_group.is_guess or of_group.channel_roles:
        return keyed
    role = own.role
    if own.is_guess:
        role = of_group.role
    elif own.role is Role.LEAD_VOCAL and of_group.role in _VOICES:
        role = read_name(f"{group} {file_stem}", song.name).role
    return replace(keyed, role=role, is_guess=role is Role.OTHER)


def _read_behind_beginning(found: list[_Found], song_name: str) -> list[_Found]:
    """The stems whose names say nothing read again without the word that all of them begin with."""
    names = [split_extension(each.audio.stands_for)[0] for each in found]
    word = shared_beginning(names)
    if word is None:
        return found
    return [
        replace(each, reading=_read_again(each.reading, behind(name, word), song_name))
        if each.reading.is_guess
        else each
        for each, name in zip(found, names, strict=True)
    ]


def _read_again(reading: NameReading, rest: str | None, song_name: str) -> NameReading:
    again = read_name(rest, song_name) if rest is not None else reading
    if again.is_guess:
        return reading
    return replace(reading, role=again.role, is_guess=False, channel_roles=again.channel_roles)


def _settle_versions(found: Iterable[_Found]) -> list[_Found]:
    """Keep the same version key only for stems that differ by a version mark.

    - "Gtr (1)" and "Gtr (2)" without a plain "Gtr" are numbered stems, no copies.
    - Of stems with the same mark, or none, the track number is part of the name: "01 Gtr", "02 Gtr".
    """
    by_key: dict[str, list[_Found]] = defaultdict(list)
    for each in found:
        by_key[each.reading.version_key].append(each)
    settled: list[_Found] = []
    for key, alike in by_key.items():
        marks = [each.reading.version for each in alike]
        if len(alike) > 1 and all(mark and mark.startswith("(") for mark in marks):
            alike = [_rekeyed(each, f"{key} {each.reading.version}", None) for each in alike]
        elif len(set(marks)) < len(marks):
            alike = [_rekeyed(each, each.reading.numbered_key, each.reading.version) for each in alike]
        settled += alike
    return settled


def _rekeyed(each: _Found, key: str, version: str | None) -> _Found:
    return replace(each, reading=replace(each.reading, version_key=key, version=version))


def _stem(each: _Found, settings: ShowSettings, wanted: str | None) -> Stem:
    mark = read_mark(each.reading.version)
    own_names = roles_of_stem(settings, each.file)
    role, channel_roles = each.reading.role, each.reading.channel_roles
    if own_names:
        role = next((role for role in own_names if role.audience), own_names[0])
        channel_roles = own_names if len(own_names) > 1 else ()
    return Stem(
        file=each.file,
        path=Path(each.path),
        role=role,
        role_is_guess=each.reading.is_guess and not own_names,
        channel_roles=channel_roles,
        size_bytes=each.audio.size_bytes,
        modified_ns=each.audio.modified_ns,
        file_id=each.audio.file_id,
        allocated_bytes=each.audio.allocated_bytes,
        elsewhere=each.audio.elsewhere,
        version=each.reading.version,
        mark=mark,
        version_key=each.reading.version_key,
        is_wanted=wanted is not None and _is_version(wanted, each.reading.version),
        crew_roles=crew_roles(settings),
    )


def _is_version(wanted: str, mark: str | None) -> bool:
    """Whether a stem's version mark is the one that the settings name: "V3" is "v3", and "v03" is too."""
    if mark is None:
        return False
    own, asked = read_mark(mark), read_mark(wanted)
    same = own.kind == asked.kind and own.scheme == asked.scheme and own.numbers == asked.numbers
    return plain(mark) == plain(wanted) or (same and own.kind in ("number", "date"))
