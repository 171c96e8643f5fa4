"""Kinds of values that several tables of show.toml share."""

from __future__ import annotations

from audit.settings.kinds import (
    ListOf,
    Number,
    RoleName,
    Text,
)

NAME = Text("a name in quotes")
PATTERNS = ListOf(Text("a name or pattern in quotes"), "names or patterns", or_one=True)
ROLES_KIND = ListOf(RoleName(), "roles", or_one=True)
BEATS = Number(1, 64, "beats", whole=True)
LUFS = Number(-70, 0, "LUFS")
PREROLL = Number(0, 600, "seconds")
OUTPUTS_KIND = Number(1, 1024, whole=True)
