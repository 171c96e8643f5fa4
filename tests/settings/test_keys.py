"""Every key of show.toml: a value it takes, one it does not, and the values on both sides of its bounds."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from audit.facts import Role
from audit.settings.key import Table
from audit.settings.keys import FREE_EXAMPLES, TABLES, keys_markdown
from audit.settings.model import Engine, LimitSetting, RolePattern, SetEntry, ShowSettings
from audit.timecode import FPS_25, FPS_29_97_DROP, FPS_30, Label
from tests.settings.reading import mistakes, read

ROOT = Path(__file__).parent.parent.parent

# Key -> (valid value, what it becomes), invalid value, (borderline taken, borderline refused).
# "songs.bpm" is the key `bpm` of [[songs]]; the rest of a needed table is filled in with its examples.
CASES: dict[str, tuple[tuple[str, object], str, tuple[str, str]]] = {
    "show.name": (('"Harbour Lights"', "Harbour Lights"), "5", ('"x"', '"  "')),
    "show.sample_rate_hz": (("48000", 48000), '"48000"', ("8000", "7999")),
    "show.bits": (("24", 24), "20", ("32", "24.0")),
    "show.true_bits": (("true", True), '"true"', ("false", "1")),
    "show.frame_rate": (('"25"', FPS_25), '"26"', ('"29.97 DF"', '"29.97"')),
    "show.required_roles": (
        ('["click", "lead vocal"]', (Role.CLICK, Role.LEAD_VOCAL)), '["clack"]', ('"click"', "[]"),
    ),
    "show.count_in_beats": (("8", 8), "4.5", ("1", "0")),
    "show.preroll_s": (("5", 5.0), '"5 s"', ("0", "-0.1")),
    "show.loudness_lufs": (("-16.0", -16.0), "16", ("0", "0.1")),
    "show.loudness_tolerance_lu": (("2", 2.0), "-2", ("0.1", "0.09")),
    "show.set": (('"Tonight"', "Tonight"), "true", ('"tonight"', '"Tomorrow"')),
    "songs.name": (('"Night Ferry"', "Night Ferry"), "[]", ('"7"', '""')),
    "songs.aliases": (('["Ferry"]', ("Ferry",)), "7", ('"Ferry"', '["Ferry", ""]')),
    "songs.version": (('"v3"', "v3"), "3", ('"3"', '" "')),
    "songs.bpm": (("120.5", 120.5), '"120"', ("20", "19.9")),
    "songs.metre": (('"6/8"', "6/8"), '"waltz"', ('"32/4"', '"33/4"')),
    "songs.count_in_beats": (("4", 4), "true", ("64", "65")),
    "songs.timecode_start": (('"01:00:00:00"', Label(1)), '"1:00"', ('"23:59:59:29"', '"24:00:00:00"')),
    "songs.timecode_at_beat_1": (
        ('"01:00:08:12"', Label(1, 0, 8, 12)), "8", ('"01:00:08;12"', '"01:00:60:00"'),
    ),
    "songs.frame_rate": (("30", FPS_30), '"thirty"', ('"29.97 df"', '"29.97 dff"')),
    "songs.preroll_s": (("10.0", 10.0), "nan", ("600", "600.1")),
    "songs.loudness_lufs": (("-20", -20.0), "inf", ("-70", "-70.1")),
    "songs.required_roles": (('["bass"]', (Role.BASS,)), "3", ('["Lead_Vocal"]', '["lead vokal"]')),
    "songs.segue": (("true", True), '"yes"', ("false", "0")),
    "sets.name": (('"Tonight"', "Tonight"), "1", ('"1"', '""')),
    "sets.songs": (
        ('[["A"], ["B"]]', ((SetEntry(name="A", line=3),), (SetEntry(name="B", line=3),))), '"A"',
        ('["A"]', '["A", ["B"]]'),
    ),
    "sets.file": (('"list.txt"', None), "3", ('"./list.txt"', '"lists.txt"')),
    "sets.changeover_s": (("20", 20.0), '"20"', ("3600", "3601")),
    "sets.interval_s": (("1200", 1200.0), "-1", ("14400", "14401")),
    "sets.starts": (('"20:30"', 20 * 60 + 30), '"half past eight"', ("00:00:00", '"24:00"')),
    "sets.ends": (('"22:15"', 22 * 60 + 15), "2215", ('"23:59"', '"23:60"')),
    "outputs.out": (("[1, 2]", (1, 2)), '"left"', ("1024", "0")),
    "outputs.stems": (('["drums", "Pad*"]', ("drums", "Pad*")), "1", ('"drums"', "[]")),
    "outputs.heard_by": (('"crew"', "crew"), '"band"', ('"audience"', '"Audience"')),
    "outputs.name": (('"Left"', "Left"), "1", ('"1"', '""')),
    "outputs.gain_db": (("-3", -3.0), '"-3 dB"', ("24", "24.1")),
    "outputs.songs": (('["A"]', ("A",)), "1", ('"A*"', "[]")),
    "gains.gain_db": (("-2.5", -2.5), '"quiet"', ("-120", "-120.1")),
    "gains.stems": (('["Bass.wav"]', ("Bass.wav",)), "1", ('"bass"', '[""]')),
    "gains.songs": (('["Low Tide"]', ("Low Tide",)), "true", ('"*"', "[]")),
    "interface.outputs": (("8", 8), '"eight"', ("1", "0")),
    "engine.frames": (("256", 256), '"256"', ("16", "15")),
    "engine.rate_hz": (("48000", 48000), "48.0", ("384000", "384001")),
    "engine.refill_s": (("0.5", 0.5), '"fast"', ("0.01", "0.009")),
    "engine.prebuffer_s": (("1.0", 1.0), "true", ("120", "121")),
    "engine.refill_threads": (("2", 2), "1.5", ("64", "65")),
    "machines.name": (('"FOH"', "FOH"), "1", ('"1"', '""')),
    "machines.profile": (('"profile.toml"', None), "1", ('"./profile.toml"', '"gone.toml"')),
    "machines.class": (
        ('"laptop-dual-hdd"', "laptop-dual-hdd"), "1", ('"laptop-quad-sata-ssd"', '"laptop-dual-hd"'),
    ),
    "machines.outputs": (("8", 8), '"8"', ("1024", "1025")),
    "machines.engine": (
        ("{ frames = 512 }", Engine(frames=512)), "512", ("{ frames = 16 }", "{ frames = 8 }"),
    ),
    "instruments.name": (('"Piano"', "Piano"), "1", ('"1"', '""')),
    "instruments.cores": (("0.35", 0.35), '"0.35"', ("0", "-0.01")),
    "instruments.memory_gb": (("3.2", 3_200_000_000), '"3 GB"', ("1024", "1025")),
    "instruments.songs": (('["A"]', ("A",)), "2", ('"A"', "[]")),
    "waivers.rule": (('"cut-tail"', "cut-tail"), "1", ('"stray-file"', '"cut-tale"')),
    "waivers.reason": (('"meant"', "meant"), "1", ('"m"', '" "')),
    "waivers.song": (('"Night*"', "Night*"), "7", ('"?"', '""')),
    "waivers.stem": (('"Pad*"', "Pad*"), "7", ('"Pad.wav"', '""')),
    "waivers.until": (("2027-06-30", date(2027, 6, 30)), '"soon"', ('"2028-02-29"', '"2027-02-29"')),
}  # fmt: skip

ALTERNATIVES = {"songs": "file", "file": "songs", "profile": "class", "class": "profile"}
FIELDS = {"set": "default_set", "outputs": "interface_outputs", "songs": "halves"}


def document(table: Table, name: str, value: str) -> str:
    """The key at line 3, after what else its table must have; other tables that it refers to below."""
    others = [
        f"{key.name} = {key.example}" for key in table.keys
        if key.name != name and (key.needed or key.name == _companion(table, name))
    ]  # fmt: skip
    lines = ["# line 1", table.header, f"{name} = {value}", *others]
    if name == "set":
        lines += ["[[sets]]", 'name = "Tonight"', 'songs = ["A"]']
    return "\n".join(lines) + "\n"


def _companion(table: Table, name: str) -> str | None:
    """The key that a table cannot do without beside `name`: songs of a set, class of a machine."""
    needs = {"sets": "songs", "machines": "class"}.get(table.name)
    return None if needs is None or (name in ALTERNATIVES and ALTERNATIVES[name] in _names(table)) else needs


def _names(table: Table) -> list[str]:
    return [key.name for key in table.keys]


def value_of(settings: ShowSettings, table: Table, name: str) -> object:
    """The key's value in the model."""
    key = table.key(name)
    assert key is not None
    field = "halves" if (table.name, name) == ("sets", "songs") else key.field or name
    if table.many:
        (entry,) = getattr(settings, table.name)
        return getattr(entry, field)
    return getattr(settings.engine if table.name == "engine" else settings, field)


EVERY = [
    pytest.param(table, name, case, id=key)
    for key, case in CASES.items()
    for table in TABLES
    for name in [key.partition(".")[2]]
    if table.name == key.partition(".")[0]
]
every_key = pytest.mark.parametrize(("table", "name", "case"), EVERY)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "list.txt").write_text("A\n\nB\n", encoding="utf-8")
    (tmp_path / "profile.toml").write_text("", encoding="utf-8")
    return tmp_path


def test_every_key_is_here():
    assert set(CASES) == {f"{table.name}.{key.name}" for table in TABLES for key in table.keys}
    assert len(EVERY) == len(CASES) > 50


@every_key
def test_a_valid_value_is_taken(table: Table, name: str, case, folder: Path):
    (value, wanted), _, _ = case
    settings = read(folder, document(table, name, value))
    if wanted is not None:
        assert value_of(settings, table, name) == wanted
    elif name == "file":
        assert [[entry.name for entry in half] for half in settings.sets[0].halves] == [["A"], ["B"]]
    else:
        assert settings.machines[0].profile == folder / "profile.toml"


@every_key
def test_an_invalid_value_is_named_with_its_line_and_key(table: Table, name: str, case, folder: Path):
    _, invalid, _ = case
    (said,) = mistakes(folder, document(table, name, invalid))
    assert said.startswith(f"show.toml:3: {table.name}.{name}")
    assert re.search(r"give |write |lists them all|probe", said), "a message says what to do"


@every_key
def test_the_bounds_stand_where_they_are_said_to_stand(table: Table, name: str, case, folder: Path):
    _, _, (taken, refused) = case
    assert read(folder, document(table, name, taken))
    assert mistakes(folder, document(table, name, refused))[0].startswith(f"show.toml:3: {table.name}.{name}")


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_the_examples_of_the_documentation_work(table: Table, folder: Path):
    for example in ("tonight.txt", "stage-left.toml"):
        (folder / example).write_text("A\n", encoding="utf-8")
    for key in table.keys:
        assert read(folder, document(table, key.name, key.example))
    for name, value in FREE_EXAMPLES.get(table.name, ()):
        assert read(folder, f"{table.header}\n{name} = {value}\n")


@pytest.mark.parametrize("table", [t for t in TABLES if not t.free], ids=lambda table: table.name)
def test_what_must_be_there_is_missed(table: Table, folder: Path):
    needed = [key.name for key in table.keys if key.needed]
    if not needed:
        assert read(folder, f"{table.header}\n")
        return
    said = mistakes(folder, f"\n{table.header}\n")
    assert [line.split(" is missing")[0] for line in said if " is missing" in line] == [
        f"show.toml:2: {table.name}: {n}" for n in needed
    ]
    besides = {"sets": "has no songs", "machines": "is not described"}.get(table.name)
    assert [line for line in said if " is missing" not in line and besides not in line] == []
    assert len(said) == len(needed) + (besides is not None)


def test_every_invalid_value_of_every_key_is_told_in_one_go(folder: Path):
    """One file in which every key is wrong: as many messages, each at its key's line."""
    lines, wanted = ["schema = 1"], []
    for table in TABLES:
        names = [name for name in _names(table) if f"{table.name}.{name}" in CASES]
        instead = {"sets": "file", "machines": "profile"}.get(table.name)
        for group in ([name for name in names if name != instead], [instead]):
            lines += [table.header] if group != [None] else []
            lines += ['name = "Another"'] if group == [instead] and instead else []
            for name in filter(None, group):
                lines.append(f"{name} = {CASES[f'{table.name}.{name}'][1]}")
                wanted.append(f"show.toml:{len(lines)}: {table.name}.{name}")
    said = mistakes(folder, "\n".join(lines) + "\n")
    assert len(said) == len(wanted) == len(CASES)
    for line, key in zip(said, wanted, strict=True):
        assert line.startswith(key), (line, key)


def test_own_names(folder: Path):
    settings = read(folder, '[roles]\n"Tambo*" = "percussion"\n"PB*" = ["click", "timecode"]\n')
    assert settings.roles == (
        RolePattern(pattern="Tambo*", roles=(Role.PERCUSSION,), line=2),
        RolePattern(pattern="PB*", roles=(Role.CLICK, Role.TIMECODE), line=3),
    )
    said = mistakes(folder, '[roles]\nTambo.wav = "percussion"\n"PB" = ["klick"]\n" " = "bass"\n')
    assert [line.split(":")[1] for line in said] == ["2", "3", "4"]
    assert "quotes" in said[0]
    assert 'did you mean "click"?' in said[1]


def test_who_hears_what(folder: Path):
    assert read(folder, '[audience]\nguide = true\n"lead vocal" = false\n').audience == {
        Role.GUIDE: True, Role.LEAD_VOCAL: False,
    }  # fmt: skip
    assert len(mistakes(folder, '[audience]\nguid = true\nbass = "no"\n')) == 2


def test_limits(folder: Path):
    text = "[limits]\ntrue-peak-over = -1\nmissing-role = { limit = 90, songs = 8 }\n"
    text += "cut-tail = { floor_db = 20 }\n"
    assert read(folder, text).limits == {
        "true-peak-over": LimitSetting(value=-1.0),
        "missing-role": LimitSetting(value=90.0, more={"songs": 8.0}),
        "cut-tail": LimitSetting(more={"floor_db": 20.0}),
    }
    said = mistakes(
        folder, '[limits]\ntrue-peak-ovr = 1\nstray-file = 1\nmissing-role = { song = 8 }\ncut-tail = "low"\n'
    )
    assert len(said) == 4
    assert 'did you mean "true-peak-over"?' in said[0]
    assert "no number" in said[1]
    assert 'did you mean "songs"?' in said[2]


# What stands outside the tables of keys: valid line, invalid line, (borderline taken, borderline refused).
OWN_NAMES: dict[str, tuple[str, str, tuple[str, str]]] = {
    "schema": ("schema = 1", 'schema = "1"', ("schema = 1", "schema = 2")),
    "[roles]": (
        '"Tambo*" = "percussion"', '"Tambo*" = 5', ('"?" = ["bass"]', '"?" = []'),
    ),
    "[audience]": ("guide = true", 'guide = "yes"', ('"Lead_Vocal" = false', '"lead vocals" = 0')),
    "[limits]": (
        "true-peak-over = -1.0", 'true-peak-over = "low"',
        ("missing-role = { songs = 0 }", "missing-role = { song = 0 }"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("where", OWN_NAMES)
def test_what_has_names_of_its_own_has_its_three_cases_too(where: str, folder: Path):
    valid, invalid, (taken, refused) = OWN_NAMES[where]
    head = f"{where}\n" if where.startswith("[") else "# a format\n"
    for line in (valid, taken):
        assert read(folder, f"{head}{line}\n")
    for line in (invalid, refused):
        said = mistakes(folder, f"{head}{line}\n")
        assert said[0].startswith(f"show.toml:2: {where.strip('[]')}"), said
    assert {table.header for table in TABLES if table.free} == {*OWN_NAMES} - {"schema"}


def test_every_row_of_the_readme_has_its_cases():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    keys_part = readme.partition("<!-- keys:start -->")[2].partition("<!-- keys:end -->")[0]
    table, rows = "", set()
    for line in keys_part.splitlines():
        if not line.startswith("|"):
            continue
        cells = [cell.strip() for cell in line.split("|")]
        if match := re.fullmatch(r"\*\*`\[+(\w+)\]+`\*\*", cells[1]):
            table = match[1]
        elif match := re.fullmatch(r"`(\w+)`", cells[1]):
            rows.add(f"{table}.{match[1]}" if table else match[1])
    assert rows == {*CASES, "schema"}


def test_frames_that_a_rate_does_not_have(folder: Path):
    """Drop-frame counting leaves out frames 0 and 1 of every minute but each tenth (IEC 60461:2010)."""
    head = '[show]\nframe_rate = "29.97 DF"\n[[songs]]\nname = "A"\n'
    assert read(folder, head + 'timecode_start = "01:10:00;00"\n').frame_rate == FPS_29_97_DROP
    (said,) = mistakes(folder, head + 'timecode_start = "01:01:00;00"\n')
    assert "does not exist" in said
    assert mistakes(folder, head + 'frame_rate = "25"\ntimecode_start = "01:00:00:25"\n')


def test_the_readme_documents_every_key():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    match = re.search(r"<!-- keys:start -->\n(.*?)<!-- keys:end -->", readme, re.DOTALL)
    assert match, "README.md has no <!-- keys:start --> … <!-- keys:end -->"
    assert match[1].strip() == keys_markdown().strip(), "run: python -m tests.remake_reports"
