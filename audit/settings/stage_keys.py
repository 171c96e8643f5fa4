"""Tables of show.toml on the stage: the patch, the machines, and what is known and lived with."""

from __future__ import annotations

from audit.settings.common_kinds import NAME, OUTPUTS_KIND, PATTERNS
from audit.settings.key import Inline, Key, Table
from audit.settings.kinds import (
    Choice,
    Day,
    Number,
    OutputNumbers,
    Text,
)
from audit.settings.model import AUDIENCE, CREW

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
            kind=PATTERNS,
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
        Key(name="name", kind=NAME, says="What you call it.", example='"Band left and right"'),
        Key(name="gain_db", kind=Number(-120, 24, "dB"), says="The output's own gain.", example="-3.0"),
        Key(name="songs", kind=PATTERNS, says="Only for these songs.", example='["Night Ferry"]'),
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
            kind=PATTERNS,
            says="Roles or patterns of file names; all without it.",
            example='["Bass.wav"]',
        ),
        Key(name="songs", kind=PATTERNS, says="Patterns of songs; all without it.", example='["Low Tide"]'),
    ),
)

INTERFACE = Table(
    name="interface",
    says="The sound card.",
    keys=(
        Key(
            name="outputs",
            kind=OUTPUTS_KIND,
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


MACHINES = Table(
    name="machines",
    many=True,
    says="A computer that must carry the show: by its profile (`stemaudit probe` writes one), or by class.",
    keys=(
        Key(name="name", kind=NAME, needed=True, says="What you call it.", example='"Stage left laptop"'),
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
            kind=OUTPUTS_KIND,
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
        Key(name="name", kind=NAME, needed=True, says="What you call it.", example='"Stage piano"'),
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
        Key(name="songs", kind=PATTERNS, says="Only loaded for these songs.", example='["Slow Weather"]'),
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
