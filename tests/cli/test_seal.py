"""`stemaudit seal`, `verify`, and a scan with a seal beside it, as a user meets them."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest

from tests.cli import folders
from tests.cli.command import run


@pytest.fixture(scope="module")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A show with its seal in it. Not to be changed."""
    show = folders.write_show(tmp_path_factory.mktemp("sealed") / "Harbour Lights Tour")
    for path in show.rglob("*.wav"):
        os.utime(path, ns=(1_700_000_001_234_567_891,) * 2)
    done = run("seal", show)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Sealed ")
    assert f'stemaudit verify "{show}"' in done.stdout
    return show


@pytest.fixture
def copy(sealed: Path, tmp_path: Path) -> Path:
    return shutil.copytree(sealed, tmp_path / "Spare Machine")


def stem(show: Path) -> Path:
    return sorted(show.rglob("*.wav"))[0]


def rot(path: Path) -> None:
    when = path.stat()
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 0x40
    path.write_bytes(data)
    os.utime(path, ns=(when.st_atime_ns, when.st_mtime_ns))


def test_a_copy_is_as_sealed(copy: Path):
    done = run("verify", copy)
    assert done.returncode == 0
    assert done.stdout.startswith("As sealed: ")
    assert run("verify", copy, "--quiet").stdout == ""


def test_the_quick_look_says_what_it_left_out(copy: Path):
    rot(stem(copy))
    number = len(list(copy.rglob("*.wav")))
    done = run("verify", copy, "--quick")
    assert done.returncode == 0
    assert done.stdout.startswith(f"As sealed by names, sizes and times: {number} stems, none of them read.")
    assert f"Not read, as name, size and time are those of the seal: {number} stems." in done.stdout


def test_rot_is_an_error(copy: Path, tmp_path: Path):
    rot(stem(copy))
    done = run("verify", copy, "--json", tmp_path / "verify.json")
    assert done.returncode == 1
    assert done.stdout.startswith("Not as sealed: 1 stem decayed.")
    assert "do not trust this disk" in " ".join(done.stdout.split())
    document = json.loads((tmp_path / "verify.json").read_text(encoding="utf-8"))
    (difference,) = document["differences"]
    assert (difference["state"], difference["audio_differs"]) == ("decayed", True)
    assert document["findings"][0]["rule"] == "decayed-since-seal"
    assert document["summary"]["errors"] == 1


def test_exchanged_names_are_no_rot(copy: Path):
    """Two bounces of one session have one size, and here one time as well."""
    one, other = copy / "Tin Roof" / "Bass.wav", copy / "Tin Roof" / "Keys.wav"
    assert one.stat().st_size == other.stat().st_size
    one.rename(copy / "held")
    other.rename(one)
    (copy / "held").rename(other)
    done = run("verify", copy)
    said = " ".join(done.stdout.split())
    assert done.returncode == 1
    assert said.startswith("Not as sealed: 2 stems changed.")
    assert "holds what was Tin Roof/Keys.wav" in said
    assert "disk" not in said


def test_a_scan_beside_a_seal_says_who_can_tell_more(copy: Path):
    folders.write_tone(copy / "Tin Roof" / "Keys.wav", freq_hz=400.0, seed=77)
    folders.write_tone(copy / "Tin Roof" / "Bass.wav", freq_hz=90.0, seed=78, seconds=2.5)
    said = " ".join(run("scan", copy, "--only", "changed-since-seal").stdout.split())
    assert "not as it was sealed: other audio (`stemaudit verify`" in said
    assert "longer by 0.500 s (`stemaudit verify`" in said
    assert "at its end" not in said


def test_a_missing_and_a_new_stem(copy: Path):
    gone = stem(copy)
    folders.write_tone(gone.with_name("Celesta.wav"), freq_hz=1234.5)
    gone.unlink()
    done = run("verify", copy)
    assert done.returncode == 1
    assert "1 stem missing" in done.stdout
    assert "Celesta.wav: not there when the show was sealed" in done.stdout


def test_a_scan_tells_what_its_measures_tell(copy: Path):
    path = stem(copy)
    folders.write_tone(path, freq_hz=1234.5)
    done = run("scan", copy, "--only", "changed-since-seal,missing-since-seal,decayed-since-seal")
    assert done.returncode == 1
    assert "changed-since-seal" in done.stdout
    assert path.name in done.stdout


def test_the_seal_itself_is_no_stray_file(sealed: Path):
    done = run("scan", sealed, "--verbose")
    assert done.returncode == 0
    assert "show.seal: the show's seal" in done.stdout


def test_a_single_song_can_be_sealed(copy: Path):
    song = stem(copy).parent
    assert run("seal", song).returncode == 0
    assert run("verify", song).returncode == 0
    assert "stray-file" not in run("scan", song).stdout


def test_a_seal_elsewhere(sealed: Path, tmp_path: Path):
    place = tmp_path / "tuesday.seal"
    assert run("seal", sealed, "--out", place).returncode == 0
    assert run("verify", sealed, "--seal", place).returncode == 0


def test_a_damaged_seal_stops_verify_and_no_scan(copy: Path):
    data = bytearray((copy / "show.seal").read_bytes())
    data[len(data) // 2] ^= 0xFF
    (copy / "show.seal").write_bytes(data)
    done = run("verify", copy)
    assert (done.returncode, done.stdout) == (2, "")
    assert "is damaged, or no seal" in done.stderr
    assert len(done.stderr.splitlines()) == 1
    scanned = run("scan", copy)
    assert scanned.returncode == 0
    assert "is damaged, or no seal" in scanned.stderr


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("verify", "{show}", "--seal", "nowhere.seal"), "there is no seal"),
        (("verify", "{show}", "--seal", ""), "--seal: no file is named"),
        (("verify", "{show}/nowhere"), "there is no"),
        (("seal", "{show}/nowhere"), "there is no such folder"),
        (("seal", "{show}", "--out", ""), "--out: no file is named"),
        (("seal", "{show}", "--out", "{stem}"), "exists and is no seal"),
        (("seal", "{show}", "--out", "{show}/nowhere/a.seal"), "its folder does not exist"),
        (("seal", "{show}", "--out", "{song}/a.seal"), "lies in the song"),
    ],
)
def test_wrong_words_are_one_line(sealed: Path, words: tuple[str, ...], says: str):
    path = stem(sealed)
    filled = [word.format(show=sealed, stem=path, song=path.parent) for word in words]
    done = run(*filled)
    assert done.returncode == 2
    assert says in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_nothing_is_said_without_a_seal(tmp_path: Path):
    show = folders.write_show(tmp_path / "Unsealed")
    done = run("verify", show)
    assert done.returncode == 2
    assert "there is no seal; make one with `stemaudit seal`" in done.stderr
