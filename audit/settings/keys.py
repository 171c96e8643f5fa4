"""Every table and key of show.toml: what it takes, what it is for, an example."""

from __future__ import annotations

from collections.abc import Iterator

from audit.settings.song_keys import AUDIENCE_TABLE, LIMITS, ROLES, SETS, SHOW, SONGS
from audit.settings.stage_keys import ENGINE, GAINS, INSTRUMENTS, INTERFACE, MACHINES, OUTPUTS, WAIVERS

SCHEMA = 1

TABLES = (
    SHOW,
    ROLES,
    AUDIENCE_TABLE,
    LIMITS,
    SONGS,
    SETS,
    OUTPUTS,
    GAINS,
    INTERFACE,
    ENGINE,
    MACHINES,
    INSTRUMENTS,
    WAIVERS,
)

FREE_EXAMPLES = {
    "roles": (('"Tambo*"', '"percussion"'), ('"Playback*"', '["click", "timecode"]')),
    "audience": (('"guide"', "true"),),
    "limits": (("true-peak-over", "-1.0"), ("missing-role", "{ limit = 90, songs = 8 }")),
}
"""Lines of the tables whose keys are the user's own."""


def keys_markdown() -> str:
    """The README's tables: one for each table of show.toml. With a line end at its end."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    yield "| key | what it says | takes | example |"
    yield "|---|---|---|---|"
    yield f"| `schema` | The number of this format: always {SCHEMA}. | {SCHEMA} | `schema = {SCHEMA}` |"
    for table in TABLES:
        yield f"| **`{table.header}`** | {_cell(table.says)} | | |"
        for name, example in FREE_EXAMPLES.get(table.name, ()):
            yield f"| | | {_cell(table.free)} | `{name} = {example}` |"
        for key in table.keys:
            needed = " Must be there." if key.needed else ""
            example = f"`{key.name} = {key.example}`"
            yield f"| `{key.name}` | {_cell(key.says)}{needed} | {_cell(key.kind.takes)} | {example} |"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("*", "\\*")
