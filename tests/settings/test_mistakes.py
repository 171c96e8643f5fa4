"""A settings file with many mistakes: all are told in one go, each at its line, in words that help."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from audit.errors import SettingsError
from audit.settings.read import read_settings
from tests.settings.reading import KNOWN, mistakes, read

TWENTY = """\
schema = 2
titel = "x"
[show]
sample_rate_hz = 48
bit = 24
frame_rate = "29.97"
required_roles = ["clik"]
loudness_lufs = 14
bpm = 120
set = "Tonihgt"
[roles]
Tambo.wav = "percussion"
[limits]
true-peak-ovr = 1
[interface]
outputs = "eight"
[[songs]]
name = "Night Ferry"
metre = "three four"
timecode_start = "01:00"
[[songs]]
name = "night ferry"
count_in_beats = 0
[[songs]]
version = "v2"
[[sets]]
name = "Tonight"
[[sets]]
name = "Second"
songs = ["A", 7]
starts = "25:00"
[[outputs]]
out = [3, 3]
stems = ["click"]
heard_by = "crew"
[[waivers]]
rule = "cut-tail"
until = "2026-02-30"
"""
WANTED = (
    (1, "schema", "newer stemaudit"),
    (2, "titel", "no such table or key"),
    (4, "show.sample_rate_hz", "did you mean 48000?"),
    (5, "show.bit", 'did you mean "bits"?'),
    (6, "show.frame_rate", "drop-frame (DF) or not (NDF)?"),
    (7, "show.required_roles", 'did you mean "click"?'),
    (8, "show.loudness_lufs", "from -70 to 0 LUFS"),
    (9, "show.bpm", "belongs under [[songs]]"),
    (10, "show.set", "no set list called"),
    (12, "roles.Tambo", "in quotes"),
    (14, "limits.true-peak-ovr", 'did you mean "true-peak-over"?'),
    (16, "interface.outputs", "without quotes"),
    (19, "songs.metre", '"4/4"'),
    (20, "songs.timecode_start", '"01:00:00:00"'),
    (21, "songs", "stands in line 17 too"),
    (23, "songs.count_in_beats", "from 1 to 64 beats"),
    (24, "songs", "name is missing"),
    (26, "sets", "no songs"),
    (30, "sets.songs", "a song's name in quotes"),
    (31, "sets.starts", '"20:30"'),
    (33, "outputs.out", "twice"),
    (36, "waivers", "reason is missing"),
    (38, "waivers.until", "2026-12-31"),
)


def test_more_than_twenty_mistakes_are_told_in_one_go(tmp_path: Path):
    said = mistakes(tmp_path, TWENTY)
    assert len(said) == len(WANTED) >= 20
    for line, (number, key, words) in zip(said, WANTED, strict=True):
        assert line.startswith(f"show.toml:{number}: {key}: "), line
        assert words in line


def test_windows_line_ends_and_a_byte_order_mark_change_no_line(tmp_path: Path):
    path = tmp_path / "show.toml"
    path.write_bytes("\ufeff".encode() + TWENTY.replace("\n", "\r\n").encode())
    with pytest.raises(SettingsError) as caught:
        read_settings(path, KNOWN)
    assert [line.split(":")[1] for line in str(caught.value).splitlines()] == [str(w[0]) for w in WANTED]


@pytest.mark.parametrize(
    ("text", "starts", "words"),
    [
        ("[show\n", "show.toml:1: ", "no valid TOML"),
        ("[show]\nbits = 24\nbits = 16\n", "show.toml:3: ", "no valid TOML"),
        ('[show]\n\nname = "open\n', "show.toml:3: ", "mend this line first"),
    ],
)
def test_what_is_no_toml_is_named_with_its_line(tmp_path: Path, text: str, starts: str, words: str):
    (said,) = mistakes(tmp_path, text)
    assert said.startswith(starts), said
    assert words in said


def test_what_is_no_text_is_told(tmp_path: Path):
    path = tmp_path / "show.toml"
    for data, words in ((b"\xff\xfe[\x00", "UTF-8"), (b"#" * 1_000_001, "longer than a megabyte")):
        path.write_bytes(data)
        with pytest.raises(SettingsError, match=words):
            read_settings(path, KNOWN)
    with pytest.raises(SettingsError, match="cannot be read"):
        read_settings(tmp_path / "gone.toml", KNOWN)


@pytest.mark.parametrize("depth", [50, 3000])
def test_nesting_without_end_is_no_crash(tmp_path: Path, depth: int):
    assert mistakes(tmp_path, f"x = {'[' * depth}{']' * depth}\n")


def test_hostile_names_steer_no_terminal(tmp_path: Path):
    said = mistakes(tmp_path, '[show]\n"\\u001b[31mred" = 1\nname = 5\n"' + "y" * 500 + '" = 1\n')
    assert len(said) == 3
    assert all(line.isprintable() and len(line) < 400 for line in said)


def test_lines_are_found_in_every_way_of_writing(tmp_path: Path):
    text = (
        '# remark = 1\nshow.bits = 20\n[ "interface" ]\n\n"outputs" = 0 # eight\n[[songs]]\n'
        'name = """\nA # no remark"""\n'
        "aliases = [ # names\n  'x',\n  7,\n]\n[[songs]]\nname = 'B'\nbpm = 1\n[[machines]]\nname='M'\n"
        "class='laptop-dual-hdd'\nengine = { frames = 256, 'refill_s' = 0 }\n"
    )
    said = mistakes(tmp_path, text)
    assert [line.split(": ")[:2] for line in said] == [
        ["show.toml:2", "show.bits"],
        ["show.toml:5", "interface.outputs"],
        ["show.toml:11", "songs.aliases"],
        ["show.toml:15", "songs.bpm"],
        ["show.toml:19", "machines.engine.refill_s"],
    ]


def test_what_contradicts_itself_is_told(tmp_path: Path):
    said = mistakes(
        tmp_path,
        '[show]\nbits = 16\ntrue_bits = true\n[[sets]]\nname = "A"\nsongs = ["x"]\nfile = "x.txt"\n'
        '[[machines]]\nname = "M"\n[[outputs]]\nout = 1\nstems = "click"\nheard_by = "crew"\n'
        '[[outputs]]\nout = [1, 2]\nstems = "bass"\nheard_by = "audience"\n',
    )
    assert [line.split(":")[1] for line in said] == ["3", "4", "8", "14"]
    assert "keep one" in said[1]
    assert "give its profile" in said[2]
    assert "output 1 is heard by the crew in line 10 and by the audience here" in said[3]


def test_an_empty_file_is_settings_that_say_nothing(tmp_path: Path):
    settings = read(tmp_path, "")
    assert settings
    assert settings.songs == ()
    assert settings.sample_rate_hz is None


ONE_ROUND = {
    "a waiver whose rule is misspelt and which has no reason": (
        '[[waivers]]\nrule = "cut-tial"\n',
        ["2: waivers.rule: ", "1: waivers: reason is missing"],
    ),
    "a song without a name, with a frame that its rate has not": (
        '[[songs]]\nframe_rate = "25"\ntimecode_start = "01:00:00:25"\n',
        ["1: songs: name is missing", "1: songs.timecode_start: "],
    ),
    "outputs with two listeners, one of them without stems": (
        '[[outputs]]\nout = 1\nheard_by = "crew"\n[[outputs]]\nout = 1\nstems = "x"\nheard_by = "audience"\n',
        ["1: outputs: stems is missing", "4: outputs.heard_by: output 1"],
    ),
    "a set list that is asked for, twice there, and empty": (
        '[show]\nset = "Tonight"\n[[sets]]\nname = "Tonight"\n[[sets]]\nname = "tonight"\nsongs = ["A"]\n',
        ["3: sets: has no songs", '5: sets: "tonight" stands in line 3 too'],
    ),
    "a machine of no class, and twice": (
        '[[machines]]\nname = "M"\nclass = "laptop"\n[[machines]]\nname = "m"\n',
        ["3: machines.class: ", "4: machines: is not described", '4: machines: "m" stands in line 1 too'],
    ),
    "a key and a table that are misspelt, and what stands in them": (
        '[[song]]\nname = "A"\nbmp = "fast"\nmetre = "4"\n',
        ['1: song: there is no such table or key; did you mean "songs"', "3: song.bmp: is no key",
         '3: song.bmp: "fast" is no number', "4: song.metre: "],
    ),
    "a needed key that is misspelt is not missing as well": (
        '[[waivers]]\nrule = "cut-tail"\nreasn = "meant"\n', ["3: waivers.reasn: is no key"],
    ),
    "a limit of an unknown rule that is no number": (
        '[limits]\ntrue-peak-ovr = "low"\n', ["2: limits.true-peak-ovr: there is no such rule",
                                              '2: limits.true-peak-ovr: "low" is no number'],
    ),
    "names and lists mixed, with what is wrong in them": (
        '[[sets]]\nname = "T"\nsongs = ["A", ["B", 7], 8]\n',
        ["3: sets.songs: names and lists", "3: sets.songs: 8 ", "3: sets.songs: 7 "],
    ),
    "an empty name and a wrong role": (
        '[roles]\n" " = "bas"\n', ["2: roles. : an empty name", '2: roles. : "bas" is no role'],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("text", "wanted"), ONE_ROUND.values(), ids=ONE_ROUND)
def test_one_round_tells_all(tmp_path: Path, text: str, wanted: list[str]):
    said = mistakes(tmp_path, text)
    assert len(said) == len(wanted), said
    for words in wanted:
        assert any(line.startswith(f"show.toml:{words}") for line in said), (words, said)


def test_a_limit_is_any_number_and_says_so(tmp_path: Path):
    (said,) = mistakes(tmp_path, '[limits]\ntrue-peak-over = "low"\n')
    assert said.endswith("is no number: give a number, without quotes")
    assert read(tmp_path, "[limits]\ntrue-peak-over = -1e12\n").limits["true-peak-over"].value == -1e12
    assert "does not do: give a number" in mistakes(tmp_path, "[limits]\ntrue-peak-over = inf\n")[0]


def test_what_is_missing_is_missed_beside_the_file_that_names_it(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_text('[[machines]]\nname = "M"\nprofile = "gone.toml"\n')
    with pytest.raises(SettingsError, match=r"no such file beside mine\.toml"):
        read_settings(path, KNOWN)


def test_a_class_of_machines_is_offered_without_every_drive_it_may_have(tmp_path: Path):
    known = replace(KNOWN, machine_classes=frozenset({"laptop-a", "laptop-a+usb2-disk", "laptop-b"}))
    path = tmp_path / "show.toml"
    path.write_text('[[machines]]\nname = "M"\nclass = "desk"\n')
    with pytest.raises(
        SettingsError, match=r"give one of: laptop-a, laptop-b; README tells those with an ext"
    ):
        read_settings(path, known)
    path.write_text('[[machines]]\nname = "M"\nclass = "laptop-a+usb2-disk"\n')
    assert read_settings(path, known).machines[0].machine_class == "laptop-a+usb2-disk"
