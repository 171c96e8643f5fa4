"""`stemaudit compare`: machine and spare, folder and seal, seal and seal."""

from __future__ import annotations

import json
import os
import shutil
import unicodedata
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.cli import folders
from tests.cli.warm import run
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


def test_the_answer_counts_what_is_listed(machine: Path, spare: Path):
    """A song's folder that was renamed is one line, and so is one that is gone, whatever lies in them."""
    (spare / "Night Ferry").rename(spare / "Old Ferry")
    (spare / "Tin Roof" / "Bass.wav").unlink()
    folders.write_tone(spare / "Tin Roof" / "Keys.wav", freq_hz=1234.5)
    lines = run("compare", machine, spare).stdout.splitlines()
    assert lines[0] == "Not the same: 3 differences (5 stems) over 6 stems of A."
    listed = [line for line in lines[3:] if line.startswith("  ")]
    assert len(listed) == 3, lines
    shutil.rmtree(spare / "Old Ferry")
    lines = run("compare", machine, spare).stdout.splitlines()
    assert lines[0] == "Not the same: 3 differences (5 stems) over 6 stems of A."
    shutil.copytree(machine / "Night Ferry", spare / "Night Ferry")
    lines = run("compare", machine, spare).stdout.splitlines()
    assert lines[0] == "Not the same: 2 differences over 6 stems of A."


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


def change(path: Path, at: float, make: Callable[[bytes], bytes], size: int = 3) -> None:
    """Some bytes of a sample changed, the file's time as it was."""
    when, data = path.stat(), bytearray(path.read_bytes())
    first = 44 + (int(at * len(data)) - 44) // 6 * 6
    data[first : first + size] = make(bytes(data[first : first + size]))
    path.write_bytes(data)
    os.utime(path, ns=(when.st_atime_ns, when.st_mtime_ns))


def test_which_copy_is_damaged_is_said_where_it_shows(tmp_path: Path):
    a, b = tmp_path / "A" / "Opener", tmp_path / "B" / "Opener"
    for seed, name in enumerate(("Bass", "Brass", "Drums", "Guitar", "Pad", "Strings")):
        write(a / f"{name}.wav", music(seed))
    for seed, name in enumerate(("Keys", "Organ")):
        sf.write(a / f"{name}.flac", music(10 + seed), RATE_HZ, subtype="PCM_24")
    shutil.copytree(a, b)
    change(b / "Bass.wav", 0.51, lambda data: data[:2] + bytes([data[2] ^ 0x40]))  # a high bit
    change(a / "Guitar.wav", 0.51, lambda data: data[:2] + bytes([data[2] ^ 0x40]))
    change(b / "Drums.wav", 0.51, lambda data: bytes([data[0] ^ 0x02]) + data[1:])  # a low one
    change(a / "Pad.wav", 0.51, lambda data: bytes(len(data)), size=4092)
    change(b / "Keys.flac", 0.5, lambda data: bytes([data[0] ^ 0x10]) + data[1:])
    change(a / "Organ.flac", 0.7, lambda data: bytes(255 - byte for byte in data))
    for path, share in ((a / "Strings.wav", 0.4), (b / "Brass.wav", 0.6)):
        path.write_bytes(path.read_bytes()[: int(share * path.stat().st_size)])
    done = run("compare", tmp_path / "A", tmp_path / "B", "--json", tmp_path / "c.json")
    assert done.returncode == 1
    said = " ".join(done.stdout.split())
    for words in (
        "Brass.wav: B is broken off at 0:09.600 of 0:16.000 (an interrupted copy?)",
        "Strings.wav: A is broken off at 0:06.400 of 0:16.000 (an interrupted copy?)",
        "Bass.wav: 1 sample differs at 0:08.160; B looks damaged: a click at 0:08.160",
        "Guitar.wav: 1 sample differs at 0:08.160; A looks damaged: a click at 0:08.160",
        "Drums.wav: 1 sample differs at 0:08.160; nothing shows which of the two is right",
        "A looks damaged: nothing but zeros from 0:08.1",
        "Keys.flac: B is damaged inside: ",
        "Organ.flac: A is damaged inside: ",
        "A seal made while all was well would tell which of the two is right: stemaudit seal.",
    ):
        assert words in said, words
    found = json.loads((tmp_path / "c.json").read_text(encoding="utf-8"))["differences"]
    assert {one["stem"]: one["damaged"] for one in found} == {
        "Bass.wav": "b", "Brass.wav": "b", "Drums.wav": None, "Guitar.wav": "a", "Keys.flac": "b",
        "Organ.flac": "a", "Pad.wav": "a", "Strings.wav": "a",
    }  # fmt: skip


@pytest.mark.parametrize("broken", ["A", "B"])
@pytest.mark.parametrize("same_time", [True, False])
def test_a_copy_of_full_size_that_was_filled_only_so_far(tmp_path: Path, broken: str, same_time: bool):
    """Some programs give a copy its size first: what never came is zeros, from a block's edge on."""
    write(tmp_path / "A" / "Opener" / "Bass.wav", music(3))
    shutil.copytree(tmp_path / "A", tmp_path / "B")
    path = tmp_path / broken / "Opener" / "Bass.wav"
    when, data = path.stat(), path.read_bytes()
    path.write_bytes(data[: 500 * 4096] + bytes(len(data) - 500 * 4096))
    if same_time:
        os.utime(path, ns=(when.st_atime_ns, when.st_mtime_ns))
    said = " ".join(run("compare", tmp_path / "A", tmp_path / "B").stdout.split())
    assert f"Bass.wav: {broken} is broken off at 0:07.111 of 0:16.000 (an interrupted copy?)" in said


def test_a_mute_that_somebody_made_is_no_broken_copy(tmp_path: Path):
    wave = music(3)
    write(tmp_path / "A" / "Opener" / "Bass.wav", wave)
    for frames in (333_333, 400_001, 512_345):
        cut = wave.copy()
        cut[frames:] = 0.0
        write(tmp_path / "B" / "Opener" / "Bass.wav", cut)
        os.utime(tmp_path / "B" / "Opener" / "Bass.wav", (1_700_000_000, 1_700_000_000))
        said = " ".join(run("compare", tmp_path / "A", tmp_path / "B").stdout.split())
        assert "Different in B Opener/Bass.wav: " in said
        assert "broken off" not in said
        assert "damaged" not in said


def test_a_seal_knows_which_copy_has_rotted(machine: Path, spare: Path):
    change(stem(spare), 0.51, lambda data: bytes([data[0] ^ 0x02]) + data[1:])
    for words, side in (((machine / "show.seal", spare), "B"), ((spare, machine / "show.seal"), "A")):
        said = " ".join(run("compare", *words).stdout.split())
        assert f"{side} looks damaged: it is not what was sealed" in said


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
