"""`stemaudit hear` as a user runs it: the clip, the words, the codes, and a show left as it was."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest
import soundfile

from tests.cli import folders
from tests.cli.warm import run


@pytest.fixture(scope="module")
def home(tmp_path_factory) -> Path:
    home = tmp_path_factory.mktemp("home")
    folders.write_show(home / "Harbour Lights Tour")
    folders.clip(home / "Harbour Lights Tour" / "Tin Roof" / "Keys.wav")
    return home


def state(folder: Path) -> dict[Path, tuple[int, int]]:
    return {path: (path.stat().st_mtime_ns, path.stat().st_size) for path in sorted(folder.rglob("*"))}


def test_the_line_under_a_fault_writes_a_clip(home):
    before = state(home / "Harbour Lights Tour")
    report = run("scan", "Harbour Lights Tour", "--jobs", "1", cwd=home).stdout
    line = next(line for line in report.splitlines() if "stemaudit hear" in line and "Keys.wav" in line)
    words = shlex.split(line[line.index("hear") :])
    done = run(*words, cwd=home)
    assert done.returncode == 0, done.stderr
    (clip,) = (home / "stemaudit-out").iterdir()
    assert clip.name.startswith("Tin Roof - Keys - 0m0")
    assert clip.name.endswith("s - place at 4s.wav")
    assert f"Written: stemaudit-out/{clip.name}" in done.stdout
    assert "is at second 4 of the clip" in done.stdout
    assert "Turned down by" in done.stdout
    assert "Caution: set the monitor or the in-ears low" in done.stdout
    assert "nothing of the sound pressure" in done.stdout
    assert soundfile.info(clip).duration == 8.0
    assert state(home / "Harbour Lights Tour") == before


@pytest.mark.parametrize(
    ("here", "path", "out"),
    [
        ("", ".", "../stemaudit-out"),
        ("", "Tin Roof", "../stemaudit-out"),
        ("Tin Roof", ".", "../../stemaudit-out"),
        ("Tin Roof", "..", "../../stemaudit-out"),
    ],
)
def test_the_line_runs_as_it_is_printed_in_the_shows_own_folder(home, here, path, out):
    show = home / "Harbour Lights Tour"
    before = state(show)
    report = run("scan", path, "--jobs", "1", "--html", str(home / "page.html"), cwd=show / here)
    text = report.stdout.replace("\\\n", " ")
    line = next(line for line in text.splitlines() if "stemaudit hear" in line and "Keys.wav" in line)
    words = shlex.split(line[line.index("hear") :])
    assert words[-2:] == ["--out", out]
    done = run(*words, cwd=show / here)
    assert done.returncode == 0, done.stderr
    assert any(clip.name.startswith("Tin Roof - Keys - 0m0") for clip in (home / "stemaudit-out").iterdir())
    assert state(show) == before
    assert f"--out {out}</code>" in (home / "page.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("Harbour Lights Tour/Tin Roof/Bass.wav",), 2, "say one place"),
        (("Harbour Lights Tour/Tin Roof/Bass.wav", "--at", "x"), 2, "not a place"),
        (("Harbour Lights Tour/Tin Roof/Bass.wav", "--at", "9:00"), 2, "there is nothing at 9:00.000"),
        (("Harbour Lights Tour/Tin Roof/Bass.wav", "--at", "0", "--out", "Harbour Lights Tour"), 2, "--out"),
        (("Harbour Lights Tour/Tin Roof", "--at", "0"), 2, "a folder: name one of its stems"),
        (("Harbour Lights Tour/Tin Roof/None.wav", "--at", "0"), 2, "no such file"),
        (("Odd Song/broken.wav", "--at", "0"), 3, "cannot be heard"),
    ],
)
def test_what_cannot_be_done_is_one_line(home, words, code, says):
    (home / "Odd Song").mkdir(exist_ok=True)
    (home / "Odd Song" / "broken.wav").write_bytes(b"this is no audio" * 1000)
    done = run("hear", *words, cwd=home)
    assert done.returncode == code
    assert done.stdout == ""
    assert says in done.stderr
    assert done.stderr.count("\n") == 1
