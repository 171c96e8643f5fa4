"""Every shape in which people keep shows: which folders are songs, and which files are their stems."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.facts import Role
from audit.folder.walk import walk
from tests.folder.trees import passed, plant, songs, stem
from tests.shared import shared_folder

STEMS = ("Bass.wav", "Click.wav", "Drums.wav")

SHAPES: list[tuple[str, list[str], dict[str, list[str]]]] = [
    (
        "songs in a show",
        ["A/Bass.wav", "A/Click.wav", "B/Click.wav"],
        {"A": ["Bass.wav", "Click.wav"], "B": ["Click.wav"]},
    ),
    (
        "songs in acts",
        ["Act 1/A/Bass.wav", "Act 2/B/Bass.wav", "Act 2/C/Click.wav"],
        {"A": ["Bass.wav"], "B": ["Bass.wav"], "C": ["Click.wav"]},
    ),
    ("one song, its files in the folder", ["Bass.wav", "Click.wav"], {"Show": ["Bass.wav", "Click.wav"]}),
    ("one song with a single file", ["Click.wav"], {"Show": ["Click.wav"]}),
    (
        "files in Audio, Stems, Bounces",
        [f"{song}/Bass.wav" for song in ("A/Audio", "B/Stems", "C/Bounces", "D/Files", "E/WAV")],
        {
            "A": ["Audio/Bass.wav"], "B": ["Stems/Bass.wav"], "C": ["Bounces/Bass.wav"],
            "D": ["Files/Bass.wav"], "E": ["WAV/Bass.wav"],
        },
    ),
    (
        "holders named for a format",
        ["A/48k/Bass.wav", "B/WAV 48k 24bit/Bass.wav", "C/Stems/48kHz/Bass.wav", "D/Audio Files/Bass.wav"],
        {
            "A": ["48k/Bass.wav"], "B": ["WAV 48k 24bit/Bass.wav"], "C": ["Stems/48kHz/Bass.wav"],
            "D": ["Audio Files/Bass.wav"],
        },
    ),
    (
        "the song's name once more, as an unpacked archive has it",
        ["Harbour Lights/Harbour Lights/Bass.wav", "02 - Rain/Rain Stems/Bass.wav"],
        {"Harbour Lights": ["Harbour Lights/Bass.wav"], "02 - Rain": ["Rain Stems/Bass.wav"]},
    ),
    (
        "the show's songs in one holder",
        ["Stems/A/Bass.wav", "Stems/B/Bass.wav"],
        {"A": ["Bass.wav"], "B": ["Bass.wav"]},
    ),
    (
        "files and holders together",
        ["A/Click.wav", "A/Stems/Bass.wav", "B/Click.wav"],
        {"A": ["Click.wav", "Stems/Bass.wav"], "B": ["Click.wav"]},
    ),
    (
        "stems grouped by role",
        ["A/Drums/Kick.wav", "A/Drums/Snare.wav", "A/Lead Vox/01.wav", "B/Click.wav"],
        {"A": ["Drums/Kick.wav", "Drums/Snare.wav", "Lead Vox/01.wav"], "B": ["Click.wav"]},
    ),
    (
        "one song grouped by role, given directly",
        ["Drums/Kick.wav", "Vox/Lead.wav", "Click/Click.wav"],
        {"Show": ["Click/Click.wav", "Drums/Kick.wav", "Vox/Lead.wav"]},
    ),
    (
        "groups beside files",
        ["Click.wav", "Bass.wav", "Drums/Kick.wav", "Vox/Lead.wav"],
        {"Show": ["Bass.wav", "Click.wav", "Drums/Kick.wav", "Vox/Lead.wav"]},
    ),
    (
        "groups in a holder in a version",
        ["A/v2/Stems/Drums/Kick.wav", "A/v1/Stems/Drums/Kick.wav", "B/Bass.wav"],
        {"A": ["v2/Stems/Drums/Kick.wav"], "B": ["Bass.wav"]},
    ),
    (
        "songs named with a role word",
        ["Guide Me Home/Bass.wav", "Bass Culture/Bass.wav", "Drums of Autumn/Bass.wav"],
        {"Guide Me Home": ["Bass.wav"], "Bass Culture": ["Bass.wav"], "Drums of Autumn": ["Bass.wav"]},
    ),
    (
        "a song called Drums among songs",
        ["Drums/Kick.wav", "Rain/Click.wav", "Harbour Lights/Click.wav"],
        {"Drums": ["Kick.wav"], "Rain": ["Click.wav"], "Harbour Lights": ["Click.wav"]},
    ),
    (
        "songs that are all called like roles, each with a click",
        ["Bass/Click.wav", "Bass/Bass.wav", "Strings/Click.wav", "Strings/Bass.wav"],
        {"Bass": ["Bass.wav", "Click.wav"], "Strings": ["Bass.wav", "Click.wav"]},
    ),
    (
        "a titled folder among the groups of a song",
        ["A/Drums/Kick.wav", "A/Bass/DI.wav", "A/Candy/One.wav", "B/Click.wav"],
        {"A": ["Bass/DI.wav", "Candy/One.wav", "Drums/Kick.wav"], "B": ["Click.wav"]},
    ),
    (
        "acts of different depth",
        ["Act 1/A/Bass.wav", "Encore/B/Stems/Bass.wav", "C/Bass.wav"],
        {"A": ["Bass.wav"], "B": ["Stems/Bass.wav"], "C": ["Bass.wav"]},
    ),
    (
        "an act with a file of its own",
        ["Act 1/Room tone.wav", "Act 1/A/Click.wav", "Act 2/Click.wav", "Act 2/B/Click.wav"],
        {"A": ["Click.wav"], "B": ["Click.wav"]},
    ),
    (
        "songs called like roles beside an act",
        ["Drums/Kick.wav", "Bass/DI.wav", "Act 1/A/Click.wav", "Act 1/B/Click.wav"],
        {"A": ["Click.wav"], "B": ["Click.wav"], "Bass": ["DI.wav"], "Drums": ["Kick.wav"]},
    ),
    (
        "sessions as acts",
        ["Session 1/A/Bass.wav", "Session 2/B/Bass.wav"],
        {"A": ["Bass.wav"], "B": ["Bass.wav"]},
    ),
    (
        "songs called like a year, a number, a version",
        ["1999/Bass.wav", "22/Bass.wav", "Rain/Bass.wav", "Alt/Bass.wav"],
        {"1999": ["Bass.wav"], "22": ["Bass.wav"], "Alt": ["Bass.wav"], "Rain": ["Bass.wav"]},
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("files", "wanted"), [shape[1:] for shape in SHAPES], ids=[shape[0] for shape in SHAPES]
)
def test_shape(tmp_path: Path, files: list[str], wanted: dict[str, list[str]]):
    show = walk(plant(tmp_path / "Show", *files))
    assert songs(show) == wanted
    told = {entry.path for entry in show.passed_over}
    taken = {f"{song.folder}/{stem.file}".removeprefix("./") for song in show.songs for stem in song.stems}
    untold = [
        file
        for file in files
        if file not in taken | told and not any(file.startswith(f"{way}/") for way in told)
    ]
    assert untold == []
    assert not taken & told
    assert show.name == "Show"


def test_song_and_stem_say_where_they_lie(tmp_path: Path):
    show = walk(plant(tmp_path / "Show", "Act 1/07 - Rain/Stems/Bass.wav", "Act 1/B/Bass.wav"))
    song = show.songs[0]
    assert (song.name, song.folder) == ("07 - Rain", "Act 1/07 - Rain")
    assert song.path == tmp_path / "Show" / "Act 1" / "07 - Rain"
    assert song.stems[0].file == "Stems/Bass.wav"
    assert song.stems[0].path == song.path / "Stems" / "Bass.wav"
    assert song.stems[0].path.is_file()


def test_song_given_directly(tmp_path: Path):
    show = walk(plant(tmp_path / "07 - Rain", "Rain - Bass.wav", "Rain - Click.wav"))
    assert (show.name, show.songs[0].name, show.songs[0].folder) == ("07 - Rain", "07 - Rain", ".")
    assert [stem.role for stem in show.songs[0].stems] == [Role.BASS, Role.CLICK]


def test_path_may_be_relative_or_end_in_a_dot(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(plant(tmp_path / "Rain", "Bass.wav"))
    assert walk(Path(".")).name == "Rain"
    assert songs(walk(Path(""))) == {"Rain": ["Bass.wav"]}


def test_natural_order(tmp_path: Path):
    names = ["1 - A", "2 - B", "10 - C", "Act 1", "act 2", "Act 10"]
    show = walk(plant(tmp_path / "Show", *(f"{name}/{file}" for name in reversed(names) for file in STEMS)))
    assert [song.name for song in show.songs] == names
    song = walk(plant(tmp_path / "Song", *(f"Gtr {n}.wav" for n in (10, 9, 1, 2)))).songs[0]
    assert [stem.file for stem in song.stems] == ["Gtr 1.wav", "Gtr 2.wav", "Gtr 9.wav", "Gtr 10.wav"]


def test_songs_of_one_name_take_their_act_along(tmp_path: Path):
    show = walk(plant(tmp_path / "Show", "Act 1/Intro/Bass.wav", "Act 2/intro/Bass.wav", "Act 2/B/Bass.wav"))
    assert [song.name for song in show.songs] == ["Act 1/Intro", "B", "Act 2/intro"]


def test_song_name_is_taken_off_its_stems(tmp_path: Path):
    files = ["Drums of Autumn - Bass.wav", "Drums of Autumn - Vox.wav", "05 Drums of Autumn_Click.wav"]
    show = walk(plant(tmp_path / "Show", *(f"05 - Drums of Autumn/{file}" for file in files), "B/Bass.wav"))
    assert [stem.role for stem in show.songs[0].stems] == [Role.CLICK, Role.BASS, Role.LEAD_VOCAL]


@pytest.mark.parametrize(
    ("file", "role"),
    [
        ("Drums/01.wav", Role.DRUMS),
        ("Drums/Room.wav", Role.DRUMS),
        ("Drums/Perc Loop.wav", Role.LOOP),
        ("Vox/Lead.wav", Role.LEAD_VOCAL),
        ("Vox/Anna.wav", Role.LEAD_VOCAL),
        ("BGV/Vox 1.wav", Role.BACKING_VOCALS),
        ("BGV/Lead Vox.wav", Role.LEAD_VOCAL),
        ("Guide/Vox.wav", Role.GUIDE),
        ("Choir/Vox 2.wav", Role.CHOIR),
        ("Keys/Pad.wav", Role.PAD),
        ("Keys/Lead.wav", Role.KEYS),
        ("Gtrs/Lead.wav", Role.GUITAR),
        ("Click & Guide/Click.wav", Role.CLICK),
        ("Click & Guide/Left.wav", Role.OTHER),
        ("Tracks/Anna.wav", Role.OTHER),
    ],
)
def test_group_folder_helps_where_the_file_says_less(tmp_path: Path, file: str, role: Role):
    found = stem(walk(plant(tmp_path / "Rain", file, "Strings/Violin.wav", "Brass/Tuba.wav")), file)
    assert (found.role, found.role_is_guess) == (role, role is Role.OTHER)


def test_same_file_name_in_two_groups_is_no_version(tmp_path: Path):
    show = walk(plant(tmp_path / "Rain", "Gtr/DI.wav", "Bass/DI.wav", "Bass/DI v2.wav"))
    keys = {stem.file: stem.version_key for stem in show.songs[0].stems}
    assert keys["Gtr/DI.wav"] != keys["Bass/DI.wav"] == keys["Bass/DI v2.wav"]


def test_files_beside_songs_are_passed_over(tmp_path: Path):
    beside = ("Walk-in music.wav", "Click.wav", "LTC.wav")
    show = walk(plant(tmp_path / "Show", *beside, "A/Bass.wav", "B/Bass.wav", "C/Click.wav"))
    assert list(songs(show)) == ["A", "B", "C"]
    assert set(passed(show)) == set(beside)
    assert all("in no song" in entry.reason and entry.song is None for entry in show.passed_over)


def test_one_file_beside_one_song_in_the_show(tmp_path: Path):
    show = walk(plant(tmp_path / "Show", "Bass.wav", "Rain/Bass.wav"))
    assert songs(show) == {"Rain": ["Bass.wav"]}
    assert list(passed(show)) == ["Bass.wav"]


def test_where_no_name_helps_the_many_win(tmp_path: Path):
    show = walk(plant(tmp_path / "Rain", "01.wav", "02.wav", "03.wav", "Anna/04.wav"))
    assert songs(show) == {"Rain": ["01.wav", "02.wav", "03.wav"]}
    assert list(passed(show)) == ["Anna"]
    show = walk(plant(tmp_path / "Show", "01.wav", "Rain/02.wav", "Snow/03.wav"))
    assert songs(show) == {"Rain": ["02.wav"], "Snow": ["03.wav"]}


def test_titled_folder_inside_a_song_is_passed_over(tmp_path: Path):
    show = walk(
        plant(
            tmp_path / "Show", *(f"Rain/{file}" for file in STEMS), "Rain/Anna at home/Take.wav", "B/Bass.wav"
        )
    )
    assert songs(show) == {"B": ["Bass.wav"], "Rain": list(STEMS)}
    assert passed(show)["Rain/Anna at home"].song == "Rain"


def test_group_with_more_in_its_name_belongs_to_the_song(tmp_path: Path):
    show = walk(plant(tmp_path / "Rain", *STEMS, "Additional Percussion Anna/Shaker.wav"))
    assert "Additional Percussion Anna/Shaker.wav" in songs(show)["Rain"]


def test_working_folder_counts_only_where_nothing_else_is(tmp_path: Path):
    show = walk(plant(tmp_path / "Show", "A/Bass.wav", "A/Audio Files/Take 1.wav", "B/Samples/Bass.wav"))
    assert songs(show) == {"A": ["Bass.wav"], "B": ["Samples/Bass.wav"]}
    assert "working folder" in passed(show)["A/Audio Files"].reason


def test_lossy_copies_beside_the_originals_are_passed_over(tmp_path: Path):
    show = walk(plant(tmp_path / "Show", "A/WAV/Bass.wav", "A/MP3/Bass.mp3", "B/MP3/Bass.mp3"))
    assert songs(show) == {"A": ["WAV/Bass.wav"], "B": ["MP3/Bass.mp3"]}
    assert "lossy" in passed(show)["A/MP3"].reason


def test_corpus_is_five_songs():
    show = walk(shared_folder("corpus"))
    assert len(show.songs) == 5
    assert {entry.path for entry in show.passed_over} == {"README.md", "truth.json"}
    roles = {stem.file: stem.role for song in show.songs for stem in song.stems}
    assert roles["Sax.flac"] is Role.WOODWIND
    assert roles["Mallets.flac"] is Role.PERCUSSION
    guesses = {stem.file for song in show.songs for stem in song.stems if stem.role_is_guess}
    assert guesses == {"Lead.flac", "Lead 1.flac", "Lead 2.flac", "Plucks.flac"}
    for song in show.songs:
        keys = [stem.version_key for stem in song.stems]
        assert len(set(keys)) == len(keys)
