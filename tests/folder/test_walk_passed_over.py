"""What is no stem is passed over with its reason; nothing is opened, followed twice or crashed on."""

from __future__ import annotations

import builtins
import os
import socket
import time
from pathlib import Path

import pytest

from audit.errors import UsageError
from audit.facts import Role
from audit.folder.walk import walk
from tests.folder.trees import passed, plant, songs, stem


def show_with(tmp_path: Path, *files: str) -> Path:
    return plant(tmp_path / "Show", "A/Bass.wav", "A/Click.wav", "B/Click.wav", *files)


CLIP = "A - Bass - 0m01.250s - place at 4s.wav"


@pytest.mark.parametrize(
    ("files", "folder"),
    [
        (["stemaudit-out/some other name.wav"], "stemaudit-out"),
        ([f"For Anna/{CLIP}", "For Anna/B - Click - 12m00.000s - place at 0.5s.wav"], "For Anna"),
        ([f"A/stemaudit-out/{CLIP}"], "A/stemaudit-out"),
    ],
)
def test_clips_that_hear_wrote_are_no_song(tmp_path: Path, files: list[str], folder: str):
    show = walk(show_with(tmp_path, *files))
    assert songs(show) == WANTED
    entry = passed(show)[folder]
    assert (entry.reason, entry.holds_audio) == ("clips that stemaudit wrote", True)


def test_a_folder_that_holds_more_than_clips_is_a_song(tmp_path: Path):
    show = walk(show_with(tmp_path, f"C/{CLIP}", "C/Click.wav"))
    assert list(songs(show)) == ["A", "B", "C"]


WANTED = {"A": ["Bass.wav", "Click.wav"], "B": ["Click.wav"]}


@pytest.mark.parametrize(
    ("file", "reason"),
    [
        ("A/._Bass.wav", "AppleDouble"),
        ("A/.DS_Store", "macOS"),
        ("A/Thumbs.db", "Windows"),
        ("A/desktop.ini", "Windows"),
        ("A/.hidden.wav", "hidden"),
        ("A/Bass.wav.asd", "overview"),
        ("A/Bass.pkf", "overview"),
    ],
)
def test_litter(tmp_path: Path, file: str, reason: str):
    show = walk(show_with(tmp_path, file))
    assert songs(show) == WANTED
    entry = passed(show)[file]
    assert reason in entry.reason
    assert (entry.song, entry.stray, entry.unread) == ("A", False, False)


@pytest.mark.parametrize(
    ("file", "reason"),
    [
        ("A/Chart.pdf", "document"),
        ("A/Cover.JPG", "picture"),
        ("A/Rain.als", "session"),
        ("A/Rain.ptx", "session"),
        ("A/Rain.mid", "MIDI"),
        ("A/Stems.zip", "archive"),
        ("A/Bass.wav.part", "unfinished"),
        ("A/Bass", "no extension"),
        ("A/Bass.xyz", "not audio by its extension"),
        ("A/Bass.wav.bak", "not audio by its extension"),
    ],
)
def test_what_somebody_left(tmp_path: Path, file: str, reason: str):
    show = walk(show_with(tmp_path, file))
    assert songs(show) == WANTED
    entry = passed(show)[file]
    assert reason in entry.reason
    assert (entry.song, entry.stray) == ("A", True)


UNFINISHED = [
    "Keys.wav.part", "Keys.wav.crdownload", "Keys.wav.download", "Keys.WAV.partial", "Keys.flac.!ut",
    "Keys.wav.filepart", "Keys.wav~", ".Keys.wav.a8K2xQ", "Keys.wav.tmp", "Keys.wav.download/Keys.wav",
]  # fmt: skip


@pytest.mark.parametrize("file", UNFINISHED)
def test_an_unfinished_download_in_place_of_a_stem_leaves_the_song_unheard(tmp_path: Path, file: str):
    show = walk(show_with(tmp_path, f"A/{file}"))
    assert songs(show) == WANTED
    entry = passed(show)[f"A/{file.split('/')[0]}"]
    assert "let it finish" in entry.reason
    assert (entry.song, entry.stray, entry.unread) == ("A", False, True)


@pytest.mark.parametrize("file", UNFINISHED[:-1])
def test_an_unfinished_download_beside_the_whole_file_does_not(tmp_path: Path, file: str):
    whole = "Keys.flac" if ".flac" in file else "Keys.wav"
    show = walk(show_with(tmp_path, f"A/{file}", f"A/{whole}"))
    assert not passed(show)[f"A/{file}"].unread


@pytest.mark.parametrize("file", ["Notes.txt.part", "Cover.jpg.tmp", "Set.zip.crdownload", ".hidden.wav"])
def test_other_downloads_are_no_stems(tmp_path: Path, file: str):
    assert not passed(walk(show_with(tmp_path, f"A/{file}")))[f"A/{file}"].unread


def test_a_loose_stem_beside_the_songs_is_told_as_a_stem(tmp_path: Path):
    entry = passed(walk(show_with(tmp_path, "Intro Walk-on.wav")))["Intro Walk-on.wav"]
    assert (entry.song, entry.stem) == (None, True)


def test_left_beside_the_songs(tmp_path: Path):
    entry = passed(walk(show_with(tmp_path, "Set list.pdf")))["Set list.pdf"]
    assert (entry.song, entry.stray) == (None, True)


@pytest.mark.parametrize(
    ("files", "path", "song", "stray"),
    [
        (["__MACOSX/A/._Bass.wav", "__MACOSX/A/._Click.wav"], "__MACOSX", None, False),
        (["A/.git/x.wav", "A/.git/y.wav"], "A/.git", "A", False),
        (["A/Charts/1.pdf", "A/Charts/2.pdf"], "A/Charts", "A", True),
        (["Artwork/1.png", "Artwork/Big/2.png"], "Artwork", None, False),
        (["Artwork/"], "Artwork", None, False),
        (["A/Empty/"], "A/Empty", "A", False),
        (["A/Rain.logicx/Audio/Bass.wav"], "A/Rain.logicx", "A", True),
        (["$RECYCLE.BIN/Bass.wav"], "$RECYCLE.BIN", None, False),
    ],
)
def test_a_whole_folder_is_one_entry(
    tmp_path: Path, files: list[str], path: str, song: str | None, stray: bool
):
    show = walk(show_with(tmp_path, *files))
    assert songs(show) == WANTED
    (entry,) = show.passed_over
    assert (entry.path, entry.song, entry.stray) == (path, song, stray)


@pytest.mark.parametrize(
    "extension",
    "wav wave bwf rf64 w64 aif aiff aifc caf flac ogg oga opus mp3 m4a aac wma WAV Aiff FLAC".split(),  # noqa: SIM905
)
def test_audio_is_told_by_its_extension(tmp_path: Path, extension: str):
    assert songs(walk(plant(tmp_path / "Rain", f"Bass.{extension}"))) == {"Rain": [f"Bass.{extension}"]}


def test_size_date_and_blocks_are_kept(tmp_path: Path):
    root = plant(tmp_path / "Rain", "Bass.wav", "Sparse.wav", age_days=2)
    (root / "Bass.wav").write_bytes(bytes(range(256)) * 400)
    with (root / "Sparse.wav").open("wb") as file:
        file.truncate(50_000_000)
    show = walk(root)
    found = (root / "Bass.wav").stat()
    bass = stem(show, "Bass.wav")
    assert (bass.size_bytes, bass.modified_ns) == (102_400, found.st_mtime_ns)
    assert bass.allocated_bytes == found.st_blocks * 512
    sparse = stem(show, "Sparse.wav")
    assert sparse.allocated_bytes is not None
    assert sparse.allocated_bytes < sparse.size_bytes == 50_000_000


def test_placeholder_of_a_sync_service_is_a_stem_that_is_not_here(tmp_path: Path):
    root = show_with(tmp_path)
    (root / "A" / ".Lead Vox.wav.icloud").write_bytes(b"x" * 180)
    found = stem(walk(root), ".Lead Vox.wav.icloud")
    assert (found.role, found.size_bytes, found.allocated_bytes) == (Role.LEAD_VOCAL, 180, 0)


def test_links(tmp_path: Path):
    root = show_with(tmp_path)
    plant(tmp_path / "Elsewhere", "Keys.wav")
    (root / "A" / "Keys.wav").symlink_to(tmp_path / "Elsewhere" / "Keys.wav")
    (root / "A" / "Lost.wav").symlink_to(tmp_path / "nowhere.wav")
    (root / "A" / "Self.wav").symlink_to(root / "A" / "Self.wav")
    (root / "A" / "Up").symlink_to(root, target_is_directory=True)
    (root / "A2").symlink_to(root / "A", target_is_directory=True)
    (root / "C").symlink_to(tmp_path / "Elsewhere", target_is_directory=True)
    show = walk(root)
    assert songs(show) == {"A": ["Bass.wav", "Click.wav", "Keys.wav"], "B": ["Click.wav"], "C": ["Keys.wav"]}
    told = passed(show)
    assert set(told) == {"A/Lost.wav", "A/Self.wav", "A/Up", "A2"}
    assert "nowhere" in told["A/Lost.wav"].reason
    assert "part of this scan" in told["A/Up"].reason
    assert [path for path, entry in told.items() if entry.unread] == ["A/Lost.wav", "A/Self.wav"]


def test_two_links_to_one_folder_are_followed_once(tmp_path: Path):
    root = show_with(tmp_path)
    plant(tmp_path / "Elsewhere", "Keys.wav")
    for name in ("C", "D"):
        (root / name).symlink_to(tmp_path / "Elsewhere", target_is_directory=True)
    show = walk(root)
    assert len(show.songs) == 3
    assert len(show.passed_over) == 1


@pytest.mark.parametrize(("name", "packed"), [("C.zip", True), ("stems_old.7Z", True), ("notes.txt", False)])
def test_an_archive_beside_the_songs_may_be_a_song(tmp_path: Path, name: str, packed: bool):
    root = show_with(tmp_path)
    (root / name).write_bytes(b"PK")
    (root / "A" / "inside.zip").write_bytes(b"PK")  # told as a stray file of the song
    told = passed(walk(root))
    assert (told[name].packed, told["A/inside.zip"].packed) == (packed, False)
    assert told["A/inside.zip"].stray


def test_a_link_to_a_folder_above_the_show_brings_nothing_twice(tmp_path: Path):
    root = show_with(tmp_path / "Tour")
    plant(tmp_path / "Beside" / "X", "Keys.wav")
    for name, above in (("loop", Path("..")), ("all", tmp_path.parent), ("disk", Path("/"))):
        (root / name).symlink_to(above, target_is_directory=True)
        show = walk(root)
        assert songs(show) == WANTED
        assert [path for path, entry in passed(show).items() if "this one lies in" in entry.reason] == [name]
        assert songs(walk(root / "A")).popitem()[1] == WANTED["A"]
        (root / name).unlink()


def test_a_show_reached_by_a_link_has_the_same_folders_above_it(tmp_path: Path):
    root = show_with(tmp_path / "Tour")
    (root / "loop").symlink_to("..", target_is_directory=True)
    (tmp_path / "short").symlink_to(root, target_is_directory=True)
    assert songs(walk(tmp_path / "short")) == WANTED


@pytest.mark.parametrize("names", [("1", "2"), ("2", "1")], ids=["part first", "whole first"])
def test_a_part_and_the_whole_of_another_disk_are_each_heard_once(tmp_path: Path, names: tuple[str, str]):
    root = show_with(tmp_path)
    disk = tmp_path / "Elsewhere"
    plant(disk / "C", "Keys.wav")
    plant(disk / "D", "Pad.wav")
    (disk / "back").symlink_to(root, target_is_directory=True)
    (root / names[0]).symlink_to(disk / "C", target_is_directory=True)
    (root / names[1]).symlink_to(disk, target_is_directory=True)
    show = walk(root)
    heard = sorted(stem.path.resolve() for song in show.songs for stem in song.stems)
    assert len(heard) == len(set(heard)) == 2 + 1 + 1 + 1
    assert len([entry for entry in show.passed_over if "part of this scan already" in entry.reason]) == 2


def test_pipes_and_sockets_are_not_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    root = show_with(tmp_path)
    os.mkfifo(root / "A" / "Pipe.wav")
    monkeypatch.chdir(root / "A")  # a socket's address has no room for a long path
    with socket.socket(socket.AF_UNIX) as endpoint:
        endpoint.bind("Socket.wav")
        show = walk(root)
    assert songs(show) == WANTED
    assert all("not a file" in passed(show)[f"A/{name}"].reason for name in ("Pipe.wav", "Socket.wav"))


def refuse(monkeypatch: pytest.MonkeyPatch, *refused: Path) -> None:
    """Make folders unreadable even for root, who runs the tests in some places."""
    scandir = os.scandir

    def guarded(path: str):
        if Path(path) in refused:
            raise PermissionError(13, "Permission denied", path)
        return scandir(path)

    monkeypatch.setattr(os, "scandir", guarded)


def test_unreadable_folders_are_told_each(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    root = show_with(tmp_path, "A/Locked/Keys.wav", "C/Bass.wav", "Docs/Inner/Keys.wav", "Docs/x.pdf")
    refuse(monkeypatch, root / "A" / "Locked", root / "C", root / "Docs" / "Inner")
    show = walk(root)
    assert songs(show) == WANTED
    locked = [(entry.path, entry.song) for entry in show.passed_over if entry.unread]
    assert locked == [("A/Locked", "A"), ("C", None), ("Docs/Inner", None)]
    assert "permission denied" in passed(show)["C"].reason
    assert len(passed(show)) == len(show.passed_over)  # one entry each


def test_unreadable_show(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    root = show_with(tmp_path)
    refuse(monkeypatch, root)
    with pytest.raises(UsageError, match="cannot be looked into"):
        walk(root)


def test_names_that_are_no_text(tmp_path: Path):
    root = show_with(tmp_path)
    try:
        (root / "A" / os.fsdecode(b"B\xffss.wav")).touch()
        (root / "A" / os.fsdecode(b"Dr\xfcms")).mkdir()
        (root / "A" / os.fsdecode(b"Dr\xfcms") / "Kick.wav").touch()
        (root / "A" / "Line\nbreak.wav").touch()
    except OSError:
        pytest.skip("this file system takes only names that are text")
    show = walk(root)
    files = songs(show)["A"]
    assert os.fsdecode(b"B\xffss.wav") in files
    assert "Line\nbreak.wav" in files
    assert all(found.path.exists() for song in show.songs for found in song.stems)


def test_no_file_is_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    root = show_with(tmp_path, "A/notes.txt", "A/Bass", "A/v1/Bass.wav", "A/.Keys.wav.icloud")

    def refuse_to_open(*arguments: object, **_: object) -> None:
        raise AssertionError(f"opened {arguments[0]}")

    monkeypatch.setattr(builtins, "open", refuse_to_open)
    monkeypatch.setattr(os, "open", refuse_to_open)
    assert len(walk(root).songs) == 2


def test_very_deep_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    root = plant(tmp_path / "Show", "A/Bass.wav")
    deep = ["d"] * 1_100
    monkeypatch.chdir(root)
    for name in deep:
        os.mkdir(name)
        os.chdir(name)
    Path("Bass.wav").touch()
    show = walk(root)
    Path("Bass.wav").unlink()
    for name in deep:  # what clears up after tests does recur
        os.chdir("..")
        os.rmdir(name)
    assert [len(song.stems) for song in show.songs] == [1, 1]


def test_thousands_of_songs_in_seconds(tmp_path: Path):
    root = tmp_path / "Show"
    for number in range(1_000):
        folder = root / f"{number:05d} - Song {number}"
        folder.mkdir(parents=True)
        for name in ("Bass", "Click", "LTC"):
            (folder / f"Song {number} - {name}.wav").touch()
    start = time.process_time()
    show = walk(root)
    assert time.process_time() - start < 3  # measured: 0.5 s of processor time
    assert len(show.songs) == 1_000
    assert all(
        len(song.stems) == 3 and not any(each.role_is_guess for each in song.stems) for song in show.songs
    )


@pytest.mark.parametrize(
    ("path", "cause"),
    [
        ("nowhere", "there is no such folder; give the folder"),
        ("Shwo", 'there is no such folder; did you mean ".*/Show"'),
        ("Show/A/Bass.wav", "not a folder"),
        ("Docs", "no audio"),
        ("no\nwhere", r"no\\nwhere: there is no such folder"),
        ("zero\0", "there is no such folder"),
    ],
)
def test_nothing_to_walk(tmp_path: Path, path: str, cause: str):
    show_with(tmp_path)
    plant(tmp_path / "Docs", "a.pdf", "b/")
    with pytest.raises(UsageError, match=cause) as caught:
        walk(tmp_path / path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("07 - Harbour Lights", "07 - Harbour Lights"),
        ("Harbour Lights", "07 - Harbour Lights"),
        ("harbour LIGHTS", "07 - Harbour Lights"),
        ("Act 1/Intro", "Act 1/Intro"),
        ("12 Refra\u0303o", "12 Refr\u00e3o"),
    ],
)
def test_one_song_by_name(tmp_path: Path, wanted: str, found: str):
    files = [
        "Act 1/Intro/Bass.wav",
        "Act 2/Intro/Bass.wav",
        "07 - Harbour Lights/Bass.wav",
        "12 Refr\u00e3o/Bass.wav",
    ]
    root = plant(tmp_path / "Show", *files, "07 - Harbour Lights/x.pdf", "12 Refr\u00e3o/y.pdf", "z.pdf")
    show = walk(root, songs=(wanted,))
    assert [song.name for song in show.songs] == [found]
    assert {entry.song for entry in show.passed_over} <= {None, found}


JET = tuple(
    f"{folder}/{file}"
    for folder in ("05 - Ivy", "06 - Jet/show", "06 - Jet/rehearsal", "07 - Kit")
    for file in ("Bass.wav", "Click.wav")
)


def test_parts_of_a_folder_among_songs_bear_its_name(tmp_path: Path):
    show = walk(plant(tmp_path / "Show", *JET))
    assert list(songs(show)) == ["05 - Ivy", "06 - Jet / rehearsal", "06 - Jet / show", "07 - Kit"]


@pytest.mark.parametrize("acts", [("Act 1", "Act 2"), ("01 Leeds", "02 York"), ("Encore",)])
def test_songs_of_an_act_do_not(tmp_path: Path, acts: tuple[str, ...]):
    files = [f"{act}/{song} {act}/Bass.wav" for act in acts for song in ("Rain", "Snow")]
    assert set(songs(walk(plant(tmp_path / "Show", *files)))) == {file.split("/")[1] for file in files}


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("06 - Jet", ["06 - Jet / rehearsal", "06 - Jet / show"]),
        ("jet", ["06 - Jet / rehearsal", "06 - Jet / show"]),
        ("06 - Jet / show", ["06 - Jet / show"]),
        ("show", ["06 - Jet / show"]),
    ],
)
def test_parts_of_a_folder_among_songs_are_found_by_its_name(tmp_path: Path, wanted: str, found: list[str]):
    assert list(songs(walk(plant(tmp_path / "Show", *JET), songs=(wanted,)))) == found


def test_two_songs_by_name(tmp_path: Path):
    assert list(songs(walk(show_with(tmp_path, "C/Bass.wav"), songs=("C", "A", "a")))) == ["A", "C"]


@pytest.mark.parametrize(
    ("wanted", "answer"),
    [
        ("Harbor Lights", "did you mean 07 - Harbour Lights"),
        ("harbour", "did you mean 07 - Harbour Lights"),
        ("harbor", "did you mean 07 - Harbour Lights"),
        ("Lihgts", "did you mean 07 - Harbour Lights"),
        ("07", "did you mean 07 - Harbour Lights"),
        ("7", "did you mean 07 - Harbour Lights"),
        ("zzz", "it holds 07 - Harbour Lights, Act 1/Intro, Act 2/Intro, Slope Up$"),
        ("8", "it holds 07"),
        ("nope", "it holds 07"),  # "Slope Up" shares three of its letters
        ("Intro", "several songs have that name; say which: Act 1/Intro, Act 2/Intro"),
    ],
)
def test_song_that_is_not_there(tmp_path: Path, wanted: str, answer: str):
    files = ["Act 1/Intro/Bass.wav", "Act 2/Intro/Bass.wav", "07 - Harbour Lights/Bass.wav", "Slope Up/x.wav"]
    with pytest.raises(UsageError, match=answer):
        walk(plant(tmp_path / "Show", *files), songs=(wanted,))
