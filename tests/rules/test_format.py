"""sample-rate-mismatch, bit-depth-mismatch, origin-time-mismatch: how the stems are stored."""

from __future__ import annotations

from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Severity
from tests.evidence import audit_with, findings, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

FILES = ("Click.wav", "Bass.wav", "Keys.wav")


def songs(count: int, *, first: int = 1, files: tuple[str, ...] = FILES, **form: Any) -> list[SongEvidence]:
    return [song(f"Song {n}", *[stem(file, **form) for file in files]) for n in range(first, first + count)]


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def stamped(**seconds: float | None) -> list[StemEvidence]:
    """Stems with a bext time reference, in seconds since midnight, at 48 kHz."""
    return [
        stem(
            f"{name}.wav",
            format={"time_reference_frames": None if at is None else round(at * 48000)},
        )
        for name, at in seconds.items()
    ]


def with_clicks(
    number: int, one: dict[str, Any], other: dict[str, Any], *, file: str = "Click.wav"
) -> list[SongEvidence]:
    """Songs of three stems, one of which is stored otherwise in each of them."""
    return [
        song(f"Song {n}", stem(file, **other), stem("Bass.wav", **one), stem("Pad.wav", **one))
        for n in range(number)
    ]


def camps(
    one: dict[str, Any], other: dict[str, Any], words: tuple[str, str], habit: str | None = None
) -> list[Case]:
    """What holds for rate and depth alike. one: the show's format, other: the odd one; words: as reported;
    habit: how bad it is where every click of the show is so."""
    usual, odd = words
    return [
        planted(
            "one stem of one song",
            show(*songs(3, **one), song("Odd One", stem("Bass.wav", **other), stem("Keys.wav", **one))),
            Expected(stem="Bass.wav", songs=("Odd One",), says=(odd, f"the show's is {usual}")),
        ),
        planted(
            "two of three stems are named in one finding",
            show(
                *songs(3, **one),
                song("Odd One", stem("Bass.wav", **other), stem("Keys.wav", **other), stem("Pad.wav", **one)),
            ),
            Expected(
                stem=None,
                songs=("Odd One",),
                says=(f"2 stems: {odd}", f"the show's is {usual}: Bass.wav, Keys"),
            ),
        ),
        planted(
            "a whole song is said once",
            show(*songs(3, **one), *songs(1, first=9, **other)),
            Expected(
                stem=None,
                songs=("Song 9",),
                says=("all 3 stems of the song", odd, usual),
                facts={"files": FILES},
            ),
        ),
        planted(
            "a song of one click",
            show(*songs(3, **one), song("Odd One", stem("Click.wav", **other))),
            Expected(stem="Click.wav", songs=("Odd One",)),
        ),
        planted(
            "a song on its own has its own majority",
            of(stem("Bass.wav", **one), stem("Keys.wav", **one), stem("Pad.wav", **other)),
            Expected(stem="Pad.wav"),
        ),
        planted(
            "two camps of one size are said once, with every song",
            show(*songs(2, **one), *songs(2, first=3, **other)),
            Expected(
                stem=None,
                songs=("Song 1", "Song 2", "Song 3", "Song 4"),
                says=(
                    "no majority",
                    f"{usual} in 6 files (Song 1, Song 2)",
                    f"{odd} in 6 files (Song 3, Song 4)",
                ),
            ),
        ),
        planted(
            "a role that is stored otherwise in every song is said once",
            show(*with_clicks(3, one, other)),
            Expected(
                severity=habit, songs=tuple(f"Song {n}" for n in range(3)), says=("click in all 3 songs", odd)
            ),
        ),
        planted(
            "so is a role of the band's",
            show(*with_clicks(3, one, other, file="Keys.wav")),
            Expected(songs=tuple(f"Song {n}" for n in range(3)), says=("keys in all 3 songs", odd)),
        ),
        planted(
            "in two songs it is said song by song",
            show(*with_clicks(2, one, other)),
            *[Expected(stem="Click.wav", songs=(f"Song {n}",)) for n in range(2)],
        ),
        planted(
            "many songs of a click each and a few of many stems: nobody can say who is right",
            show(
                *[song(f"Song {n}", stem("Click.wav", **one)) for n in range(1, 6)],
                *songs(2, first=6, **other),
            ),
            Expected(
                songs=tuple(f"Song {n}" for n in range(1, 8)),
                says=("most files have one, most songs another", f"{odd} in 6 files", f"{usual} in 5 files"),
            ),
        ),
        planted(
            "as many songs of the one as of the other: the files tell",
            show(*songs(1, **one), song("Odd One", stem("Click.wav", **other))),
            Expected(stem="Click.wav", songs=("Odd One",)),
        ),
        clean("a show of one format", show(*songs(12, **one))),
        clean("a show of the other format", show(*songs(12, **other))),
        clean("one file", of(stem("Click.wav", **other))),
        clean("two files alike", of(stem("Click.wav", **other), stem("Bass.wav", **other))),
        clean(
            "a stem that cannot be read", show(*songs(3, **one), song("Odd", stem("a.wav", unreadable=True)))
        ),
        at_limit(
            "two files of two formats: no majority among stems",
            of(stem("Click.wav", **one), stem("Bass.wav", unreadable=True)),
        ),
        past_limit(
            "two files, two formats",
            of(stem("Click.wav", **one), stem("Bass.wav", **other)),
            Expected(stem=None, songs=("Night Ferry",), says=("Click.wav", "Bass.wav", odd, usual)),
        ),
        past_limit(
            "a majority of one file",
            of(stem("Click.wav", **one), stem("Bass.wav", **other), stem("Keys.wav", **one)),
            Expected(stem="Bass.wav"),
        ),
    ]


CASES: dict[str, tuple[Case, ...]] = {
    "sample-rate-mismatch": (
        *camps({"rate_hz": 48000}, {"rate_hz": 44100}, ("48 kHz", "44.1 kHz")),
        planted(
            "twice the rate",
            show(*songs(3), song("Odd One", stem("Bass.wav", rate_hz=96000), stem("Keys.wav"))),
            Expected(stem="Bass.wav", says=("96 kHz",), facts={"is": 96000, "usual": 48000}),
        ),
        clean("other depths at one rate", show(*songs(3), *songs(2, first=4, bits=16))),
    ),
    "bit-depth-mismatch": (
        *camps({"bits": 24}, {"bits": 16}, ("24-bit", "16-bit"), "note"),
        planted(
            "float is a depth of its own",
            show(*songs(3), song("Odd One", stem("Bass.wav", bits=32), stem("Keys.wav"))),
            Expected(stem="Bass.wav", says=("32-bit float, the show's is 24-bit",)),
        ),
        planted(
            "in a float show the words are those of most files",
            show(*songs(3, bits=32), song("Odd One", stem("Bass.wav"), stem("Keys.wav", bits=32))),
            Expected(stem="Bass.wav", says=("24-bit, the show's is 32-bit float",)),
        ),
        clean(
            "lossy files have no depth",
            show(*songs(3), song("Odd One", stem("a.ogg", lossy=True), stem("b.ogg", lossy=True))),
        ),
        clean("other rates at one depth", show(*songs(3), *songs(2, first=4, rate_hz=96000))),
    ),
    "origin-time-mismatch": (
        planted(
            "one stem ten seconds late",
            of(*stamped(Bass=3600.0, Keys=3600.0, Pad=3610.0)),
            Expected(stem="Pad.wav", says=("Pad.wav at 1:00:10.000", "2 other stems at 1:00:00.000")),
        ),
        planted(
            "two of five",
            of(*stamped(Bass=0.0, Keys=0.0, Pad=1.0, Loop=2.0, Drums=0.0)),
            Expected(stem=None, facts={"files": ("Pad.wav", "Loop.wav"), "common_s": 0.0}),
        ),
        planted(
            "all differ",
            of(*stamped(Bass=1.0, Keys=2.0, Pad=3.0)),
            Expected(stem=None, says=("Bass.wav at 0:01.000, Keys.wav", "Pad.wav"), facts={"common_s": None}),
        ),
        planted(
            "two and two: neither is the others' origin",
            of(*stamped(Bass=1.0, Keys=1.0, Pad=2.0, Loop=2.0)),
            Expected(
                stem=None,
                facts={
                    "files": ("Bass.wav", "Keys.wav", "Pad.wav", "Loop.wav"),
                    "common_s": None,
                    "common": "",
                },
            ),
        ),
        clean("one origin", of(*stamped(Bass=3600.0, Keys=3600.0))),
        clean("files without a time stamp do not count", of(*stamped(Bass=3600.0, Keys=None, Pad=3600.0))),
        clean("click and timecode come from elsewhere", of(*stamped(Bass=1.0, Keys=1.0, Click=0.0, LTC=9.0))),
        clean("one time stamp alone", of(*stamped(Bass=3600.0, Keys=None))),
        clean(
            "songs may begin where they like",
            show(song("A", *stamped(Bass=1.0, Keys=1.0)), song("B", *stamped(Bass=2.0, Keys=2.0))),
        ),
        clean(
            "one moment at two rates",
            of(
                stem("Bass.wav", format={"time_reference_frames": 3600 * 48000}),
                stem("Keys.wav", rate_hz=44100, format={"time_reference_frames": 3600 * 44100}),
            ),
        ),
        at_limit("0.98 ms", of(*stamped(Bass=3600.0, Keys=3600.0, Pad=3600.0 + 47 / 48000))),
        past_limit(
            "1.02 ms",
            of(*stamped(Bass=3600.0, Keys=3600.0, Pad=3600.0 + 49 / 48000)),
            Expected(stem="Pad.wav", says=("0:00.001",)),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_a_tie_is_the_rules_own_severity():
    evidence = show(*songs(1), *songs(1, first=2, rate_hz=44100, bits=16))
    severities = [findings(r, evidence)[0].severity for r in ("sample-rate-mismatch", "bit-depth-mismatch")]
    assert severities == [Severity.ERROR, Severity.WARNING]


def test_three_camps_with_a_majority_are_no_tie():
    stems = [stem(f"{n} Bass.wav", rate_hz=rate) for n, rate in enumerate((48000, 48000, 44100, 96000))]
    assert [f.stem for f in findings("sample-rate-mismatch", of(*stems))] == ["2 Bass.wav", "3 Bass.wav"]


def test_the_order_of_songs_changes_nothing():
    some = [*songs(3), *songs(2, first=4, rate_hz=44100), song("Click", stem("Click.wav", rate_hz=44100))]
    forward = findings("sample-rate-mismatch", show(*some))
    backward = findings("sample-rate-mismatch", show(*some[::-1]))
    assert len(forward) == 3
    assert sorted(map(repr, forward)) == sorted(map(repr, backward))


def test_a_lossy_song_has_no_depth_to_compare():
    answer = audit_with("bit-depth-mismatch", of(stem("a.ogg", lossy=True), stem("b.ogg", lossy=True)))
    assert answer.not_applicable == {"bit-depth-mismatch": 1}


def test_integer_and_float_of_32_bits_are_told_apart_in_words():
    made = [stem(f"{n} Bass.wav", bits=32, format={"is_float": n > 0}) for n in range(3)]
    odd = show(*songs(3), song("Odd", *made, stem("Keys.wav")))
    found = [(f.measured["found"], f.measured["files"]) for f in findings("bit-depth-mismatch", odd)]
    assert sorted(found) == [("32-bit", ("0 Bass.wav",)), ("32-bit float", ("1 Bass.wav", "2 Bass.wav"))]


def test_integer_and_float_of_32_bits_are_two_depths():
    evidence = show(*songs(4, bits=32), song("Odd", stem("Bass.wav", bits=32, format={"is_float": False})))
    (found,) = findings("bit-depth-mismatch", evidence)
    assert (found.stem, found.measured["is"], found.measured["usual"]) == ("Bass.wav", 32, 32)
    assert "32-bit, the show's is 32-bit float" in found.message
    assert audit_with("bit-depth-mismatch", evidence).bits == 32
