"""duplicate-audio: the same audio where it should not be twice."""

from __future__ import annotations

from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted


def same(file: str, key: str = "one and the same", **more: Any) -> StemEvidence:
    return stem(file, audio={"content_hash": key}, **more)


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def two_songs(*files: str) -> ShowEvidence:
    return show(*[song(f"Song {n}", same(file)) for n, file in enumerate(files, start=1)])


CASES: dict[str, tuple[Case, ...]] = {
    "duplicate-audio": (
        planted(
            "two roles",
            of(same("Bass.wav"), same("Keys.wav"), stem("Drums.wav")),
            Expected(stem="Bass.wav", says=("Keys.wav", "bass, keys")),
        ),
        planted(
            "three roles are one finding",
            of(same("Bass.wav"), same("Keys.wav"), same("Drums.wav")),
            Expected(
                stem="Bass.wav",
                says=("Keys.wav, Drums.wav",),
                facts={"files": ("Bass.wav", "Keys.wav", "Drums.wav")},
            ),
        ),
        planted(
            "a copy in one role",
            of(same("Bass.wav"), same("Bass copy.wav")),
            Expected(severity="warning", stem="Bass.wav", says=("both would play",)),
        ),
        planted(
            "a copy whose name says nothing",
            of(same("Bass.wav"), same("Audio 7.wav")),
            Expected(severity="warning", stem="Bass.wav"),
        ),
        planted(
            "two groups",
            of(same("Bass.wav", "a"), same("Keys.wav", "a"), same("Pad.wav", "b"), same("Pad 2.wav", "b")),
            Expected(stem="Bass.wav"),
            Expected(severity="warning", stem="Pad.wav"),
        ),
        planted(
            "across songs: one note for the group",
            two_songs("Bass.wav", "Bass.wav", "Bass.wav"),
            Expected(
                severity="note",
                stem=None,
                songs=("Song 1", "Song 2", "Song 3"),
                says=("3 songs", "Song 2: Bass.wav"),
            ),
        ),
        planted(
            "a click saved over another song's bass",
            two_songs("Bass.wav", "Click.wav"),
            Expected(severity="note", songs=("Song 1", "Song 2")),
        ),
        clean("all different", of(stem("Bass.wav"), stem("Keys.wav"), stem("Drums.wav"))),
        clean("songs of one tempo share their click", two_songs("Click.wav", "Click.wav")),
        clean(
            "and guide and timecode",
            show(*[song(f"Song {n}", same("Guide.wav", "g"), same("Timecode.wav", "t")) for n in range(3)]),
        ),
        clean("silent stems are all alike", of(*[stem(f"{n}.wav", silent=True) for n in range(4)])),
        clean(
            "nearly nothing is silence too",
            of(
                same("Bass.wav", peaks={"sample_dbfs": -90.0}, loudness={"integrated_lufs": None}),
                same("Keys.wav", peaks={"sample_dbfs": -90.0}, loudness={"integrated_lufs": None}),
            ),
        ),
        clean(
            "stems that cannot be read",
            of(stem("Bass.wav", unreadable=True), stem("Keys.wav", unreadable=True)),
        ),
        at_limit("one bit of difference", of(same("Bass.wav", "hash 1"), same("Keys.wav", "hash 2"))),
        past_limit(
            "not one bit",
            of(same("Bass.wav", "hash 1"), same("Keys.wav", "hash 1")),
            Expected(stem="Bass.wav"),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_inside_a_song_and_across_songs_are_two_findings():
    evidence = show(song("A", same("Bass.wav"), same("Keys.wav")), song("B", same("Bass.wav")))
    found = [(f.severity.value, f.songs) for f in findings("duplicate-audio", evidence)]
    assert found == [("error", ("A",)), ("note", ("A", "B"))]


def test_one_file_with_click_and_music_is_not_crew_only():
    def tracks(song_name: str) -> StemEvidence:
        parts = [part(Role.CLICK, channels=(0,)), part(Role.OTHER, channels=(1,))]
        return stem(f"{song_name}.wav", parts=parts, audio={"content_hash": "x"})

    found = findings("duplicate-audio", show(song("A", tracks("A")), song("B", tracks("B"))))
    assert [f.severity.value for f in found] == ["note"]


def test_a_song_of_one_stem_is_not_applicable():
    assert audit_with("duplicate-audio", of(stem("Click.wav"))).not_applicable == {"duplicate-audio": 1}
