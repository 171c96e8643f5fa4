"""Version marks: what is one, what is left of the name, and which of several folders is the newest."""

from __future__ import annotations

import pytest

from audit.facts import Role
from audit.folder.roles import read_name
from audit.folder.versions import newest_by_name, read_mark, take_off_marks

MARKED = [
    ("Bass v2", "v2", "bass"),
    ("Bass_V.3", "V.3", "bass"),
    ("Bass V2", "V2", "bass"),
    ("BassV2", "V2", "bass"),
    ("Bass v2.1", "v2.1", "bass"),
    ("Bass v2b", "v2b", "bass"),
    ("Bass ver 4", "ver 4", "bass"),
    ("Bass Version 4", "Version 4", "bass"),
    ("Bass_FINAL", "FINAL", "bass"),
    ("BassFinal", "Final", "bass"),
    ("Bass FINAL2", "FINAL2", "bass"),
    ("Bass final final", "final final", "bass"),
    ("Bass_v3_FINAL", "v3_FINAL", "bass"),
    ("Bass (FINAL)", "FINAL", "bass"),
    ("Bass FINAL.L", "FINAL", "bass l"),
    ("Bass v2 DI", "v2", "bass di"),
    ("v2 Bass", "v2", "bass"),
    ("Bass 2026-05-01", "2026-05-01", "bass"),
    ("Bass_20260501", "20260501", "bass"),
    ("Bass 01.05.26", "01.05.26", "bass"),
    ("Bass 1.5.2026", "1.5.2026", "bass"),
    ("Bass 260501", "260501", "bass"),
    ("Bass 20260501_1432", "20260501_1432", "bass"),
    ("2026-05-01 Bass", "2026-05-01", "bass"),
    ("Bass (1)", "(1)", "bass"),
    ("Bass(2)", "(2)", "bass"),
    ("Bass copy", "copy", "bass"),
    ("Bass - Copy", "Copy", "bass"),
    ("Bass - Copy (2)", "Copy (2)", "bass"),
    ("Bass - Kopie", "Kopie", "bass"),
    ("Bass copie 2", "copie 2", "bass"),
    ("Copy of Bass", "Copy of", "bass"),
    ("Bass rev B", "rev B", "bass"),
    ("Bass rev2", "rev2", "bass"),
    ("Bass mix 3", "mix 3", "bass"),
    ("Bass_Bounce_2", "Bounce_2", "bass"),
    ("Full Mix 3", "Mix 3", "full mix"),
    ("Bass alt", "alt", "bass"),
    ("Bass old", "old", "bass"),
    ("old - Bass", "old", "bass"),
    ("Bass new", "new", "bass"),
    ("Bass edit", "edit", "bass"),
    ("Bass neu", "neu", "bass"),
    ("03 - Bass v2", "v2", "bass"),
    ("Trk 07 Bass v2", "v2", "bass"),
    ("Harbour Lights - Bass v2", "v2", "bass"),
    ("Refrão v2", "v2", "refrão"),
]


@pytest.mark.parametrize(("name", "mark", "key"), MARKED, ids=[name for name, _, _ in MARKED])
def test_mark(name: str, mark: str, key: str):
    reading = read_name(name, "Harbour Lights")
    assert (reading.version, reading.version_key) == (mark, key)


UNMARKED = [
    "Bass", "Gtr 1", "Gtr 2", "Keys A", "Keys B", "BGV 1", "BGV 2", "BGV2", "LV1", "Bass (DI)",
    "Bass (Amp)", "Gtr Solo", "Vox Rev L", "Vox Rev R", "Rev Cym", "Final Chorus Vox", "Finale",
    "New York Horns", "Newborn", "Goldtop Gtr", "Salty Perc", "Editha", "Copyright", "Synth 808",
    "Loop 120", "Loop 128bpm", "Click 6-8", "Bass 48k", "Bass 24bit", "Perc 99.13.26", "LTC 01.00.00.00",
    "Bass 20261345", "Violin II", "V2", "v2", "FINAL", "Mix 3", "01", "2026-05-01", "(1)", "Gtr 12",
    "Overdrive Gtr", "Vox IV 2", "Mix", "12 String",
]  # fmt: skip


@pytest.mark.parametrize("name", UNMARKED)
def test_no_mark(name: str):
    assert read_name(name).version is None


def test_different_stems_have_different_keys():
    names = [
        "Gtr 1",
        "Gtr 2",
        "Keys A",
        "Keys B",
        "BGV 1",
        "Bass (DI)",
        "Bass (Amp)",
        "Bass",
        "Bass L",
        "Bass R",
    ]
    assert len({read_name(name).version_key for name in names}) == len(names)


def test_spelling_of_separators_is_no_difference():
    assert len({read_name(name).version_key for name in ("Lead Vox v1", "lead_vox_v2", "LEAD-VOX.V3")}) == 1


def test_marks_apart_are_joined_as_written():
    assert take_off_marks("v2 Bass FINAL").version == "v2 FINAL"


@pytest.mark.parametrize(
    ("names", "newest"),
    [
        (["v1", "v2", "v10"], "v10"),
        (["v9", "v10"], "v10"),
        (["Stems v1", "v2"], "v2"),
        (["v1", "v2", "FINAL"], "FINAL"),
        (["FINAL", "FINAL2"], "FINAL2"),
        (["Final", "final final"], "final final"),
        (["v3 FINAL", "v4"], "v4"),
        (["v3", "v3 FINAL"], "v3 FINAL"),
        (["v2", "v2.1"], "v2.1"),
        (["2026-05-01", "2026-04-30"], "2026-05-01"),
        (["01.05.26", "30.04.26"], "01.05.26"),
        (["20260501", "2026-05-02"], "2026-05-02"),
        (["2026-05-01", "2026-05-01 v2"], "2026-05-01 v2"),
        (["Mix 3", "Mix 12"], "Mix 12"),
        (["rev A", "rev B"], "rev B"),
        (["v2", "2026-05-01"], None),
        (["Mix 3", "v2"], None),
        (["v2", "new"], None),
        (["v2", "V2 DI"], None),
        (["alt", "neu"], "neu"),
        (["v3 old", "v2", "v1"], "v2"),
        (["draft", "v1"], "v1"),
        (["alt", "v2", "2026-05-01"], None),
        (["new"], "new"),
    ],
)
def test_newest_by_name(names: list[str], newest: str | None):
    assert newest_by_name(names) == newest
    assert newest_by_name(names[::-1]) == newest


@pytest.mark.parametrize(
    ("name", "kind", "scheme", "numbers"),
    [
        ("Bass", "plain", "", ()),
        ("Bass v2", "number", "v", (2, 0)),
        ("Bass_V1.10", "number", "v", (1, 10, 0)),
        ("Bass v3 FINAL", "number", "v", (3, 1)),
        ("Bass Mix 4", "number", "mix", (4, 0)),
        ("Bass rev B", "number", "rev", (ord("b"), 0)),
        ("Bass FINAL", "final", "", (1, 1)),
        ("Bass FINAL 2", "final", "", (1, 2)),
        ("Bass (1)", "counted", "", (1,)),
        ("Bass - Copy", "copy", "", (1,)),
        ("Bass - Kopie 2", "copy", "", (2,)),
        ("Bass new", "word", "new", ()),
        ("Bass old", "old", "", ()),
        ("Bass original", "old", "", ()),
        ("Keys_OLD_dont use", "old", "", ()),
        ("Keys - do not use", "old", "", ()),
        ("Keys (unused)", "old", "", ()),
        ("OLD_Bass", "old", "", ()),
        ("Bass v2 old", "old", "", (2,)),
    ],
)
def test_what_the_mark_of_a_name_says(name: str, kind: str, scheme: str, numbers: tuple[int, ...]):
    mark = read_mark(take_off_marks(name).version)
    assert (mark.kind, mark.scheme, mark.numbers) == (kind, scheme, numbers)


@pytest.mark.parametrize("name", ["Bass 2026-05-01", "Bass 01.05.2026", "Bass 260501"])
def test_a_date_is_a_date_however_it_is_written(name: str):
    assert read_mark(take_off_marks(name).version) == read_mark("2026-05-01")


@pytest.mark.parametrize(
    "name", ["Keys_OLD_dont use", "Keys don't use", "Keys DO NOT USE", "Keys_unused", "Keys orig"]
)
def test_what_is_not_to_be_used_is_a_version_of_the_plain_name(name: str):
    assert read_name(name).version_key == read_name("Keys").version_key
    assert read_name(name).role is Role.KEYS
