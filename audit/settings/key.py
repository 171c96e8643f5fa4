"""What a key of show.toml is, and what a table of keys."""

from __future__ import annotations

from dataclasses import dataclass

from audit.settings.kinds import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key of a table. `field`: the model's name for it, where that is another."""

    name: str
    kind: Kind | Inline
    says: str
    example: str  # as it stands behind the equals sign
    needed: bool = False
    field: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table. `many`: written [[name]], once for each; `free`: its keys are the user's own names."""

    name: str
    says: str
    keys: tuple[Key, ...] = ()
    many: bool = False
    free: str = ""  # what the keys of a free table are

    @property
    def header(self) -> str:
        return f"[[{self.name}]]" if self.many else f"[{self.name}]"

    def key(self, name: str) -> Key | None:
        return next((key for key in self.keys if key.name == name), None)


@dataclass(frozen=True, slots=True)
class Inline:
    """A table written in braces."""

    table: Table
    takes: str = "a table in braces"
