"""show.toml -> ShowSettings. Every mistake is found in one go, each with its line, key and cure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from audit.errors import SettingsError
from audit.settings import keys, song_keys
from audit.settings.check import check_whole
from audit.settings.entries import instrument, machine, read_limit, set_list, waiver
from audit.settings.key import Inline, Table
from audit.settings.kinds import Flag, Kind, ListOf, Number, OutputNumbers, RoleName
from audit.settings.lines import lines_of
from audit.settings.mistakes import Mistakes, Spot, clean, nearest, offer, quoted
from audit.settings.model import (
    Engine,
    Gain,
    LimitSetting,
    Output,
    RolePattern,
    ShowSettings,
    SongSettings,
)
from audit.settings.setlist import read_text
from audit.settings.toml import BrokenToml, parse

FILE = "show.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """Names that settings may use and that other rooms own.

    limits: each rule's id with the names of its further bounds, None for a rule without a number.
    machine_classes: None where they are not known here.
    """

    limits: Mapping[str, frozenset[str] | None]
    machine_classes: frozenset[str] | None = None


def read_settings(path: Path, known: Known, *, shown: str | None = None) -> ShowSettings:
    """The settings in a file. `shown`: its name in messages. Raises SettingsError with all mistakes."""
    name = clean(shown or path.name)
    text = read_text(path, name)
    try:
        document = parse(text)
    except BrokenToml as error:
        raise SettingsError(_broken(name, str(error))) from None
    except RecursionError:
        raise SettingsError(f"{name}:1: is nested too deep to be settings: write it anew") from None
    mistakes = Mistakes(name, lines_of(text.replace("\r\n", "\n")))
    settings = _Reader(mistakes, known, path.absolute().parent).read(document)
    mistakes.tell()
    return replace(settings, source=name)


def _broken(name: str, text: str) -> str:
    """TOML that cannot be read at all: the parser stops at the first such place."""
    match = re.search(r"\(at line (\d+), column (\d+)\)", text)
    line = match[1] if match else "1" if "end of document" not in text else "last line"
    said = clean(re.sub(r"\s*\(at [^)]*\)", "", text), 120)
    column = f", column {match[2]}" if match else ""
    return f"{name}:{line}: is no valid TOML{column}: {said[:1].lower()}{said[1:]}; mend this line first"


@dataclass(slots=True)
class _Reader:
    mistakes: Mistakes
    known: Known
    folder: Path
    written: dict[str, str] = field(default_factory=dict)  # a table -> the name that was meant for it

    def read(self, document: Mapping[str, Any]) -> ShowSettings:
        self._top(document)
        single = {table.name: self._single(table, document) for table in keys.TABLES if _is_single(table)}
        many = {table.name: self._many(table, document) for table in keys.TABLES if table.many}
        settings = ShowSettings(
            **single["show"],
            **single["interface"],
            engine=Engine(**single["engine"]),
            roles=self._roles(document),
            audience=self._audience(document),
            limits=self._limits(document),
            songs=tuple(SongSettings(line=at.line, **values) for values, at in many["songs"]),
            sets=tuple(set_list(values, at, self.folder) for values, at in many["sets"]),
            outputs=tuple(Output(line=at.line, **values) for values, at in many["outputs"]),
            gains=tuple(Gain(line=at.line, **values) for values, at in many["gains"]),
            machines=tuple(
                machine(values, at, self.folder, self.known.machine_classes)
                for values, at in many["machines"]
            ),
            instruments=tuple(instrument(values, at) for values, at in many["instruments"]),
            waivers=tuple(waiver(values, at, self.known.limits) for values, at in many["waivers"]),
        )
        check_whole(settings, self.mistakes)
        return settings

    def _top(self, document: Mapping[str, Any]) -> None:
        spot = Spot((), self.mistakes)
        names = ["schema", *(table.name for table in keys.TABLES)]
        for name in document:
            if name not in names:
                near = offer(name, names)
                homes = [] if near else _homes(name)
                hint = near or (f"it belongs under {homes[0]}: " if homes else "")
                spot.inside(name).wrong(f"there is no such table or key; {hint}README lists them all")
                meant = nearest(name, names)
                if meant is not None and meant not in document:
                    self.written.setdefault(meant, name)
        schema = document.get("schema", keys.SCHEMA)
        if schema != keys.SCHEMA or isinstance(schema, (bool, float)):
            spot.inside("schema").wrong(
                f"{quoted(schema)} is a format that this stemaudit does not know: write schema = "
                f"{keys.SCHEMA}, or fetch a newer stemaudit"
            )

    def _of(self, table: Table, document: Mapping[str, Any], otherwise: Any) -> tuple[Any, Spot]:
        """What stands under a table's name, or under the one that was meant for it."""
        name = self.written.get(table.name, table.name)
        return document.get(name, otherwise), Spot((name,), self.mistakes)

    def _single(self, table: Table, document: Mapping[str, Any]) -> dict[str, Any]:
        value, here = self._of(table, document, {})
        if not isinstance(value, dict):
            here.wrong(f"is no table: write {table.header} above its keys")
            return {}
        return self._values(table, value, here)

    def _many(self, table: Table, document: Mapping[str, Any]) -> list[tuple[dict[str, Any], Spot]]:
        value, here = self._of(table, document, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            here.wrong(f"write {table.header} above the keys of each one")
            return []
        return [(self._values(table, item, here.inside(i)), here.inside(i)) for i, item in enumerate(value)]

    def _values(self, table: Table, given: Mapping[str, Any], spot: Spot) -> dict[str, Any]:
        """The table's values by the model's names.

        One that must be there and is not, or is wrong, is noted and stands as nothing: what else is wrong
        with its table shows all the same, and with a mistake noted nobody is given the settings.
        """
        found: dict[str, Any] = {}
        for name, value in given.items():
            key = table.key(name)
            here = spot.inside(name)
            if key is None:
                here.wrong(_unknown(name, table))
                meant = nearest(name, [key.name for key in table.keys])
                key = table.key(meant) if meant is not None and meant not in given else None
                if key is None:
                    continue
            if isinstance(key.kind, Inline):
                read = self._inline(key.kind.table, value, here)
            else:
                read = key.kind.read(value, here)
            if read is not None:
                found[key.field or key.name] = read
        for key in table.keys:
            if not key.needed:
                continue
            named = key.field or key.name
            misspelt = any(nearest(name, [each.name for each in table.keys]) == key.name for name in given)
            if named not in found and key.name not in given and not misspelt:
                spot.wrong(
                    f"{key.name} is missing: add {key.name} = {key.example}, or what it is in your show"
                )
            found.setdefault(named, _nothing(key.kind))
        return found

    def _inline(self, table: Table, value: Any, spot: Spot) -> Engine | None:
        if not isinstance(value, dict):
            spot.wrong(f"{quoted(value)} is no table: give keys of {table.header} in braces")
            return None
        return Engine(**self._values(table, value, spot))

    def _free(self, table: Table, document: Mapping[str, Any]) -> Iterable[tuple[str, Any, Spot]]:
        value, spot = self._of(table, document, {})
        if not isinstance(value, dict):
            spot.wrong(f"is no table: write {table.header} above its keys")
            return
        for name, item in value.items():
            if not name.strip():
                spot.inside(name).wrong(f"an empty name: give {table.free}")
            yield name, item, spot.inside(name)

    def _roles(self, document: Mapping[str, Any]) -> tuple[RolePattern, ...]:
        kind = ListOf(RoleName(), "roles, one a channel", or_one=True)
        made = []
        for pattern, value, spot in self._free(song_keys.ROLES, document):
            if isinstance(value, dict):  # "Tambo.wav" without quotes is a key in a table
                spot.wrong('is read as a table: put names that hold a dot in quotes, as in "Bass.wav"')
                continue
            roles = kind.read(value, spot)
            if roles is not None:
                made.append(RolePattern(pattern=pattern, roles=roles, line=spot.line))
        return tuple(made)

    def _audience(self, document: Mapping[str, Any]) -> dict[Any, bool]:
        made = {}
        for name, value, spot in self._free(song_keys.AUDIENCE_TABLE, document):
            role = RoleName().read(name, spot) if name.strip() else None
            heard = Flag().read(value, spot)
            if role is not None and heard is not None:
                made[role] = heard
        return made

    def _limits(self, document: Mapping[str, Any]) -> dict[str, LimitSetting]:
        made = {}
        for rule, value, spot in self._free(song_keys.LIMITS, document):
            if rule not in self.known.limits:
                if rule.strip():
                    near = offer(rule, self.known.limits)
                    spot.wrong(f"there is no such rule; {near}`stemaudit rules` lists them all")
                bounds = self.known.limits.get(nearest(rule, self.known.limits) or "")
                read_limit(value, bounds, spot)
                continue
            bounds = self.known.limits[rule]
            if bounds is None:
                spot.wrong("this rule has no number to set: waive it, or leave it out with --skip")
                continue
            read = read_limit(value, bounds, spot)
            if read is not None:
                made[rule] = read
        return made


def _nothing(kind: Kind | Inline) -> object:
    """What stands in for a value that must be there."""
    if isinstance(kind, Number):
        return kind.low
    return () if isinstance(kind, (ListOf, OutputNumbers)) else ""


def _is_single(table: Table) -> bool:
    return not table.many and not table.free


def _homes(name: str) -> list[str]:
    """The headers of the tables that have such a key."""
    return [table.header for table in keys.TABLES if table.key(name)]


def _unknown(name: str, table: Table) -> str:
    near = offer(name, [key.name for key in table.keys])
    elsewhere = [header for header in _homes(name) if header != table.header]
    if elsewhere and name not in near:
        return f"is no key of {table.header}: it belongs under {elsewhere[0]}"
    known = ", ".join(key.name for key in table.keys)
    return f"is no key of {table.header}; {near}it takes {known}"
