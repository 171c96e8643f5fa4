"""name-clash, awkward-name, stray-file: what the next computer makes of the names."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest

from audit.evidence import ShowEvidence
from audit.findings import Severity
from audit.rules.names import awkward_because, clashes, same_name_key, utf16_length
from tests.evidence import findings, passed_over, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

COMPOSED = unicodedata.normalize("NFC", "Café.wav")
SPLIT = unicodedata.normalize("NFD", "Café.wav")


def of(*files: str, litter: tuple[str, ...] = (), name: str = "Night Ferry") -> ShowEvidence:
    items = [passed_over(f"{name}/{path}") for path in litter]
    return show(song(name, *map(stem, files), passed_over=items))


def path_of(length: int) -> ShowEvidence:
    """One stem whose path from the show's folder on has this many characters."""
    fixed = len("Harbour Lights Tour/Night Ferry/") + len("/Bass.wav")
    rest = length - fixed
    return of("x" * 100 + "/" + "y" * (rest - 101) + "/Bass.wav")


CASES: dict[str, tuple[Case, ...]] = {
    "name-clash": (
        planted(
            "letter case",
            of("Bass.wav", "bass.wav", "Keys.wav"),
            Expected(stem="Bass.wav", says=("letter case", "bass.wav")),
        ),
        planted(
            "Unicode form",
            of(COMPOSED, SPLIT),
            Expected(stem=SPLIT, says=("only in Unicode form",)),
        ),
        planted(
            "both at once",
            of(COMPOSED, SPLIT.upper(), SPLIT),
            Expected(stem=SPLIT.upper(), says=("letter case and Unicode form",)),
        ),
        planted(
            "a stem and a passed-over file",
            of("Bass.wav", litter=("BASS.WAV",)),
            Expected(stem="Bass.wav", says=("BASS.WAV",)),
        ),
        planted("two passed-over files", of("Keys.wav", litter=("a.txt", "A.txt")), Expected(stem=None)),
        planted(
            "folders on the way to a stem",
            of("Audio/Bass.wav", "audio/Keys.wav"),
            Expected(stem=None, says=("Audio", "audio")),
        ),
        planted(
            "song folders, said once for the show",
            show(song("Night Ferry", stem("a.wav")), song("NIGHT FERRY", stem("b.wav")), song("Low Tide")),
            Expected(stem=None, songs=("Night Ferry", "NIGHT FERRY"), says=("Night Ferry", "letter case")),
        ),
        planted(
            "folders above the songs",
            show(
                song("One", stem("a.wav"), folder="Act 1/One"),
                song("Two", stem("a.wav"), folder="act 1/Two"),
                song("Three", stem("a.wav"), folder="Act 2/Three"),
            ),
            Expected(stem=None, songs=("One", "Two")),
        ),
        clean("the same name in two songs", show(song("One", stem("a.wav")), song("Two", stem("A.wav")))),
        clean("the same name in two folders", of("Dry/Bass.wav", "Wet/bass.wav")),
        clean("German sharp s is not ss on any disk", of("Straße.wav", "Strasse.wav")),
        clean("an accent is another letter", of("Cafe.wav", COMPOSED)),
        at_limit("one letter more", of("Bass.wav", "bass2.wav")),
        past_limit("one letter in another case", of("Bass.wav", "BasS.wav"), Expected(stem="BasS.wav")),
    ),
    "awkward-name": (
        planted("a question mark", of("What?.wav"), Expected(says=("What?.wav (holds ?)", "1 name"))),
        planted(
            "several kinds, one finding a song",
            of("a:b.wav", "CON.wav", "Bass .wav", "Loop./x.wav", "tab\t.wav"),
            Expected(says=("4 names", "device name", "ends with a dot", "holds U+0009"), facts={"count": 4}),
        ),
        planted(
            "a byte that is no text",
            of("B\udce4sse.wav", "Käse.wav"),
            Expected(says=("holds bytes that are no UTF-8",), facts={"count": 1}),
        ),
        planted(
            "the song's folder", of("Bass.wav", name="Where To?"), Expected(says=("Where To? (holds ?)",))
        ),
        planted(
            "a folder above many songs is said once",
            show(
                song("One", stem("a.wav"), folder="Act 1./One"),
                song("Two", stem("a.wav"), folder="Act 1./Two"),
                song("Three", stem("a.wav")),
            ),
            Expected(songs=("One", "Two"), says=("Act 1. (ends with a dot)",)),
        ),
        planted(
            "the show's own folder",
            show(song("One", stem("a.wav")), song("Two", stem("a.wav")), path=Path("Tour: Spring")),
            Expected(
                songs=(), says=("the show's folder has a name that other computers refuse: Tour: Spring",)
            ),
        ),
        planted(
            "the show's own folder, and one in it",
            show(
                song("One", stem("a.wav"), folder="Act 1./One"),
                song("Two", stem("a.wav")),
                path=Path("Tour?"),
            ),
            Expected(songs=(), says=("the show's folder", "Tour? (holds ?)")),
            Expected(songs=("One",), says=("a folder of the show", "Act 1. (ends with a dot)")),
        ),
        clean("spaces, dots inside, accents, brackets", of("07 - Bass (v1.2) [dry] & Müller's +3dB.wav")),
        clean("names that begin like a device", of("Console.wav", "Auxiliary.wav", "Comet.wav", "COM.wav")),
        at_limit("a path of 240 characters", path_of(240)),
        past_limit("a path of 241 characters", path_of(241), Expected(says=("241 characters, limit 240",))),
    ),
    "stray-file": (
        planted(
            "a document", of("Bass.wav", litter=("lyrics.pdf",)), Expected(says=("1 file", "lyrics.pdf"))
        ),
        planted(
            "many, one finding a song",
            of("Bass.wav", litter=tuple(f"page {n}.png" for n in range(9))),
            Expected(says=("9 files", "are no audio", "and 3 more"), facts={"count": 9}),
        ),
        clean("nothing but stems", of("Bass.wav", "Keys.wav")),
        at_limit(
            "system litter",
            show(
                song(
                    "Night Ferry",
                    stem("Bass.wav"),
                    passed_over=[passed_over("Night Ferry/.DS_Store", "hidden", stray=False)],
                )
            ),
        ),
        past_limit(
            "a document beside system litter",
            show(
                song(
                    "Night Ferry",
                    stem("Bass.wav"),
                    passed_over=[
                        passed_over("Night Ferry/.DS_Store", "hidden", stray=False),
                        passed_over("Night Ferry/notes.txt"),
                    ],
                )
            ),
            Expected(says=("1 file", "is no audio: notes.txt")),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


@pytest.mark.parametrize("form", ["NFC", "NFD"])
@pytest.mark.parametrize("name", ["Café", "Ångström", "ΟΔΟΣ", "οδος", "plain", "한글", "Noël v2"])
def test_unicode_form_and_case_never_part_a_name(name: str, form: str):
    """Unicode Standard Annex 15: canonically equivalent strings have one NFC."""
    changed = unicodedata.normalize(form, name.upper())
    assert same_name_key(changed) == same_name_key(name)


def test_three_spellings_are_one_group():
    assert clashes(["a/x", "a/X", "a/y", "A/z"]) == [("A", "a"), ("a/X", "a/x")]


@pytest.mark.parametrize("device", ["CON", "PRN", "AUX", "NUL", "COM1", "com9", "LPT1", "COM¹", "lpt²"])
@pytest.mark.parametrize("ending", ["", ".wav", ".tar.wav"])
def test_published_device_names(device: str, ending: str):
    """Microsoft, "Naming Files, Paths, and Namespaces": the reserved names, also with an extension."""
    assert awkward_because(device + ending) == "is a device name on Windows"


@pytest.mark.parametrize("char", list('<>:"/\\|?*') + [chr(code) for code in range(1, 32)])
def test_published_reserved_characters(char: str):
    """Microsoft, "Naming Files, Paths, and Namespaces"; exFAT specification 7.7.3, invalid characters."""
    assert awkward_because(f"Bass{char}.wav")
    assert not awkward_because("Bass.wav")


@pytest.mark.parametrize("name", ["COM0.wav", "COM10.wav", "CONSOLE.wav", "NULL.wav", ".wav", " Bass.wav"])
def test_names_that_windows_takes(name: str):
    assert awkward_because(name) is None


def test_an_emoji_counts_twice():
    assert utf16_length("a🎹") == 3


def test_several_twins_are_one_error_each():
    found = findings("name-clash", of("Bass.wav", "bass.wav", "BASS.wav", "Keys.wav", "keys.wav"))
    assert [len(f.measured["names"]) for f in found] == [3, 2]
    assert {f.severity for f in found} == {Severity.ERROR}
