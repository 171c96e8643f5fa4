"""A show.toml for the user, from what a scan inferred: every line explained, everything unsure left as a "
"remark."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from audit.settings import keys, song_keys, stage_keys
from audit.settings.key import Key, Table
from audit.settings.mistakes import clean

HEAD = """\
# Settings of {name}, written by stemaudit {version} from the files as they are now.
# What is wrong in the files is wrong in here: read it through, and correct what the show should be like.
# A line that begins with # says nothing until you take the # away. README explains every key.
# Check it: stemaudit scan SHOW (every mistake is told, with its line).
"""
WIDTH = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A key with its value; `sure` False: as a remark, with the reason in `note`."""

    key: str
    value: object
    sure: bool = True
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inferred:
    """What a scan says of a show, ready to be written."""

    name: str
    version: str  # of the program
    show: tuple[Line, ...] = ()
    songs: tuple[tuple[Line, ...], ...] = ()
    guesses: tuple[str, ...] = ()  # files whose role no name and no sound told
    roles: tuple[str, ...] = ()  # the audience's roles that the show has
    crew: tuple[str, ...] = ()
    order: tuple[str, ...] = field(default=())  # the songs in the order of their folders


def settings_text(inferred: Inferred) -> str:
    """The file's text: valid TOML that says no more than what is sure."""
    return "\n".join(_lines(inferred)).rstrip("\n") + "\n"


def toml(value: object) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # JSON's escapes are TOML's. What steers a terminal or turns a line round is escaped as well: the file
        # means the same, and can be looked at anywhere.
        return "".join(map(_escaped, json.dumps(value, ensure_ascii=False)))
    if isinstance(value, float):
        return f"{value:.10g}" if value != int(value) else f"{value:.1f}"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, Sequence):
        return "[" + ", ".join(map(toml, value)) + "]"
    return str(value)


def _lines(inferred: Inferred) -> Iterator[str]:
    yield HEAD.format(name=clean(inferred.name), version=inferred.version)
    yield f"schema = {keys.SCHEMA}"
    yield from _table(song_keys.SHOW, inferred.show)
    yield from _roles(inferred)
    for at, song in enumerate(inferred.songs):
        yield from _table(song_keys.SONGS, song, explain=at == 0, every_key=at == 0)
    yield from _set(inferred)
    yield from _patch(inferred)
    for table in (
        song_keys.AUDIENCE_TABLE,
        stage_keys.GAINS,
        stage_keys.INTERFACE,
        stage_keys.ENGINE,
        stage_keys.MACHINES,
        stage_keys.INSTRUMENTS,
        song_keys.LIMITS,
        stage_keys.WAIVERS,
    ):
        yield from _example(table)


def _table(
    table: Table, lines: Sequence[Line], *, explain: bool = True, every_key: bool = True
) -> Iterator[str]:
    """A table with its lines; the keys it does not have follow as remarks."""
    yield ""
    if explain:
        yield from _remark(table.says)
    yield table.header
    by_key = {line.key: line for line in lines}
    for key in table.keys:
        line = by_key.get(key.name)
        if line is not None:
            said = f"{key.name} = {toml(line.value)}"
            note = clean(line.note) if line.note else key.says if explain else ""
            yield from _with_note(f"{'' if line.sure else '# '}{said}", note)
        elif every_key:
            yield from _key_remark(key)


def _key_remark(key: Key) -> Iterator[str]:
    yield from _with_note(f"# {key.name} = {key.example}", key.says)


def _escaped(char: str) -> str:
    if unicodedata.category(char) not in ("Cc", "Cf", "Co", "Cn", "Zl", "Zp"):
        return char
    return f"\\u{ord(char):04x}" if ord(char) < 0x10000 else f"\\U{ord(char):08x}"


def _with_note(said: str, note: str) -> Iterator[str]:
    """The note behind the line, or above it where there is no room."""
    if note and len(said) + 4 + len(note) > WIDTH:
        yield from _remark(note)
        yield said
    else:
        yield f"{said}  # {note}" if note else said


def _example(table: Table) -> Iterator[str]:
    """A table that the scan knows nothing of, as remarks."""
    yield ""
    yield from _remark(table.says)
    yield f"# {table.header}"
    for name, example in keys.FREE_EXAMPLES.get(table.name, ()):
        yield f"# {name} = {example}"
    for key in table.keys:
        yield from _key_remark(key)


def _remark(text: str) -> Iterator[str]:
    line = "#"
    for word in text.split():
        if len(line) + 1 + len(word) > WIDTH:
            yield line
            line = "#"
        line += f" {word}"
    yield line


def _roles(inferred: Inferred) -> Iterator[str]:
    yield ""
    yield from _remark(song_keys.ROLES.says)
    yield song_keys.ROLES.header
    if inferred.guesses:
        yield from _remark("No name tells what these are; they count as heard by the audience:")
    for file in inferred.guesses:
        yield f"# {toml(file)} = {toml('other')}"
    for name, example in keys.FREE_EXAMPLES["roles"]:
        yield f"# {name} = {example}"


def _set(inferred: Inferred) -> Iterator[str]:
    yield ""
    yield from _remark(song_keys.SETS.says)
    yield f"# {song_keys.SETS.header}"
    for key in song_keys.SETS.keys:
        if key.name == "songs" and inferred.order:
            yield "# songs = ["
            yield from (f"#   {toml(name)}," for name in inferred.order)
            yield f"# ]  # {key.says}"
        elif key.name != "file":
            yield from _key_remark(key)


def _patch(inferred: Inferred) -> Iterator[str]:
    """A patch as many shows have it, with this show's roles: a proposal, so all of it is a remark."""
    yield ""
    yield from _remark(stage_keys.OUTPUTS.says + " A proposal with the roles of this show:")
    lines: list[tuple[object, Sequence[str], str]] = []
    if inferred.roles:
        lines.append(([1, 2], inferred.roles, "audience"))
    lines += [(number, [role], "crew") for number, role in enumerate(inferred.crew, start=3)]
    for out, stems, heard_by in lines:
        yield f"# {stage_keys.OUTPUTS.header}"
        yield f"# out = {toml(out)}"
        yield f"# stems = {toml(list(stems))}"
        yield f"# heard_by = {toml(heard_by)}"
