"""Tables of show.toml on the show and its songs: what they are like, names, limits, set lists."""

from __future__ import annotations

from audit.settings.common_kinds import BEATS, LUFS, NAME, PREROLL, ROLES_KIND
from audit.settings.key import Key, Table
from audit.settings.kinds import (
    Choice,
    ClockTime,
    Flag,
    FrameRateName,
    Halves,
    ListOf,
    Metre,
    Number,
    Text,
    TimecodeLabel,
)

SHOW = Table(
    name="show",
    says="What holds for every song.",
    keys=(
        Key(name="name", kind=NAME, says="The show's name, for your own eyes.", example='"Harbour Lights"'),
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
            kind=ROLES_KIND,
            example='["click", "timecode"]',
            says="Every song must have a stem of each of these roles. A song that lacks one is an error.",
        ),
        Key(
            name="count_in_beats",
            kind=BEATS,
            says="Every click counts in at least so many beats.",
            example="8",
        ),
        Key(
            name="preroll_s",
            kind=PREROLL,
            example="5.0",
            says="Timecode runs for at least so long before the first beat.",
        ),
        Key(name="loudness_lufs", kind=LUFS, says="How loud a song's mix should be.", example="-16.0"),
        Key(
            name="loudness_tolerance_lu",
            kind=Number(0.1, 20, "LU"),
            example="2.0",
            says="How far from that a song may be. Without it: 2 LU.",
        ),
        Key(
            name="set",
            kind=NAME,
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
            kind=NAME,
            needed=True,
            example='"Night Ferry"',
            says="The song's folder, with or without its number and version mark.",
        ),
        Key(
            name="aliases",
            kind=ListOf(NAME, "names", or_one=True),
            example='["Ferry"]',
            says="Other names it goes by in set lists.",
        ),
        Key(
            name="version",
            kind=NAME,
            example='"v3"',
            says="The version folder, or the version mark in the names, that is current. Without it: the "
            "newest complete one.",
        ),
        Key(name="bpm", kind=Number(20, 400, "beats a minute"), says="The click's tempo.", example="120.0"),
        Key(name="metre", kind=Metre(), says="The click's metre.", example='"4/4"'),
        Key(name="count_in_beats", kind=BEATS, says="As in [show], for this song.", example="4"),
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
        Key(name="preroll_s", kind=PREROLL, says="As in [show], for this song.", example="10.0"),
        Key(
            name="loudness_lufs",
            kind=LUFS,
            says="As in [show], for this song: a ballad may be quieter.",
            example="-20.0",
        ),
        Key(
            name="required_roles",
            kind=ROLES_KIND,
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
        Key(name="name", kind=NAME, needed=True, says="What `--set` calls it.", example='"Tonight"'),
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
