"""`stemaudit seal`, `verify`, and a scan with a seal beside it, as a user meets them."""

from __future__ import annotations

import gzip
import json
import os
import shlex
import shutil
from datetime import date
from pathlib import Path

import pytest

from tests.cli import folders
from tests.cli.warm import run


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


def test_rot_is_not_sealed_over(copy: Path):
    before = (copy / "show.seal").read_bytes()
    rot(stem(copy))
    done = run("seal", copy)
    assert done.returncode == 1
    assert "Not sealed: 1 stem rotted since the last seal" in done.stderr
    assert stem(copy).name in done.stderr
    assert (copy / "show.seal").read_bytes() == before
    assert run("verify", copy).returncode == 1
    forced = run("seal", copy, "--anyway")
    assert forced.returncode == 0
    assert "1 decayed." in forced.stdout
    assert run("verify", copy).returncode == 0


def test_a_new_seal_says_what_has_changed_since_the_last(copy: Path):
    stem(copy).unlink()
    done = run("seal", copy)
    assert done.returncode == 0
    assert "Since the last seal (" in done.stdout
    assert "1 missing." in done.stdout
    assert "Nothing has changed since the last seal" in run("seal", copy).stdout


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


def test_the_headline_counts_every_kind(copy: Path):
    """One stem rotten, one gone, one changed, one in the other song, one renamed, one new."""
    one, other = copy / "Night Ferry", copy / "Tin Roof"
    rot(one / "Bass.wav")
    (one / "Keys.wav").rename(one / "Piano.wav")
    (one / "Guitar.wav").rename(other / "Guitar 2.wav")
    folders.write_tone(other / "Bass.wav", freq_hz=1234.5)
    (other / "Keys.wav").unlink()
    folders.write_tone(other / "Celesta.wav", freq_hz=777.0)
    shutil.copy2(other / "Guitar.wav", other / "Banjo.wav")
    done = run("verify", copy)
    said = " ".join(done.stdout.split())
    assert said.startswith(
        "Not as sealed: 1 stem decayed, 1 missing, 1 changed, 1 in another song, 1 under another name, 2 new."
    )
    assert "Guitar.wav: is no longer in this song: it lies in another one, as Tin Roof/Guitar 2.wav" in said
    assert "Banjo.wav: not there when the show was sealed; the same audio as Tin Roof/Guitar.wav" in said
    assert done.returncode == 1


def test_a_stem_in_another_song_is_an_error_by_itself(copy: Path):
    (copy / "Night Ferry" / "Keys.wav").rename(copy / "Tin Roof" / "Keys 2.wav")
    done = run("verify", copy)
    assert done.returncode == 1
    assert done.stdout.startswith("Not as sealed: 1 stem in another song.")
    (copy / "Tin Roof" / "Keys 2.wav").rename(copy / "Night Ferry" / "Keys 2.wav")
    done = run("verify", copy)
    assert done.returncode == 0
    assert done.stdout.startswith("As sealed, but for names: 1 stem under another name.")


def test_a_copy_that_broke_off(copy: Path):
    """The drive was pulled out while the first song's last stem was written: the second never came."""
    path = copy / "Night Ferry" / "Keys.wav"
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    shutil.rmtree(copy / "Tin Roof")
    done = run("verify", copy)
    said = " ".join(done.stdout.split())
    assert done.returncode == 1
    assert said.startswith("Not as sealed: 3 stems missing, 1 changed.")
    assert "Keys.wav: not as it was sealed: broken off at 0:01.000 of 0:02.000 (an interrupted copy?)" in said
    assert "Tin Roof error the whole song is no longer there; it was sealed with 3 stems" in said
    assert "Copy it again from where it is whole, and verify the copy again." in said
    compared = " ".join(run("compare", copy / "show.seal", copy).stdout.split())
    assert "Only in A Tin Roof: the whole song, 3 stems" in compared


def test_what_is_new_stands_in_the_headline(copy: Path):
    folders.write_tone(copy / "Tin Roof" / "Celesta.wav", freq_hz=777.0)
    done = run("verify", copy)
    assert done.returncode == 0
    assert done.stdout.startswith("As sealed: 6 stems, and beside that 1 stem new.")
    quick = run("verify", copy, "--quick").stdout
    assert quick.startswith(
        "As sealed by names, sizes and times: 6 stems, none of them read; beside that 1 stem new."
    )


def test_findings_stand_song_by_song(copy: Path, tmp_path: Path):
    for song in ("Tin Roof", "Night Ferry"):
        for name in ("Bass", "Keys"):
            folders.write_tone(copy / song / f"{name}.wav", freq_hz=1234.5, seed=len(song + name))
    run("verify", copy, "--json", tmp_path / "verify.json")
    document = json.loads((tmp_path / "verify.json").read_text(encoding="utf-8"))
    for part in ("differences", "findings"):
        songs = [one.get("song") or one["songs"][0] for one in document[part]]
        assert songs == ["Night Ferry", "Night Ferry", "Tin Roof", "Tin Roof"]


def test_what_to_do_stands_under_the_stems_that_it_is_for(copy: Path):
    """A stem of which a few samples differ is no bounce that anybody wants."""
    for song in ("Night Ferry", "Tin Roof"):
        data = bytearray((copy / song / "Bass.wav").read_bytes())
        data[len(data) // 2] ^= 0x40
        (copy / song / "Bass.wav").write_bytes(data)
    folders.write_tone(copy / "Tin Roof" / "Guitar.wav", freq_hz=1234.5, seed=3)
    folders.write_tone(copy / "Tin Roof" / "Keys.wav", freq_hz=987.5, seed=4)
    lines = [line.strip() for line in run("verify", copy, COLUMNS="400").stdout.splitlines()]
    again = "Cure: Copy it again from where it is whole, and verify the copy again. (changed-since-seal)"
    wanted = "Cure: If this is the bounce you want, listen to the song and seal it anew"
    ferry, roof = lines.index("Night Ferry"), lines.index("Tin Roof")
    assert [line.split(":")[0] for line in lines[ferry + 1 : roof - 1]] == ["error    Bass.wav", "Cure"]
    assert lines[ferry + 2] == again
    of_roof = lines[roof + 1 : roof + 5]
    assert [line.partition(":")[0] for line in of_roof] == [
        "error    Bass.wav", "Cure", "error    Guitar.wav, Keys.wav", "Cure",
    ]  # fmt: skip
    assert of_roof[1] == again
    assert of_roof[3].startswith(wanted)
    assert "What to do" not in lines


def test_one_cure_for_all_is_said_once(copy: Path):
    for song in ("Night Ferry", "Tin Roof"):
        (copy / song / "Bass.wav").unlink()
    said = run("verify", copy).stdout
    assert said.count("Copy it back") == said.count("What to do") == 1
    assert "Cure:" not in said


def test_a_scan_tells_what_its_measures_tell(copy: Path):
    path = stem(copy)
    folders.write_tone(path, freq_hz=1234.5)
    done = run("scan", copy, "--only", "changed-since-seal,missing-since-seal,decayed-since-seal")
    assert done.returncode == 1
    assert "changed-since-seal" in done.stdout
    assert path.name in done.stdout


def test_a_scan_knows_a_stem_in_another_song(copy: Path):
    """Though no one asked for `verify`: its song plays without it."""
    (copy / "Night Ferry" / "Keys.wav").rename(copy / "Tin Roof" / "Keys 2.wav")
    shutil.copy2(copy / "Tin Roof" / "Bass.wav", copy / "Tin Roof" / "Low.wav")
    done = run("scan", copy, "--only", "missing-since-seal,new-since-seal", "--verbose")
    said = " ".join(done.stdout.split())
    assert done.returncode == 1
    assert "is no longer in this song: it lies in another one, as Tin Roof/Keys 2.wav" in said
    assert "the same audio as Tin Roof/Bass.wav" in said


def test_a_scan_and_verify_agree_on_a_changed_stem_in_a_renamed_song(copy: Path, tmp_path: Path):
    """The song that is there now has the fault, not the one that was."""
    new = (copy / "Tin Roof").rename(copy / "Copper Roof")
    data = bytearray((new / "Bass.wav").read_bytes())
    data[len(data) // 2] ^= 0x40
    (new / "Bass.wav").write_bytes(data)
    (new / "Guitar.wav").unlink()
    done = run("verify", copy, "--json", "-")
    differences = json.loads(done.stdout)["differences"]
    assert {(one["state"], one["was"]) for one in differences} == {
        ("changed", "Tin Roof/Bass.wav"), ("missing", None), ("moved", "Tin Roof/Keys.wav"),
    }  # fmt: skip
    rules = "changed-since-seal,missing-since-seal,decayed-since-seal,new-since-seal"
    done = run("scan", copy, "--only", rules, "--json", tmp_path / "r.json")
    assert done.returncode == 1
    report = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))
    found = {(one["rule"], tuple(one["songs"]), one["stem"]): one for one in report["show_findings"]}
    assert set(found) == {
        ("changed-since-seal", ("Copper Roof",), "Bass.wav"),
        ("missing-since-seal", ("Copper Roof",), "Guitar.wav"),
        ("missing-since-seal", ("Copper Roof",), None),
    }
    said = found["changed-since-seal", ("Copper Roof",), "Bass.wav"]["message"]
    assert said.startswith("was Tin Roof/Bass.wav when it was sealed, and is not as it was: ")
    assert {song["name"]: song["verdict"] for song in report["songs"]} == {
        "Copper Roof": "error", "Night Ferry": "clear",
    }  # fmt: skip


def test_other_songs_with_the_same_names_are_no_renamed_one_to_a_scan(copy: Path, tmp_path: Path):
    shutil.rmtree(copy / "Tin Roof")
    for number, name in enumerate(("Bass", "Keys", "Guitar")):
        folders.write_tone(copy / "Sooner" / f"{name}.wav", freq_hz=700.0 + 97 * number, seed=70 + number)
    run("scan", copy, "--only", "changed-since-seal,missing-since-seal", "--json", tmp_path / "r.json")
    found = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))["show_findings"]
    assert [(one["rule"], one["songs"]) for one in found] == [("missing-since-seal", ["Tin Roof"])]
    assert found[0]["message"].startswith("the whole song is no longer there")


def test_the_seal_itself_is_no_stray_file(sealed: Path):
    done = run("scan", sealed, "--verbose")
    assert done.returncode == 0
    assert "show.seal: the show's seal" in done.stdout


def test_a_single_song_can_be_sealed(copy: Path):
    song = stem(copy).parent
    assert run("seal", song).returncode == 0
    assert run("verify", song).returncode == 0
    assert "stray-file" not in run("scan", song).stdout


def test_one_song_is_sealed_anew_and_nothing_else(copy: Path, tmp_path: Path):
    """What happened to the other songs since is not sealed over."""
    roof, other = copy / "Tin Roof", next(p for p in copy.iterdir() if p.is_dir() and p.name != "Tin Roof")
    folders.write_tone(roof / "Bass.wav", freq_hz=83.0, seed=99)
    folders.write_tone(next(other.glob("*.wav")), freq_hz=97.0, seed=98)
    done = run("seal", copy, "--song", "tin roof")
    assert (done.returncode, done.stdout.count("Since the last seal")) == (0, 1), done.stderr
    assert "Sealed 3 stems of 1 song in" in done.stdout
    assert "as before." in done.stdout
    assert ": 1 changed." in done.stdout
    left = run("verify", copy, "--json", tmp_path / "v.json")
    assert left.returncode == 1
    assert left.stdout.startswith("Not as sealed: 1 stem changed.")
    assert f"Sealed anew since: Tin Roof ({date.today().year}-" in " ".join(left.stdout.split())
    told = json.loads((tmp_path / "v.json").read_text(encoding="utf-8"))
    assert [one["song"] for one in told["differences"]] == [other.name]
    assert [one["song"] for one in told["seal"]["anew"]] == ["Tin Roof"]
    assert run("seal", copy).returncode == 0
    assert "Sealed anew since" not in run("verify", copy).stdout


def test_a_song_that_was_renamed_is_sealed_under_its_new_name_alone(copy: Path):
    (copy / "Tin Roof").rename(copy / "Copper Roof")
    assert run("seal", copy, "--song", "Copper Roof").returncode == 0
    done = run("verify", copy)
    assert (done.returncode, done.stdout.startswith("As sealed: ")) == (0, True), done.stdout


def test_a_new_song_joins_the_seal(copy: Path):
    folders.write_song(copy / "Later", seed=9)
    assert run("seal", copy, "--song", "Later").returncode == 0
    done = run("verify", copy)
    assert (done.returncode, "not there when" in done.stdout) == (0, False)


def test_rot_is_not_sealed_over_by_a_single_song_either(copy: Path):
    rot(stem(copy))
    done = run("seal", copy, "--song", stem(copy).parent.name)
    assert (done.returncode, done.stdout) == (1, "")
    assert "Not sealed: 1 stem rotted" in done.stderr
    assert run("seal", copy, "--song", stem(copy).parent.name, "--anyway").returncode == 0


def test_a_single_song_needs_a_seal_to_be_sealed_in(copy: Path):
    (copy / "show.seal").unlink()
    done = run("seal", copy, "--song", "Tin Roof")
    assert (done.returncode, len(done.stderr.splitlines())) == (2, 1)
    assert "there is no seal yet" in done.stderr


def test_one_song_of_a_sealed_show_is_checked_by_itself(copy: Path, tmp_path: Path):
    """Nobody misses the other songs, nor is one of them read."""
    opener, others = (
        copy / "Tin Roof",
        sorted(p for p in copy.iterdir() if p.is_dir() and p.name != "Tin Roof"),
    )
    shutil.rmtree(others[0])
    for words in ((opener,), (copy, "--song", "tin roof")):
        done = run("verify", *words)
        assert (done.returncode, done.stderr) == (0, "")
        assert done.stdout.startswith("As sealed: 3 stems.\nOnly this was checked: Tin Roof.\n")
    assert run("verify", ".", cwd=opener).returncode == 0
    (opener / "Bass.wav").unlink()
    done = run("verify", opener, "--json", tmp_path / "v.json")
    assert done.returncode == 1
    assert done.stdout.startswith("Not as sealed: 1 stem missing.")
    (only,) = json.loads((tmp_path / "v.json").read_text(encoding="utf-8"))["differences"]
    assert (only["state"], only["path"]) == ("missing", "Tin Roof/Bass.wav")


RENAMED = "As sealed, but for names: 1 song in renamed folders.\nOnly this was checked: Copper Roof.\n"


def test_one_song_that_was_renamed_is_known_by_its_content(copy: Path, tmp_path: Path):
    """By its old name, by its new one, and by itself on another drive."""
    (copy / "Tin Roof").rename(copy / "Copper Roof")
    shutil.copytree(copy / "Copper Roof", tmp_path / "drive" / "Copper Roof")
    for words in (
        (copy / "Copper Roof",),
        (copy, "--song", "Tin Roof"),
        (copy, "--song", "Copper Roof"),
        (tmp_path / "drive" / "Copper Roof", "--seal", copy / "show.seal"),
    ):
        done = run("verify", *words)
        assert (done.returncode, done.stderr) == (0, ""), words
        assert done.stdout.startswith(RENAMED), words
        assert "warning  was called Tin Roof when it was sealed" in done.stdout
    (copy / "Copper Roof" / "Bass.wav").unlink()
    for words in ((copy / "Copper Roof",), (copy, "--song", "Tin Roof")):
        done = run("verify", *words)
        assert (done.returncode, "Bass.wav: sealed, and no longer there" in done.stdout) == (1, True)


def test_a_song_and_its_stems_under_other_names_have_lost_nothing(copy: Path):
    new = (copy / "Tin Roof").rename(copy / "Copper Roof")
    for path in list(new.iterdir()):
        path.rename(new / f"CopperRoof {path.name}")
    for words in ((copy,), (copy, "--song", "Tin Roof"), (new,), (new, "--seal", copy / "show.seal")):
        done = run("verify", *words)
        assert done.returncode == 0, words
        assert done.stdout.startswith("As sealed, but for names: 1 song in renamed folders.")
        assert "3 stems under another name, the first: CopperRoof Bass.wav, was Bass.wav" in " ".join(
            done.stdout.split()
        )


def test_one_song_that_is_gone_or_new(copy: Path):
    shutil.rmtree(copy / "Tin Roof")
    folders.write_song(copy / "Sooner", seed=8)
    done = run("verify", copy, "--song", "Tin Roof")
    assert done.returncode == 1
    assert "the whole song is no longer there" in done.stdout
    assert "Sooner" not in done.stdout
    folders.write_song(copy / "Later", seed=9)
    done = run("verify", copy / "Later")
    assert (done.returncode, len(done.stderr.splitlines())) == (2, 1)
    assert "Later: the seal knows no such song" in done.stderr
    assert "no such song" in run("verify", copy, "--song", "Nothing").stderr


def test_a_seal_elsewhere(sealed: Path, tmp_path: Path):
    place = tmp_path / "tuesday.seal"
    assert run("seal", sealed, "--out", place).returncode == 0
    assert run("verify", sealed, "--seal", place).returncode == 0


@pytest.mark.parametrize("there", ["a seal.seal", "."], ids=["a file", "a folder"])
def test_the_command_that_a_seal_names_works(sealed: Path, tmp_path: Path, there: str):
    show = shutil.copytree(sealed, tmp_path / "Tour & 'Co'", ignore=shutil.ignore_patterns("show.seal"))
    done = run("seal", show, "--out", tmp_path / there)
    words = shlex.split(done.stdout.splitlines()[-1].partition("Check a copy against it: stemaudit ")[2])
    assert words[:3] == ["verify", str(show), "--seal"]
    done = run(*words)
    assert (done.returncode, done.stdout.partition(":")[0]) == (0, "As sealed"), done.stderr
    assert run("seal", show, "--out", show / "show.seal").stdout.endswith(f'verify "{show}"\n')


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


def test_the_wrong_folder_is_one_line(sealed: Path, tmp_path: Path):
    for words, says in (
        ((sealed.parent,), f"there is one in {sealed}: verify that"),
        ((sealed.parent, "--seal", sealed / "show.seal"), f"take {sealed} instead of {sealed.parent}"),
    ):
        done = run("verify", *words)
        assert (done.returncode, done.stdout) == (2, "")
        assert says in done.stderr
        assert len(done.stderr.splitlines()) == 1


def test_a_later_seal_is_one_line(copy: Path):
    path = copy / "show.seal"
    seal = json.loads(gzip.decompress(path.read_bytes()))
    path.write_bytes(gzip.compress(json.dumps({**seal, "schema": 2, "songs": {"not": "ours"}}).encode()))
    done = run("verify", copy)
    assert (done.returncode, done.stdout) == (2, "")
    assert "was made by a later stemaudit; update this one to read it" in done.stderr
    path.write_bytes(gzip.compress(json.dumps({**seal, "words of a later one": 1}).encode()))
    assert run("verify", copy).returncode == 0  # keys may be added


def test_a_show_with_a_stem_that_cannot_be_read_is_sealed(copy: Path):
    """It is part of the show's state: whoever mends it has changed the show."""
    (copy / "Tin Roof" / "Keys.wav").write_bytes(b"this is no audio" * 500)
    done = run("seal", copy)
    assert done.returncode == 3
    assert (
        "1 stem could not be read; the seal has only the bytes: `stemaudit scan` tells which." in done.stdout
    )
    assert run("verify", copy).returncode == 0
    (copy / "Tin Roof" / "Keys.wav").write_bytes(b"another garbage!" * 500)
    assert run("verify", copy).returncode == 1


def test_a_folder_that_is_not_there_is_said_to_be_none(tmp_path: Path):
    done = run("verify", tmp_path / "driveC")
    assert done.returncode == 2
    assert "there is no such folder" in done.stderr
    assert "seal" not in done.stderr.replace("driveC", "")
    assert "is the drive connected" in done.stderr


@pytest.mark.parametrize("slip", ["Sumer Run", "summer run", "Summer Run/Night Fery"])
def test_a_slip_in_a_folders_name_is_told(tmp_path: Path, slip: str):
    meant = "Summer Run/Night Ferry" if "/" in slip else "Summer Run"
    (tmp_path / "Summer Run" / "Night Ferry").mkdir(parents=True)
    if (tmp_path / slip).exists():
        pytest.skip("this file system takes both for one name")
    done = run("verify", tmp_path / slip)
    assert done.returncode == 2
    assert done.stderr.endswith(f'there is no such folder; did you mean "{tmp_path / meant}"?\n')


def test_nothing_is_said_without_a_seal(tmp_path: Path):
    show = folders.write_show(tmp_path / "Unsealed")
    done = run("verify", show)
    assert done.returncode == 2
    assert "there is no seal; fetch the one that was made of the good copy" in done.stderr
