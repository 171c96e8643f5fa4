"""What the shell offers after Tab: rule names, and the songs of the show on the line."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import typer

from audit.errors import AuditError


def complete_rule(incomplete: str) -> Iterator[tuple[str, str]]:
    """Rules whose name begins like this, each with what it says."""
    from audit.rules.catalogue import RULES
    from audit.rules.texts import fill

    for rule in RULES:
        if rule.id.startswith(incomplete):
            yield rule.id, fill(rule.means, rule.limit)


def complete_rules(incomplete: str) -> Iterator[tuple[str, str]]:
    """The same behind a comma: `dropout,tru` offers `dropout,true-peak-over`."""
    before, comma, last = incomplete.rpartition(",")
    for name, means in complete_rule(last):
        yield before + comma + name, means


def complete_song(ctx: typer.Context, incomplete: str) -> Iterator[str]:
    """Songs of the show whose folder already stands on the line."""
    from audit.folder.walk import walk

    folder = ctx.params.get("path")
    if not folder:
        return
    try:
        show = walk(Path(folder))
    except AuditError:
        return
    for song in show.songs:
        if song.name.casefold().startswith(incomplete.casefold()):
            yield song.name


def complete_machine(incomplete: str) -> Iterator[str]:
    """Built-in classes of machines that begin like this."""
    from audit.machine.classes import class_names

    return (name for name in sorted(class_names()) if name.startswith(incomplete))
