"""A show.toml written from a scan: valid, explained, true to the files, and silent where it is not sure."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from audit.facts import Role
from audit.pipeline.inferred import inferred
from audit.report.words import visible
from audit.results import JumpKind
from audit.rules.catalogue import RULES
from audit.rules.engine import judge
from audit.settings import keys
from audit.settings.toml import parse
from audit.settings.write import Inferred, Line, settings_text, toml
from audit.timecode import FPS_25, Label
from tests.evidence import mix, show, song, stem
from tests.report.samples import audit_of
from tests.rules.test_click import track as click_track
from tests.rules.timecode_tracks import jump, jumping, ltc, track
from tests.settings.reading import read


def coded(name: str, start: str, **facts):
    made = song(name, stem("Click.wav", channels=1), ltc(track(start)), stem("Bass.wav"), stem("Xyzzy.wav"),
                mix=mix(), facts={"title": name.partition(" - ")[2] or name, **facts})  # fmt: skip
    return replace(made, click=click_track(), click_stem="Click.wav")


SHOW = show(
    coded("01 - Low Tide", "01:00:00:00"),
    coded("02 - Night Ferry", "02:00:00:00", version="v3", version_folders=("v3",)),
    coded("03 - Slow Weather", "03:00:00:00"),
)


def written(evidence=SHOW) -> str:
    return settings_text(inferred(judge(evidence, RULES, version="1.2")))


def test_it_says_what_the_files_are(tmp_path: Path):
    settings = read(tmp_path, written())
    assert (settings.sample_rate_hz, settings.bits, settings.frame_rate) == (48000, 24, FPS_25)
    assert settings.required_roles == (Role.CLICK, Role.TIMECODE)
    assert settings.loudness_lufs is None  # a proposal, as a remark
    low, ferry, slow = settings.songs
    assert (low.name, low.bpm, low.metre, low.count_in_beats, low.timecode_start) == (
        "Low Tide", 120.0, "4/4", 4, Label(1),
    )  # fmt: skip
    assert (ferry.version, low.version) == ("v3", None)
    assert slow.timecode_start == Label(3)
    assert settings.outputs == settings.sets == settings.waivers == ()


def test_a_version_that_lacks_a_stem_is_not_settled_in_passing(tmp_path: Path):
    first, ferry, last = SHOW.songs
    short = replace(ferry, song=replace(ferry.song, dropped_stems=("v2/Lead.wav",)))
    text = written(replace(SHOW, songs=(first, short, last)))
    assert '# version = "v3"  # not sure: mixed-versions' in text
    assert read(tmp_path, text).songs[1].version is None


def test_it_is_a_remark_where_a_fault_makes_it_unsure(tmp_path: Path):
    first, *rest = SHOW.songs
    broken = ltc(jumping(jump(JumpKind.FORWARD)))
    stems = tuple(broken if each.name == "LTC.wav" else each for each in first.stems)
    text = written(replace(SHOW, songs=(replace(first, stems=stems), *rest)))
    assert '# timecode_start = "01:00:00:00"  # not sure: timecode-jump' in text
    assert [entry.timecode_start for entry in read(tmp_path, text).songs] == [None, Label(2), Label(3)]


def test_what_is_guessed_and_proposed_stands_as_remarks():
    text = written()
    assert '# "Xyzzy.wav" = "other"' in text
    assert "# loudness_lufs = -14" in text
    assert '# stems = ["bass", "other"]' in text
    assert '#   "Night Ferry",' in text
    for table in keys.TABLES:
        assert table.header in text


def test_every_line_is_explained_and_none_is_endless():
    lines = written().splitlines()
    assert all(len(line) <= 110 for line in lines)
    assert all(
        f"{key.name} = " in written() for table in keys.TABLES for key in table.keys if key.name != "file"
    )


def test_every_proposal_can_be_taken_out_of_its_remark(tmp_path: Path):
    """With the # before every header and key taken away it is TOML whose keys are all known."""
    text = written()
    bare = [
        line[2:]
        if re.match(r'# (\[|"[^"]+" = |[a-z-]+(_[a-z0-9]+)* = |songs = \[$|  "|\]  #)', line)
        else line
        for line in text.splitlines()
    ]
    assert len([line for line in bare if line.startswith("[")]) > 12
    document = parse("\n".join(bare))
    assert set(document) == {"schema", *(table.name for table in keys.TABLES)}
    for table in keys.TABLES:
        entries = document[table.name] if table.many else [document[table.name]]
        assert table.free or {name for entry in entries for name in entry} <= {key.name for key in table.keys}


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"), (24, "24"), (120.0, "120.0"), (120.123, "120.123"), ("a", '"a"'),
        ('a"b\\c', '"a\\"b\\\\c"'),
        ("\x1b\x7f\n", '"\\u001b\\u007f\\n"'), (["a", 1], '["a", 1]'), ({"k": 1}, "{ k = 1 }"), ("é", '"é"'),
    ],
)  # fmt: skip
def test_values(value: object, text: str):
    assert toml(value) == text
    assert parse(f"x = {text}")["x"] == value


HOSTILE = [
    'Quo"te',
    "back\\slash",
    "new\nline",
    "\x1b[31mred",
    "del\x7f",
    "]\n[show]\nbits = 16",
    "'''",
    '"""',
    "ünï—cødé",
    "right\u202evaw",
    "c1\x9b31m",
    "zero\u200bwidth",
    "private\U000f0000",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_stay_names(name: str, tmp_path: Path):
    text = settings_text(
        Inferred(
            name=name, version="1", show=(Line(key="name", value=name),),
            songs=((Line(key="name", value=name),),),
            guesses=(name,), order=(name,),
        )
    )  # fmt: skip
    assert visible(text.replace("\n", "")) == text.replace("\n", "")  # it may be looked at on a terminal
    settings = read(tmp_path, text)
    assert (settings.name, settings.bits, [song.name for song in settings.songs]) == (name, None, [name])


def test_names_that_are_no_text_are_left_out(tmp_path: Path):
    evidence = show(coded("Bad \udcff", "01:00:00:00"), coded("Good", "02:00:00:00"), name="x\udcff")
    settings = read(tmp_path, written(evidence))
    assert [entry.name for entry in settings.songs] == ["Good"]


def test_two_songs_of_one_title_go_by_their_whole_names(tmp_path: Path):
    evidence = show(coded("01 - Intro", "01:00:00:00"), coded("09 - Intro", "02:00:00:00"))
    assert [entry.name for entry in read(tmp_path, written(evidence)).songs] == ["01 - Intro", "09 - Intro"]


def test_songs_that_no_name_tells_apart_are_left_out(tmp_path: Path):
    evidence = show(
        coded("Night Ferry", "01:00:00:00"),
        coded("NIGHT-FERRY", "02:00:00:00"),
        coded("Low Tide", "03:00:00:00"),
    )
    assert [entry.name for entry in read(tmp_path, written(evidence)).songs] == ["Low Tide"]


@pytest.mark.parametrize(
    ("bpm", "told"), [(120.004, 120.0), (119.5, 119.5), (120.02, 120.02), (97.1234567, 97.123)]
)
def test_tempi_are_those_that_people_set(bpm: float, told: float, tmp_path: Path):
    made = coded("A", "01:00:00:00")
    click = replace(click_track(), bpm=bpm)
    assert read(tmp_path, written(show(replace(made, click=click)))).songs[0].bpm == told


def test_a_guess_is_named_without_its_version_folder():
    """The next version lies in another one, and the line has to go on counting."""
    audit = audit_of(song("Night Ferry", stem("Bass.wav"), stem("v2/Odd 1.wav"), stem("v2/Odd 2.wav")))
    assert inferred(audit).guesses == ("Odd 1.wav", "Odd 2.wav")
