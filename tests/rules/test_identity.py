"""duplicate-audio: the same audio where it should not be twice."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from audit.results import CommonSource, SameAudio
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted


def same(file: str, key: str = "one and the same", **more: Any) -> StemEvidence:
    return stem(file, audio={"content_hash": key}, **more)


def version(name: str, mark: str) -> StemEvidence:
    """A version of a stem that holds the same audio as its others."""
    return same(f"{name} {mark}.wav", name, facts={"version_key": name.lower(), "version": mark})


RATE = 48_000


def from_to(first: int, last: int) -> dict[str, Any]:
    return {"first_sound_frame": first, "last_sound_frame": last}


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def two_songs(*files: str, **more: Any) -> ShowEvidence:
    return show(*[song(f"Song {n}", same(file, **more)) for n, file in enumerate(files, start=1)])


def copied(*stems: StemEvidence, songs: tuple[str, str] = ("Night Ferry", "Night Ferry"), loops: bool = False,
           **fields: Any) -> ShowEvidence:  # fmt: skip
    """Two stems that are one recording, in one song or in two."""
    values = {
        "lag_frames": 0,
        "lag_s": 0.0,
        "level_db": 0.0,
        "likeness": 0.999,
        "share": 1.0,
    }
    copy = SameAudio(
        first_song=songs[0], first=stems[0].name, second_song=songs[1], second=stems[1].name,
        opposed=bool(fields.pop("opposed", False)), **{**values, **fields},
    )  # fmt: skip
    if songs[0] == songs[1]:
        whole = show(song(songs[0], *stems))
    else:
        whole = show(song(songs[0], stems[0]), song(songs[1], stems[1]))
    pairs = frozenset(zip(songs, (one.name for one in stems), strict=True)) if loops else frozenset()
    return replace(whole, copies=(copy,), loops=pairs)


BASS_AND_KEYS = (stem("Bass.wav"), stem("Keys.wav"))

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
            "a whole song as v2 and v3",
            of(
                *(version(name, mark) for name in ("Bass", "Keys") for mark in ("v2", "v3")),
                same("Pad.wav", "c"),
            ),
            Expected(
                severity="warning",
                stem=None,
                says=("2 stems lie here in several versions", "such as Bass v2.wav beside Bass v3.wav"),
                facts={"files": ("Bass v2.wav", "Bass v3.wav", "Keys v2.wav", "Keys v3.wav")},
            ),
        ),
        planted(
            "one stem of it only",
            of(version("Bass", "v2"), version("Bass", "v3"), stem("Keys.wav")),
            Expected(severity="warning", stem="Bass v2.wav", says=("as Bass v3.wav: both would play",)),
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
        planted(
            "one recording in two roles, turned down",
            copied(*BASS_AND_KEYS, level_db=-6.0),
            Expected(stem="Keys.wav", value=100.0, says=("Bass.wav, 6.0 dB quieter, yet", "keys, bass")),
        ),
        planted(
            "moved, upside down and stored otherwise",
            copied(
                stem("Bass.wav"),
                stem("Keys.flac", bits=16),
                lag_frames=-480,
                lag_s=-0.01,
                opposed=True,
                level_db=3.0,
            ),
            Expected(
                stem="Keys.flac",
                says=("3.0 dB louder, 10 ms (480 samples) earlier, upside down, stored as 16 bit FLAC",),
                facts={"lag_samples": -480},
            ),
        ),
        planted(
            "one recording twice in a role",
            copied(stem("Bass.wav"), stem("Bass copy.wav"), lag_frames=48_000, lag_s=1.0),
            Expected(severity="warning", stem="Bass copy.wav", says=("(48\u00a0000 samples) later: both",)),
        ),
        planted(
            "one recording in two songs",
            copied(*BASS_AND_KEYS, songs=("A", "B"), level_db=-6.0),
            Expected(severity="note", songs=("A", "B"), says=("A: Bass.wav, B: Keys.wav",)),
        ),
        clean(
            "versions of one stem are told by two-versions",
            copied(
                stem("Bass.wav", facts={"version_key": "bass"}),
                stem("Bass v2.wav", facts={"version_key": "bass", "version": "v2"}),
                level_db=-1.0,
            ),
        ),
        clean("a loop in two songs", copied(*BASS_AND_KEYS, songs=("A", "B"), loops=True)),
        clean(
            "a riser in two songs",
            two_songs("FX.wav", "FX.wav", activity=from_to(RATE, 16 * RATE - 2)),
        ),
        clean(
            "a stab in two songs", two_songs("Brass.wav", "Brass.wav", activity=from_to(RATE, 7 * RATE - 2))
        ),
        planted(
            "a phrase of brass in two songs",
            two_songs("Brass.wav", "Brass.wav", activity=from_to(RATE, 7 * RATE - 1)),
            Expected(severity="note", songs=("Song 1", "Song 2")),
        ),
        planted(
            "two short sounds far apart, in two songs",
            two_songs("FX.wav", "FX.wav", activity=from_to(RATE, 16 * RATE - 1) | {"active_s": 3.0}),
            Expected(severity="note", songs=("Song 1", "Song 2")),
        ),
        clean("a click in two songs", copied(stem("Click.wav"), stem("Guide.wav"), songs=("A", "B"))),
        clean(
            "what cannot be read, or is silent, is no copy",
            copied(stem("Bass.wav"), stem("Keys.wav", unreadable=True)),
        ),
        at_limit("four excerpts of five", copied(*BASS_AND_KEYS, share=0.8)),
        past_limit("five of six", copied(*BASS_AND_KEYS, share=5 / 6), Expected(stem="Keys.wav", value=83.3)),
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


def test_an_exact_copy_and_one_turned_down_are_told_together_across_songs():
    evidence = show(song("A", same("Bass.wav")), song("B", same("Bass.wav")), song("C", stem("Bass.wav")))
    copy = SameAudio(
        first_song="B", first="Bass.wav", second_song="C", second="Bass.wav", lag_frames=0, lag_s=0.0,
        level_db=-6.0, likeness=1.0, share=1.0, opposed=False,
    )  # fmt: skip
    (told,) = findings("duplicate-audio", replace(evidence, copies=(copy,)))
    assert told.songs == ("A", "B", "C")


def test_a_copy_a_few_milliseconds_off_is_a_copy_and_no_comb_pair():
    source = CommonSource(
        first="Bass.wav", second="Keys.wav", lag_ms=5.0, lag_frames=240.0, likeness=0.99, coherence=0.99,
        turned_deg=0.0, level_db=0.0, together_s=50.0,
    )  # fmt: skip
    whole = copied(*BASS_AND_KEYS, lag_frames=240, lag_s=0.005)
    paired = replace(whole, songs=tuple(replace(one, common_sources=(source,)) for one in whole.songs))
    assert findings("comb-pair", paired) == []
    assert [f.stem for f in findings("duplicate-audio", paired)] == ["Keys.wav"]
    assert [f.stem for f in findings("comb-pair", replace(paired, copies=()))] == ["Keys.wav"]
