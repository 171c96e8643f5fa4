"""Which of the folders inside a song are current, and which are passed over and why."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from audit.folder.kinds_of_file import split_extension
from audit.folder.kinds_of_folder import FolderKind, holds_lossy_copies, kind_of_folder
from audit.folder.roles import read_name
from audit.folder.shown import shown
from audit.folder.tree import Folder, walk_down
from audit.folder.versions import newest_by_name, replaces_unmarked, take_off_marks
from audit.settings.patterns import plain as plain_name


@dataclass(slots=True)
class Choice:
    """What of one folder of a song is taken."""

    loose: bool = True  # the audio files that lie in the folder itself
    taken: list[Folder] = field(default_factory=list)
    version: Folder | None = None  # the one of `taken` that is a version
    groups: set[Folder] = field(
        default_factory=set
    )  # those of `taken` whose names may tell their stems' role
    older: list[Folder] = field(default_factory=list)  # versions passed over
    passed_over: list[tuple[Folder, str]] = field(default_factory=list)
    loose_reason: str = ""  # why the loose files are passed over, where they are
    before: Folder | None = None  # of the older versions, the one that `version` came after
    unfinished: Folder | None = None  # a newer version that lacks most of what the one taken holds
    archive: Folder | None = None  # the archive that all is taken from, as nothing else holds audio


def choose(folder: Folder, song_name: str, wanted: str | None = None) -> Choice:
    """Decide on one folder of a song.

    - Archives and working folders are taken only where nothing else holds audio.
    - Lossy copies ("MP3") are passed over beside files or holders that are not lossy.
    - The version that the settings call current (`wanted`) is taken wherever there is one of that name.
    - Of versions the newest is taken: by their names where those can be compared, else by the newest file;
      but one that holds less than half of the files of the fullest is not complete yet, and is passed over.
    - Files that lie beside version folders are current (they lie where a song's stems lie), unless the name
      of the newest version says that it came after them ("v2", "FINAL", a date) and it holds half as many
      files or more. Where its name does not tell ("v1"), the files' dates do: every one of its files must be
      newer than every one of theirs. Dates go last, since a careless copy makes all of them new.
    - In a song with files of its own a titled folder is passed over, unless its name tells a role.
    """
    choice = Choice()
    kinds = {child: _kind(child, folder, song_name) for child in folder.audio_folders}

    def of(*wanted: FolderKind) -> list[Folder]:
        return [child for child, kind in kinds.items() if kind in wanted]

    holders, groups, titles = of(FolderKind.HOLDER), of(FolderKind.GROUP), of(FolderKind.TITLE)
    versions = of(FolderKind.VERSION)
    original = [child for child in holders if not holds_lossy_copies(child.name)]
    if folder.audio or original:
        choice.passed_over += [
            (child, "lossy copies beside the originals") for child in holders if child not in original
        ]
        holders = original
    for child in titles:
        if not (folder.audio or holders or versions) or not read_name(child.name, song_name).is_guess:
            groups.append(child)
        else:
            why = "a folder inside a song, named for no role, version or kind of file"
            choice.passed_over.append((child, why))
    plain = holders + groups
    _choose_version(choice, folder, versions, plain, wanted)
    aside = of(FolderKind.ARCHIVE, FolderKind.WORKING)
    if folder.audio or plain or versions:
        choice.passed_over += [(child, _why_aside(kinds[child])) for child in aside]
    else:
        archives = of(FolderKind.ARCHIVE)
        working = of(FolderKind.WORKING)
        choice.taken += working
        if working:
            choice.passed_over += [(child, _why_aside(FolderKind.ARCHIVE)) for child in archives]
        else:
            _choose_version(choice, folder, archives, [], wanted)
            choice.archive = choice.taken[0] if choice.taken else None
    choice.groups = set(groups) & set(choice.taken)
    return choice


def _kind(child: Folder, parent: Folder, song_name: str) -> FolderKind:
    kind = kind_of_folder(child.name, parent.name)
    return kind if kind is not FolderKind.TITLE else kind_of_folder(child.name, song_name)


def _why_aside(kind: FolderKind) -> str:
    if kind is FolderKind.ARCHIVE:
        return "put aside, as its name says; the song has current files"
    return "a working folder of a recording program; the song has files beside it"


def _choose_version(
    choice: Choice, folder: Folder, versions: list[Folder], plain: list[Folder], wanted: str | None
) -> None:
    if not versions:
        choice.taken += plain
        return
    counted = _asked_for(versions, wanted) or _newest_complete(versions)
    why = _why_it_replaces(counted, folder, plain)
    if not why:
        choice.taken += plain
        choice.older = versions
    else:
        choice.passed_over += [(child, why) for child in plain]
        if folder.audio:
            choice.loose, choice.loose_reason = False, why
        choice.taken.append(counted.version)
        choice.version = counted.version
        choice.older = [child for child in versions if child is not counted.version]
    choice.unfinished = counted.unfinished
    earlier = [child for child in choice.older if child is not counted.unfinished]
    if choice.version and not counted.asked and earlier:
        choice.before = _newest(earlier)[0]
    choice.passed_over += [(child, _why_older(child, choice, counted)) for child in choice.older]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Counted:
    """The version that counts, if versions count at all."""

    version: Folder
    how: str  # it is known
    asked: bool = False  # by the settings
    unfinished: Folder | None = None  # a newer one that lacks most of what others hold


def _asked_for(versions: list[Folder], wanted: str | None) -> _Counted | None:
    for child in versions:
        if wanted and plain_name(child.name) == plain_name(wanted):
            return _Counted(version=child, how="by the settings", asked=True)
    return None


def _newest_complete(versions: list[Folder]) -> _Counted:
    newest, how = _newest(versions)
    most = max(len(_times_ns(child)) for child in versions)
    complete = [child for child in versions if 2 * len(_times_ns(child)) >= most]
    if newest in complete:
        return _Counted(version=newest, how=how)
    counted, how = _newest(complete)
    return _Counted(version=counted, how=how, unfinished=newest)


def _why_it_replaces(counted: _Counted, folder: Folder, plain: list[Folder]) -> str:
    """Why it counts instead of what lies beside it, if anything does; empty where that counts."""
    if counted.asked or not (folder.audio or plain):
        return f"the version {shown(counted.version.name)} counts instead (by the settings)"
    return _why_replaced(folder, counted.version, plain)


def _why_older(child: Folder, choice: Choice, counted: _Counted) -> str:
    """Why a version is passed over."""
    name = shown(counted.version.name)
    if child is counted.unfinished:
        held, of = len(_times_ns(child)), len(_times_ns(counted.version))
        return f"newer, but holds only {held} of the {of} files of {name}, which counts"
    if choice.version is None:
        return "a version beside the song's current files; scan its folder to have it audited"
    kind = "another" if counted.asked else "an older"
    return f"{kind} version; {name} is current ({counted.how})"


def _newest(versions: list[Folder]) -> tuple[Folder, str]:
    """The newest of them, and how that is known."""
    named = newest_by_name([child.name for child in versions])
    newest = next((child for child in versions if child.name == named), None)
    return (newest, "by name") if newest else (max(versions, key=_newest_ns), "by the dates of the files")


def _why_replaced(folder: Folder, newest: Folder, plain: list[Folder]) -> str:
    """Why the newest version counts instead of what lies beside it; empty where it does not."""
    beside = [file for child in plain for here in walk_down(child) for file in here.audio] + folder.audio
    inside = [file for here in walk_down(newest) for file in here.audio]
    if replaces_unmarked(newest.name):
        marks = [take_off_marks(split_extension(file.name)[0]).version for file in beside]
        mark, often = Counter(marks).most_common(1)[0]
        newer = mark is not None and newest_by_name([mark, newest.name]) == mark
        if not (newer and 2 * often >= len(beside)) and 2 * len(inside) >= len(beside):
            return f"the version {shown(newest.name)} counts instead (by its name)"
        return ""
    if min(file.modified_ns for file in inside) > max(file.modified_ns for file in beside):
        return f"older than every file of the version {shown(newest.name)}, which counts (by their dates)"
    return ""


def _times_ns(folder: Folder) -> list[int]:
    return [file.modified_ns for here in walk_down(folder) for file in here.audio]


def _newest_ns(folder: Folder) -> int:
    return max(_times_ns(folder))
