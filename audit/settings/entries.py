"""One entry of a table -> what the model has of it; with the mistakes that only a whole entry shows."""

from __future__ import annotations

import math
from collections.abc import Collection
from pathlib import Path
from typing import Any

from audit.errors import SettingsError
from audit.settings.kinds import Number
from audit.settings.mistakes import Spot, offer, quoted
from audit.settings.model import Instrument, LimitSetting, Machine, SetList, Waiver
from audit.settings.setlist import nameless, read_set_file

LIMIT = "limit"
"""The name of a rule's own number in a table of [limits]."""


def set_list(values: dict[str, Any], at: Spot, folder: Path) -> SetList:
    """One with a mistake has no songs: it is there, for what names it. folder: where show.toml lies."""
    songs, file = values.pop("songs", None), values.pop("file", None)
    said = [key for key in ("songs", "file") if (*at.path, key) in at.mistakes.lines]
    if said == []:
        at.wrong("has no songs: give songs, or a file")
    elif len(said) == 2:
        at.wrong("has both songs and a file: keep one")
    halves, source = nameless(songs or ()), at.mistakes.file
    if file is not None and songs is None:
        try:
            read = read_set_file(folder / file, name=values["name"], shown=file)
            halves, source = read.halves, read.source
        except SettingsError as error:
            at.inside("file").wrong(str(error))
    return SetList(halves=halves, source=source, line=at.line, **values)


def machine(values: dict[str, Any], at: Spot, folder: Path, classes: Collection[str] | None) -> Machine:
    """classes: those that there are; None where they are not known here."""
    said = [key for key in ("profile", "class") if (*at.path, key) in at.mistakes.lines]
    if len(said) != 1:
        both = "has both a profile and a class: keep the profile, which was measured"
        at.wrong(both if said else "is not described: give its profile (a file), or a class")
    name = values.get("machine_class")
    if name is not None and classes is not None and name not in classes:
        bare = sorted(each for each in classes if "+" not in each)
        more = "; README tells those with an external drive" if len(bare) < len(classes) else ""
        at.inside("class").wrong(
            f"{quoted(name)} is no class of machines; {offer(name, classes)}give one of: "
            f"{', '.join(bare)}{more}"
        )
    if "profile" in values:
        values["profile"] = folder / values["profile"]
        if not values["profile"].is_file():
            at.inside("profile").wrong(
                f"there is no such file beside {at.mistakes.file}: `stemaudit probe` writes one"
            )
    return Machine(line=at.line, **values)


def instrument(values: dict[str, Any], at: Spot) -> Instrument:
    """Its memory is given in GB and kept in bytes."""
    gigabytes = values.pop("memory_bytes", 0.0)
    return Instrument(line=at.line, memory_bytes=round(gigabytes * 1e9), **values)


def waiver(values: dict[str, Any], at: Spot, rules: Collection[str]) -> Waiver:
    """rules: those that there are; with none nothing is known of them."""
    rule = values["rule"]
    if rule and rules and rule not in rules:
        near = offer(rule, rules)
        at.inside("rule").wrong(f"{quoted(rule)} is no rule; {near}`stemaudit rules` lists them all")
    return Waiver(line=at.line, **values)


def read_limit(value: Any, bounds: frozenset[str] | None, spot: Spot) -> LimitSetting | None:
    """A number, or a table of a rule's numbers.

    bounds: the names of the rule's further ones; None: not known, as the rule's name is wrong.
    """
    number = Number(-math.inf, math.inf)
    if not isinstance(value, dict):
        read = number.read(value, spot)
        return None if read is None else LimitSetting(value=read)
    found: dict[str, float] = {}
    names = (LIMIT, *sorted(bounds or ()))
    for name, item in value.items():
        here = spot.inside(name)
        if bounds is not None and name not in names:
            here.wrong(f"is no bound of this rule; {offer(name, names)}it has {', '.join(names)}")
            continue
        read = number.read(item, here)
        if read is not None:
            found[name] = read
    own = found.pop(LIMIT, None)
    return LimitSetting(value=own, more=found)
