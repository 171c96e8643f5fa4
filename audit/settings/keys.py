"""Every table and key of show.toml: what it takes, what it is for, an example."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from audit.settings.kinds import (
    Choice,
    ClockTime,
    Day,
    Flag,
    FrameRateName,
    Halves,
    Kind,
    ListOf,
    Metre,
    Number,
    OutputNumbers,
    RoleName,
    Text,
    TimecodeLabel,
)
from audit.settings.model import AUDIENCE, CREW

SCHEMA = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key of a table. `field`: the model's name for it, where that is another."""

    name: str
    kind: Kind
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


_NAME = Text("a name in quotes")
_PATTERNS = ListOf(Text("a name or pattern in quotes"), "names or patterns", or_one=True)
_ROLES = ListOf(RoleName(), "roles", or_one=True)
_BEATS = Number(1, 64, "beats", whole=True)
_LUFS = Number(-70, 0, "LUFS")
_PREROLL = Number(0, 600, "seconds")
_OUTPUTS = Number(1, 1024, whole=True)

SHOW = Table(
    name="show",
    says="What holds for every song.",
    keys=(
        Key(name="name", kind=_NAME, says="The show's name, for your own eyes.", example='"Harbour Lights"'),
        Key(
            name="sample_rate_hz",
            kind=Number(8000, 384000, "Hz", whole=True),
            example="48000",
            says="Every stem's sample rate. Without it: that of most files.",
        ),
        Key(
            name="bits",
            kind=Choice((16, 24, 32)),
            says="Every stem's bit depth. Without it: that of most files.",
            example="24",
        ),
        Key(
            name="true_bits",
            kind=Flag(),
            example="true",
            says="16-bit audio in a 24-bit file is a warning, not a note.",
        ),
        Key(
            name="frame_rate", kind=FrameRateName(), says="The rate of every song's timecode.", example='"25"'
        ),
        Key(
            name="required_roles",
            kind=_ROLES,
            example='["click", "timecode"]',
            says="Every song must have a stem of each of these roles. A song that lacks one is an error.",
        ),
        Key(
            name="count_in_beats",
            kind=_BEATS,
            says="Every click counts in at least so many beats.",
            example="8",
        ),
        Key(
            name="preroll_s",
            kind=_PREROLL,
            example="5.0",
            says="Timecode runs for at least so long before the first beat.",
        ),
        Key(name="loudness_lufs", kind=_LUFS, says="How loud a song's mix should be.", example="-16.0"),
        Key(
            name="loudness_tolerance_lu",
            kind=Number(0.1, 20, "LU"),
            example="2.0",
            says="How far from that a song may be. Without it: 2 LU.",
        ),
        Key(
            name="set",
            kind=_NAME,
            says="The set list that a scan is for, unless --set names another.",
            example='"Tonight"',
            field="default_set",
        ),
    ),
)

ROLES = Table(
    name="roles",
    says="Your own names: a pattern of file names, and the role of those stems, or one role a channel.",
    free="a pattern of stem names in quotes",
)
AUDIENCE_TABLE = Table(
    name="audience",
    says="Roles that the audience hears (true) or not (false), where that is not the usual: all but click, "
    "guide and timecode.",
    free="a role in quotes",
)
LIMITS = Table(
    name="limits",
    says="A rule's number. `stemaudit explain RULE` tells its unit, and its further bounds by name.",
    free="a rule's name",
)

SONGS = Table(
    name="songs",
    many=True,
    says="One song. Whatever is not said here is what [show] says, or what is usual.",
    keys=(
        Key(
            name="name",
            kind=_NAME,
            needed=True,
            example='"Night Ferry"',
            says="The song's folder, with or without its number.",
        ),
        Key(
            name="aliases",
            kind=ListOf(_NAME, "names", or_one=True),
            example='["Ferry"]',
            says="Other names it goes by in set lists.",
        ),
        Key(
            name="version",
            kind=_NAME,
            example='"v3"',
            says="The version folder, or the version mark in the names, that is current. Without it: the "
            "newest complete one.",
        ),
        Key(name="bpm", kind=Number(20, 400, "beats a minute"), says="The click's tempo.", example="120.0"),
        Key(name="metre", kind=Metre(), says="The click's metre.", example='"4/4"'),
        Key(name="count_in_beats", kind=_BEATS, says="As in [show], for this song.", example="4"),
        Key(
            name="timecode_start",
            kind=TimecodeLabel(),
            says="The number of the first frame of timecode.",
            example='"01:00:00:00"',
        ),
        Key(
            name="timecode_at_beat_1",
            kind=TimecodeLabel(),
            example='"01:00:08:00"',
            says="The number that runs when bar 1 begins, after the count-in.",
        ),
        Key(name="frame_rate", kind=FrameRateName(), says="As in [show], for this song.", example='"30"'),
        Key(name="preroll_s", kind=_PREROLL, says="As in [show], for this song.", example="10.0"),
        Key(
            name="loudness_lufs",
            kind=_LUFS,
            says="As in [show], for this song: a ballad may be quieter.",
            example="-20.0",
        ),
        Key(
            name="required_roles",
            kind=_ROLES,
            says="Roles that this song must have beside the show's.",
            example='["lead vocal"]',
        ),
        Key(
            name="segue",
            kind=Flag(),
            example="true",
            says="It runs straight on from the song before, so its first sound may begin in full flow.",
        ),
    ),
)

SETS = Table(
    name="sets",
    many=True,
    says="A set list: its songs here, or in a text file with one song a line, a blank line between halves.",
    keys=(
        Key(name="name", kind=_NAME, needed=True, says="What `--set` calls it.", example='"Tonight"'),
        Key(
            name="songs",
            kind=Halves(),
            example='[["Low Tide", "Night Ferry"], ["Slow Weather"]]',
            says="The songs in their order; or one list for each half.",
        ),
        Key(
            name="file",
            kind=Text("a file name in quotes"),
            example='"tonight.txt"',
            says="A text file instead, beside show.toml.",
        ),
        Key(name="changeover_s", kind=Number(0, 3600, "seconds"), says="Between two songs.", example="20"),
        Key(name="interval_s", kind=Number(0, 14400, "seconds"), says="Between two halves.", example="1200"),
        Key(name="starts", kind=ClockTime(), says="When the first song begins.", example='"20:30"'),
        Key(name="ends", kind=ClockTime(), says="When the last song must be over.", example='"22:15"'),
    ),
)

OUTPUTS = Table(
    name="outputs",
    many=True,
    says="One line of the patch: which stems come out where, and who hears them.",
    keys=(
        Key(
            name="out",
            kind=OutputNumbers(),
            needed=True,
            example="[1, 2]",
            says="The output (mono), or the left and the right one. A mono stem sounds on both of a pair.",
        ),
        Key(
            name="stems",
            kind=_PATTERNS,
            needed=True,
            example='["drums", "Pad *"]',
            says="Roles, or patterns of file names. Every line that fits a stem gets it.",
        ),
        Key(
            name="heard_by",
            kind=Choice((AUDIENCE, CREW)),
            needed=True,
            example='"audience"',
            says="Who is at its other end: the audience (PA, broadcast, recording) or the crew (ears, video, "
            "lights).",
        ),
        Key(name="name", kind=_NAME, says="What you call it.", example='"Band left and right"'),
        Key(name="gain_db", kind=Number(-120, 24, "dB"), says="The output's own gain.", example="-3.0"),
        Key(name="songs", kind=_PATTERNS, says="Only for these songs.", example='["Night Ferry"]'),
    ),
)

GAINS = Table(
    name="gains",
    many=True,
    says="A fader of the player, before the outputs. Of several lines that fit a stem the last one counts.",
    keys=(
        Key(name="gain_db", kind=Number(-120, 24, "dB"), needed=True, says="How much.", example="-2.5"),
        Key(
            name="stems",
            kind=_PATTERNS,
            says="Roles or patterns of file names; all without it.",
            example='["Bass.wav"]',
        ),
        Key(name="songs", kind=_PATTERNS, says="Patterns of songs; all without it.", example='["Low Tide"]'),
    ),
)

INTERFACE = Table(
    name="interface",
    says="The sound card.",
    keys=(
        Key(
            name="outputs",
            kind=_OUTPUTS,
            says="How many outputs it has.",
            example="8",
            field="interface_outputs",
        ),
    ),
)

_ENGINE_KEYS = (
    Key(
        name="frames",
        kind=Number(16, 8192, "frames", whole=True),
        says="Buffer size of one callback.",
        example="256",
    ),
    Key(
        name="rate_hz",
        kind=Number(8000, 384000, "Hz", whole=True),
        says="The sample rate it runs at.",
        example="48000",
    ),
    Key(
        name="refill_s",
        kind=Number(0.01, 60, "seconds"),
        says="How much of a stem is fetched at a time.",
        example="0.5",
    ),
    Key(
        name="prebuffer_s",
        kind=Number(0.01, 120, "seconds"),
        says="How much of a stem is held ready.",
        example="1.0",
    ),
    Key(
        name="refill_threads",
        kind=Number(1, 64, whole=True),
        says="How many fetches run side by side.",
        example="1",
    ),
)
ENGINE = Table(name="engine", says="How the player streams, as far as you know it.", keys=_ENGINE_KEYS)


@dataclass(frozen=True, slots=True)
class Inline:
    """A table written in braces."""

    table: Table
    takes: str = "a table in braces"

    def read(self, value: object, spot: object) -> object:
        raise NotImplementedError("read.py reads inline tables like any other")


MACHINES = Table(
    name="machines",
    many=True,
    says="A computer that must carry the show: by its profile (`stemaudit probe` writes one), or by class.",
    keys=(
        Key(name="name", kind=_NAME, needed=True, says="What you call it.", example='"Stage left laptop"'),
        Key(
            name="profile",
            kind=Text("a file name in quotes"),
            says="Its measured profile, beside show.toml.",
            example='"stage-left.toml"',
        ),
        Key(
            name="class",
            kind=Text("a class's name in quotes"),
            says="A built-in class of machines instead.",
            example='"laptop-quad-sata-ssd"',
            field="machine_class",
        ),
        Key(
            name="outputs",
            kind=_OUTPUTS,
            says="Outputs of its sound card, where it is not the usual one.",
            example="8",
        ),
        Key(
            name="engine",
            kind=Inline(ENGINE),
            says="Keys of [engine] that are different on this machine.",
            example="{ frames = 512 }",
        ),
    ),
)

INSTRUMENTS = Table(
    name="instruments",
    many=True,
    says="A software instrument or effect that runs beside the stems.",
    keys=(
        Key(name="name", kind=_NAME, needed=True, says="What you call it.", example='"Stage piano"'),
        Key(
            name="cores",
            kind=Number(0, 64, "cores"),
            says="Its load: 0.35 is a third of one core.",
            example="0.35",
        ),
        Key(
            name="memory_gb",
            kind=Number(0, 1024, "GB"),
            says="Its memory.",
            example="3.2",
            field="memory_bytes",
        ),
        Key(name="songs", kind=_PATTERNS, says="Only loaded for these songs.", example='["Slow Weather"]'),
    ),
)

WAIVERS = Table(
    name="waivers",
    many=True,
    says="A fault you know of and live with. It stays in the report, marked, and counts for nothing.",
    keys=(
        Key(
            name="rule",
            kind=Text("a rule's name in quotes"),
            needed=True,
            says="The rule.",
            example='"length-mismatch"',
        ),
        Key(
            name="reason",
            kind=Text("a reason in quotes"),
            needed=True,
            says="Why it is no problem.",
            example='"ends with the tape stop"',
        ),
        Key(
            name="song",
            kind=Text("a song or pattern in quotes"),
            says="Only in songs that this pattern fits.",
            example='"Night Ferry"',
        ),
        Key(
            name="stem",
            kind=Text("a stem or pattern in quotes"),
            says="Only in stems that this pattern fits.",
            example='"Pad*"',
        ),
        Key(name="until", kind=Day(), says="The last day it holds.", example="2027-06-30"),
    ),
)

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
