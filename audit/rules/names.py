"""Names and litter: what the next computer makes of the names, and what else lies in a song's folder."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, Outcome, rule
from audit.units import count

REFUSED_CHARACTERS = frozenset('<>:"/\\|?*') | {chr(code) for code in range(32)}
RESERVED_NAMES = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{port}{digit}" for port in ("com", "lpt") for digit in "123456789¹²³"}
)


def same_name_key(name: str) -> str:
    """What two names have in common that differ in letter case or Unicode form only.

    Letter by letter, so that "Straße" and "Strasse", two names on every file system, stay two.
    """
    folded = (char.casefold() if len(char.casefold()) == 1 else char for char in _composed(name))
    return _composed("".join(folded))


def clashes(paths: Iterable[str]) -> list[tuple[str, ...]]:
    """Groups of paths ("a/b", relative) whose last parts clash within one folder, folders on the way
    included."""
    spellings: dict[tuple[str, str], dict[str, str]] = {}
    for path in sorted(set(paths)):
        parts = path.split("/")
        for depth in range(1, len(parts) + 1):
            parent, last = "/".join(parts[: depth - 1]), parts[depth - 1]
            twins = spellings.setdefault((same_name_key(parent), same_name_key(last)), {})
            twins.setdefault(last, "/".join(parts[:depth]))
    return [tuple(twins.values()) for twins in spellings.values() if len(twins) > 1]


def how_they_differ(names: tuple[str, ...]) -> str:
    """`letter case`, `Unicode form` or both."""
    last = [name.rpartition("/")[2] for name in names]
    differ = []
    if len({_composed(name) for name in last}) > 1:
        differ.append("letter case")
    if len({_composed(name) for name in last}) < len(set(last)):
        differ.append("Unicode form")
    return " and ".join(differ)


def awkward_because(name: str) -> str | None:
    """Why another file system refuses a single name (no path); None where none does."""
    refused = sorted({char for char in name if char in REFUSED_CHARACTERS})
    if refused:
        shown = " ".join(char if char.isprintable() else f"U+{ord(char):04X}" for char in refused)
        return f"holds {shown}"
    if any("\ud800" <= char <= "\udfff" for char in name):  # as Python keeps such a byte (PEP 383)
        return "holds bytes that are no UTF-8"
    if name.endswith("."):
        return "ends with a dot"
    if name.endswith(" "):
        return "ends with a space"
    if name.partition(".")[0].rstrip(" ").casefold() in RESERVED_NAMES:
        return "is a device name on Windows"
    return None


def utf16_length(path: str) -> int:
    """Length as Windows counts it: an emoji is two."""
    return len(path.encode("utf-16-le", "surrogatepass")) // 2


def _composed(text: str) -> str:
    return unicodedata.normalize("NFC", text)


def _folder_parts(song: SongEvidence) -> list[str]:
    return [part for part in song.song.folder.split("/") if part not in ("", ".")]


def _within(song: SongEvidence, path: str) -> str:
    """A path relative to the show's folder as one relative to the song's."""
    prefix = "/".join(_folder_parts(song))
    return path.removeprefix(f"{prefix}/") if prefix else path


def _folder_clashes(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    folders = {song.name: "/".join(_folder_parts(song)) for song in show.songs}
    loose = [item.path for item in show.show.passed_over if item.song is None]
    for names in clashes([*filter(None, folders.values()), *loose]):
        touched = [
            song
            for song, folder in folders.items()
            if any(f"{folder}/".startswith(f"{name}/") for name in names)
        ]
        yield Hit(
            songs=tuple(touched),
            message="{listed}: names in the show's folder that differ only in {differ}",
            facts={"listed": listed(names), "names": names, "differ": how_they_differ(names)},
        )


@rule(
    id="name-clash",
    family="files",
    severity=Severity.ERROR,
    scope="song",
    message="the name differs only in {differ} from {others}",
    cure="Rename one of them to something clearly different (or delete it, if it is a left-over), then "
    "relink it.",
    again=None,
    means="Two names in one folder differ only in letter case or in Unicode form (é as one sign or as e "
    "plus accent).",
    on_stage="Most laptops and sticks take the two for one: on copying, one file overwrites the other "
    "without a word.",
    measured="Names of stems, passed-over files and song folders, compared letter by letter after NFC and "
    "case folding.",
    source="Unicode Standard Annex 15 (normalisation forms); exFAT specification 7.2 (names compare "
    "without case)",
    over_show=_folder_clashes,
)
def name_clash(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    stems = [stem.name for stem in song.stems]
    others = [_within(song, item.path) for item in song.passed_over]
    for names in clashes([*stems, *others]):
        ordered = sorted(names, key=lambda name: name not in stems)  # stems first: they are what plays
        first, rest = ordered[0], tuple(ordered[1:])
        yield Hit(
            stem=first if first in stems else None,
            message=None if first in stems else "{listed}: the names differ only in {differ}",
            facts={
                "names": tuple(ordered),
                "others": listed(rest),
                "listed": listed(ordered),
                "differ": how_they_differ(names),
            },
        )


def _awkward(names: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """(shown name, reason) of those (shown name, single name) pairs that are awkward, each once."""
    found = {shown: reason for shown, name in names if (reason := awkward_because(name))}
    return list(found.items())


def _awkward_folders(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    """The show's own folder by itself, as no song is to blame; those between it and the songs with these."""
    own = _awkward([(show.show.path.name, show.show.path.name)])
    if own:
        yield Hit(
            facts=_awkward_facts(own),
            message="the show's folder has a name that other computers refuse: {listed}",
        )
    found = _awkward((part, part) for song in show.songs for part in _folder_parts(song)[:-1])
    if found:
        names = {name for name, _ in found}
        yield Hit(
            songs=tuple(song.name for song in show.songs if names & set(_folder_parts(song)[:-1])),
            facts=_awkward_facts(found),
            message="a folder of the show has a name that other computers refuse: {listed}",
        )


def _awkward_facts(found: list[tuple[str, str]]) -> dict[str, str | int | tuple[str, ...]]:
    return {
        "names": tuple(name for name, _ in found),
        "count": len(found),
        "number": count(len(found), "name"),
        "listed": listed([f"{name} ({reason})" for name, reason in found], most=4),
    }


@rule(
    id="awkward-name",
    family="files",
    severity=Severity.NOTE,
    scope="song",
    limit=Limit(value=240, unit="characters"),
    message="{number} that other computers refuse: {listed}",
    cure="Rename with letters, digits, spaces, hyphens and underscores, in short folders; then relink in "
    "the player.",
    again=None,
    means='A name holds < > : " / \\ | ? *, a control character or bytes that are no UTF-8, ends in a dot or '
    "space, is a device name on Windows, or its path is over {limit:g} characters long.",
    on_stage="On the day the show must move to another laptop or stick, these files do not come along.",
    measured="Each part of the path from the song's folder on; path length from the show's folder on, in "
    "UTF-16 units (Windows allows 260 with drive and folders in front).",
    source="Microsoft: Naming Files, Paths, and Namespaces; exFAT specification 7.7.3 (names are UTF-16: a "
    "byte that is no text has no place in one); the 20 characters "
    "kept free for drive and folder: own judgement",
    over_show=_awkward_folders,
)
def awkward_name(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    own_folder = _folder_parts(song)[-1:]
    found = _awkward(
        [(name, name) for name in own_folder]
        + [(stem.name, part) for stem in song.stems for part in stem.name.split("/")]
    )
    long = []
    for stem in song.stems:
        length = utf16_length("/".join([show.show.path.name, *_folder_parts(song), stem.name]))
        if length > limit.value:
            long.append((stem.name, f"path of {length} characters, limit {limit.value:g}"))
    if found or long:
        yield Hit(facts=_awkward_facts(found + [item for item in long if item[0] not in dict(found)]))


@rule(
    id="stray-file",
    family="files",
    severity=Severity.NOTE,
    scope="song",
    message="{files} in the song's folder that {are} no audio: {listed}",
    cure="Move them out of the song's folder, so that only what plays lies there.",
    again=None,
    means="Something that is not audio lies in a song's folder: a document, a picture, a project file.",
    on_stage="Nothing by itself; but it is copied, synced and carried along, and hides what matters.",
    measured="What the folder walk passed over in the song's folder, system litter left out.",
    source="own judgement",
)
def stray_file(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    strays = tuple(_within(song, item.path) for item in song.passed_over if item.stray)
    if strays:
        yield Hit(
            facts={
                "files": count(len(strays), "file"),
                "are": "is" if len(strays) == 1 else "are",
                "count": len(strays),
                "listed": listed(strays),
                "names": strays,
            }
        )


RULES = (name_clash, awkward_name, stray_file)
