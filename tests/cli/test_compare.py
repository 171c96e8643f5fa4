"""`stemaudit compare`: machine and spare, folder and seal, seal and seal."""

from __future__ import annotations

import json
import os
import shutil
import unicodedata
from pathlib import Path

import numpy as np
import pytest

from tests.cli import folders
from tests.cli.command import run
from tests.pipeline.sealed_show import RATE_HZ, click, music, read, write


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A show with its seal in it. Not to be changed."""
    show = folders.write_show(tmp_path_factory.mktemp("compared") / "Harbour Lights Tour")
    for path in show.rglob("*.wav"):
        os.utime(path, ns=(1_700_000_001_234_567_891,) * 2)
    assert run("seal", show).returncode == 0
    return show


@pytest.fixture
def spare(machine: Path, tmp_path: Path) -> Path:
    return shutil.copytree(machine, tmp_path / "Spare")


def stem(show: Path) -> Path:
    return sorted(show.rglob("*.wav"))[0]


def test_a_true_copy_is_the_same(machine: Path, spare: Path):
    number = len(list(machine.rglob("*.wav")))
    for first, second in (
        (machine, spare), (machine / "show.seal", spare), (machine, spare / "show.seal"),
        (machine / "show.seal", spare / "show.seal"),
    ):  # fmt: skip
        done = run("compare", first, second)
        assert (done.returncode, done.stderr) == (0, "")
        assert done.stdout.startswith(f"The same: {number} stems.")
    assert run("compare", machine, spare, "--quiet").stdout == ""


def test_a_drive_of_another_system_is_the_same(machine: Path, spare: Path):
    for path in sorted(spare.rglob("*.wav")):
        os.utime(path, ns=(1_700_000_000 * 10**9 + 3600 * 10**9,) * 2)
        path.rename(path.with_name(unicodedata.normalize("NFD", path.name.upper())))
    done = run("compare", machine, spare, "--quick")
    assert done.returncode == 0
    assert "none of them read" in done.stdout


def test_every_kind_of_difference(machine: Path, spare: Path, tmp_path: Path):
    path = stem(spare)
    others = [other for other in sorted(path.parent.glob("*.wav")) if other != path]
    folders.write_tone(path, freq_hz=1234.5)
    others[0].rename(others[0].with_name("Renamed.wav"))
    others[1].unlink()
    folders.write_tone(path.with_name("Celesta.wav"), freq_hz=777.0)
    roof = spare / "Tin Roof"
    shutil.copy2(roof / "Bass.wav", roof / "Low.wav")
    (roof / "Keys.wav").rename(path.with_name("Keys of the other.wav"))
    done = run("compare", machine, spare, "--json", tmp_path / "compare.json")
    assert done.returncode == 1
    text = " ".join(done.stdout.split())
    assert text.startswith("Not the same: 6 differences")
    assert f"Only in A {path.parent.name}/{others[1].name}" in text
    assert f"Only in B {path.parent.name}/Celesta.wav" in text
    assert f"{path.parent.name}/{others[0].name} → {path.parent.name}/Renamed.wav" in text
    assert "Tin Roof/Low.wav: the same audio as Tin Roof/Bass.wav in A" in text
    assert f"Tin Roof/Keys.wav → {path.parent.name}/Keys of the other.wav: Tin Roof has lost it" in text
    assert f"Different in B {path.parent.name}/{path.name}: " in text
    document = json.loads((tmp_path / "compare.json").read_text(encoding="utf-8"))
    assert sorted(one["state"] for one in document["differences"]) == [
        "changed", "missing", "moved", "moved", "new", "new",
    ]  # fmt: skip
    assert document["same"] is False


def test_bars_are_told_from_the_click(tmp_path: Path):
    """No seal stands behind it: the click of the copy that it should be is heard."""
    machine = tmp_path / "Machine"
    write(machine / "Night Ferry" / "Bass.wav", music(1))
    write(machine / "Night Ferry" / "Click.wav", click())
    shutil.copytree(machine, tmp_path / "Spare")
    bass = tmp_path / "Spare" / "Night Ferry" / "Bass.wav"
    audio = read(bass)
    write(bass, np.concatenate([audio[: 6 * RATE_HZ], audio[8 * RATE_HZ :]]))
    said = " ".join(run("compare", machine, tmp_path / "Spare").stdout.split())
    assert "shorter by 1 bar (2.000 s), taken out at 0:06.000" in said


@pytest.mark.parametrize(
    ("one", "other", "says"),
    [
        (
            "{show}",
            "{show}/Tin Roof",
            "B is a copy of the folder Tin Roof in A, not of all of A: take {show}/Tin",
        ),
        (
            "{show}/Tin Roof",
            "{show}",
            "A is a copy of the folder Tin Roof in B, not of all of B: take {show}/Tin",
        ),
        ("{show}", "{above}", "A is a copy of the folder {name} in B, not of all of B: take {above}/{name} "),
        (
            "{show}/show.seal",
            "{above}",
            "A is a copy of the folder {name} in B, not of all of B: take {above}/",
        ),
        ("{show}/show.seal", "{show}/Tin Roof", "B is a copy of the folder Tin Roof in A, not of all of A: "),
    ],
)
def test_folders_that_do_not_lie_level_are_one_line(machine: Path, one: str, other: str, says: str):
    names = {"show": machine, "above": machine.parent, "name": machine.name}
    done = run("compare", one.format(**names), other.format(**names))
    assert (done.returncode, done.stdout) == (2, "")
    assert says.format(**names) in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_metadata_alone_is_a_note(machine: Path, spare: Path):
    with stem(spare).open("ab") as file:
        file.write(b"note" + (6).to_bytes(4, "little") + b"mended")
    done = run("compare", machine, spare)
    assert done.returncode == 0
    assert "only metadata differ, the audio is the same to the bit" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    "words", [("{show}", "{show}/nowhere"), ("{stem}", "{show}"), ("", "{show}"), ("{show}",)]
)
def test_wrong_words(machine: Path, words: tuple[str, ...]):
    done = run("compare", *(word.format(show=machine, stem=stem(machine)) for word in words))
    assert done.returncode == 2
    assert done.stdout == ""
