"""foreign-stem: a stem that belongs to another song of the show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.folder.versions import read_mark
from audit.results import Elsewhere, KeyFit, RhythmFit, SameAudio
from tests.evidence import audit_with, findings, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted


def beat(fit: float, **odd: Any) -> RhythmFit:
    made = RhythmFit(fit=fit, first_half=fit, second_half=fit, onsets=120)
    return replace(made, **odd)


def chords(fit: float, *, turned: float | None = None, voices: float = 3.0, **odd: Any) -> KeyFit:
    made = KeyFit(
        semitones=0 if turned is None else 3, fit_as_is=fit, fit_turned=fit if turned is None else turned,
        first_half_gain=0.0, second_half_gain=0.0, first_half_fit=fit, second_half_fit=fit, seconds=60.0,
        voices=voices, others=3,
    )  # fmt: skip
    return replace(made, **odd)


def tried(
    rhythm: tuple[RhythmFit | None, RhythmFit | None] = (None, None),
    key: tuple[KeyFit | None, KeyFit | None] = (None, None),
    copy: str | None = None,
    there_too: Sequence[StemEvidence] = (stem("Bass.wav"), stem("Drums.wav")),
) -> ShowEvidence:
    """Keys with their fits at home and in the song "Tin Roof", which has those stems."""
    there = Elsewhere(song="Tin Roof", key=key[1], rhythm=rhythm[1], copy=copy)
    away = Elsewhere(song="Long Quay", key=chords(0.1), rhythm=beat(0.1))
    own = replace(stem("Keys.wav"), rhythm=rhythm[0], key=key[0], elsewhere=(away, there))
    return show(
        song("Night Ferry", stem("Bass.wav"), own),
        song("Tin Roof", *there_too),
        song("Long Quay", stem("Bass.wav")),
    )


def moves(changes: float, *, turned: float = 0.0, **odd: Any) -> KeyFit:
    """A bass by what of it comes and goes with the others."""
    made = chords(0.3 + 0.3 * changes, voices=1.2)
    return replace(
        made, changes_as_is=changes, changes_turned=turned, first_half_changes=changes,
        second_half_changes=changes, **odd,
    )  # fmt: skip


def three(*found: tuple[float, str, float], agreeing: int = 0) -> ShowEvidence:
    """Stems that move with nobody here, and with another song's chords so much; and others that agree."""
    stems = [
        replace(
            stem(f"Part {n}.wav"), key=moves(here),
            elsewhere=(Elsewhere(song=other, key=moves(there), rhythm=None),),
        )
        for n, (here, other, there) in enumerate(found)
    ]  # fmt: skip
    others = [replace(stem(f"Other {n}.wav"), key=moves(0.6)) for n in range(agreeing)]
    return show(song("Night Ferry", *stems, *others), *(song(name) for name in ("Tin Roof", "Long Quay")))


def renamed(other: str, *fits: Any) -> ShowEvidence:
    """The other song under this name."""
    there = Elsewhere(song=other, key=fits[1][1], rhythm=fits[0][1])
    own = replace(stem("Keys.wav"), rhythm=fits[0][0], key=fits[1][0], elsewhere=(there,))
    marked = {"title_key": "night ferry", "title_mark": read_mark(other)}
    return show(
        song("Night Ferry", stem("Bass.wav"), own, facts={"title_key": "night ferry"}),
        song(other, stem("Bass.wav"), facts=marked),
    )


def twice(alike: int) -> ShowEvidence:
    """Keys that fit better in the other song, which has so many of the three stems of this one."""
    there = Elsewhere(song="Tin Roof", key=OTHER_CHORDS[1], rhythm=OTHER_BEAT[1])
    own = replace(stem("Keys.wav"), rhythm=OTHER_BEAT[0], key=OTHER_CHORDS[0], elsewhere=(there,))
    shared = [stem(f"Part {n}.wav", audio={"content_hash": f"audio of part {n}"}) for n in range(2)]
    other = [stem(f"Other {n}.wav") for n in range(2 - alike)]
    return show(song("Night Ferry", own, *shared), song("Tin Roof", *shared[:alike], *other))


OTHER_BEAT, OTHER_CHORDS = (beat(0.1), beat(0.95)), (chords(0.0), chords(0.8))
HERE = "Keys.wav"

CASES: dict[str, tuple[Case, ...]] = {
    "foreign-stem": (
        planted(
            "beat and chords of another song",
            tried(OTHER_BEAT, OTHER_CHORDS),
            Expected(
                stem=HERE, value=0.85,
                says=("belongs to Tin Roof", "click (95 %, here 10 %)", "80 % alike, here 0 %"),
                advises=("Tin Roof",), facts={"other": "Tin Roof"},
            ),
        ),
        planted("drums: the beat alone", tried(OTHER_BEAT), Expected(stem=HERE, value=0.85, says=("click",))),
        clean("the beat alone, of a song of a click and timecode",
              tried(OTHER_BEAT, there_too=(stem("Click.wav"), stem("LTC.wav")))),
        at_limit("the beat alone, of a song with one stem that sounds", tried(
            OTHER_BEAT, there_too=(stem("Click.wav"), stem("Bass.wav"), stem("Pad.wav", silent=True)))),
        planted(
            "of such a song, where the same audio lies",
            tried(OTHER_BEAT, copy="Keys.wav", there_too=(stem("Click.wav"), stem("Keys.wav"))),
            Expected(stem=HERE, value=0.85),
        ),
        planted("chords too", tried(OTHER_BEAT, OTHER_CHORDS, there_too=(stem("Bass.wav"),)),
                Expected(stem=HERE, value=0.85)),
        planted(
            "a pad: the chords alone",
            tried(key=OTHER_CHORDS),
            Expected(stem=HERE, value=0.8, says=("chords go with those stems",)),
        ),
        planted(
            "one tempo, other chords",
            tried((beat(0.9), beat(0.9)), OTHER_CHORDS),
            Expected(stem=HERE, value=0.8),
        ),
        planted(
            "the same audio lies there", tried(OTHER_BEAT, OTHER_CHORDS, copy="Organ.wav"),
            Expected(stem=HERE, says=("where the same audio is Organ.wav",), facts={"copy": "Organ.wav"}),
        ),
        planted(
            "a bass of another song in one tempo and key",
            tried((beat(0.9), beat(0.9)), (moves(0.05), moves(0.5))),
            Expected(stem=HERE, value=0.45, says=("change when those do (50 %, here 5 %)",)),
        ),
        clean("a bass that goes with both songs", tried(key=(moves(0.5), moves(0.6)))),
        clean("beside one other alone, with which it goes a little",
              tried(key=(moves(0.05, others=1), moves(0.5)))),
        clean("its changes in one half only", tried(
            key=(moves(0.05), replace(moves(0.5), second_half_changes=0.1)))),
        clean("a transposed bass, and such a song", tried(key=(moves(0.0, turned=0.5), moves(0.5)))),
        planted(
            "two of them, and others that agree",
            three((0.0, "Tin Roof", 0.5), (0.0, "Long Quay", 0.45), agreeing=2),
            Expected(stem="Part 0.wav"), Expected(stem="Part 1.wav"),
        ),
        planted(
            "nobody agrees: the clearest",
            three((0.0, "Tin Roof", 0.7), (0.0, "Long Quay", 0.45)),
            Expected(stem="Part 0.wav"),
        ),
        clean("nobody agrees, and none is clearer", three((0.0, "Tin Roof", 0.5), (0.0, "Long Quay", 0.45))),
        at_limit("changes at 0.39", tried(key=(moves(0.05), moves(0.39)))),
        past_limit("at 0.41", tried(key=(moves(0.05), moves(0.41))), Expected(stem=HERE, value=0.36)),
        clean("a version of the song, by its name", renamed("Night Ferry (old)", OTHER_BEAT, OTHER_CHORDS)),
        clean("the same song once more: the others are the same audio", twice(2)),
        planted("half of the others are the same audio", twice(1), Expected(stem=HERE)),
        clean("at home", tried((beat(0.9), beat(0.1)), (chords(0.8), chords(0.1)))),
        clean("two songs of one tempo", tried((beat(0.9), beat(0.9)))),
        clean("two songs of one tempo and key", tried((beat(0.9), beat(0.9)), (chords(0.7), chords(0.8)))),
        clean("free time, chords at home", tried((beat(0.1), beat(0.7)), (chords(0.7), chords(0.1)))),
        clean("on the beat, chords that fit nowhere", tried((beat(0.9), beat(0.1)), OTHER_CHORDS)),
        clean("a bass's notes alone", tried(key=(chords(0.0, voices=1.2), chords(0.7)))),
        clean("a transposed stem in a show with a song of that key", tried(
            (beat(0.9), beat(0.9)), (chords(0.0, turned=0.8), chords(0.8)))),
        clean("the beat for half of the song", tried((beat(0.1), beat(0.7, second_half=0.3)))),
        clean("the chords for half of the song", tried(key=(chords(0.0), chords(0.5, second_half_fit=0.1)))),
        clean("a song of no show", tried((beat(0.1), beat(0.15)), (chords(0.0), chords(0.1)))),
        at_limit("onsets that gather at 0.64", tried((beat(0.1), beat(0.64)))),
        past_limit("at 0.66", tried((beat(0.1), beat(0.66))), Expected(stem=HERE, value=0.56)),
        at_limit("0.39 better", tried((beat(0.4), beat(0.79)))),
        past_limit("0.41 better", tried((beat(0.4), beat(0.81))), Expected(stem=HERE, value=0.41)),
        at_limit("not bad at home", tried((beat(0.46), beat(0.99)))),
        at_limit("chords that fit there at 0.49", tried(key=(chords(0.0), chords(0.49)))),
        past_limit("at 0.51", tried(key=(chords(0.0), chords(0.51))), Expected(stem=HERE, value=0.51)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


@pytest.mark.parametrize(
    ("others", "told"), [((), True), ((0.02, 0.45), False), ((0.02, 0.46), True), ((0.9,), True)]
)
def test_hits_tell_nothing_where_the_song_itself_keeps_another_time_than_its_click(
    others: tuple[float, ...], told: bool
):
    astray = tried((beat(0.1), beat(0.8))).songs[0].stems[-1]
    assert astray.name == HERE
    band = [replace(stem(f"Part {fit}.wav"), rhythm=beat(fit)) for fit in others]
    found = findings(
        "foreign-stem",
        show(song("Night Ferry", *band, astray), song("Tin Roof", stem("Bass.wav"), stem("Pad.wav"))),
    )
    assert bool(found) is told


def test_a_song_of_which_every_stem_lies_on_another_song_s_click_is_told():
    """A click of another tempo, or another song's whole bounce, beside which nothing here lies."""
    astray = tried((beat(0.1), beat(0.8))).songs[0].stems[-1]
    both = [replace(astray, stem=replace(astray.stem, file=file)) for file in ("Keys.wav", "Guitar.wav")]
    elsewhere = song("Tin Roof", stem("Bass.wav"), stem("Pad.wav"))
    found = findings("foreign-stem", show(song("Night Ferry", *both), elsewhere))
    assert {one.stem for one in found} == {"Keys.wav", "Guitar.wav"}
    apart = replace(both[1], elsewhere=(Elsewhere(song="Long Quay", key=None, rhythm=beat(0.8)),))
    assert not findings("foreign-stem", show(song("Night Ferry", both[0], apart), elsewhere))


def test_what_cannot_be_told_is_not_asked():
    alone = audit_with("foreign-stem", show(song("S", stem("Keys.wav"))))
    assert alone.not_applicable == {"foreign-stem": 1}
    mute = audit_with("foreign-stem", show(song("S", stem("Keys.wav")), song("T", stem("Keys.wav"))))
    assert mute.not_applicable == {"foreign-stem": 2}


def one_recording(first: tuple[str, str], second: tuple[str, str]) -> SameAudio:
    """Two stems, each by its song and its name."""
    return SameAudio(
        first_song=first[0], first=first[1], second_song=second[0], second=second[1], lag_frames=0, lag_s=0.0,
        level_db=0.0, likeness=1.0, share=1.0, opposed=False,
    )  # fmt: skip


@pytest.mark.parametrize(("copied", "told"), [(True, ["Night Ferry"]), (False, ["Night Ferry", "Tin Roof"])])
def test_the_stem_that_was_copied_is_not_blamed_for_its_copy(copied: bool, told: list[str]):
    """Tin Roof's keys were put into Night Ferry. There they go with nothing but themselves, a little."""
    astray = replace(
        stem("Keys.wav"), rhythm=beat(0.1), key=moves(0.0),
        elsewhere=(Elsewhere(song="Tin Roof", key=moves(0.7), rhythm=beat(0.9)),),
    )  # fmt: skip
    at_home = replace(
        stem("Keys 1.wav"),
        key=moves(0.0),
        elsewhere=(Elsewhere(song="Night Ferry", key=moves(0.6), rhythm=None),),
    )
    pair = one_recording(("Night Ferry", "Keys.wav"), ("Tin Roof", "Keys 1.wav"))
    whole = show(
        song("Night Ferry", stem("Bass.wav"), astray),
        song("Tin Roof", stem("Bass.wav"), at_home),
        song("Long Quay", stem("Bass.wav")),
    )
    audit = audit_with("foreign-stem", replace(whole, copies=(pair,) if copied else ()))
    assert [finding.songs[0] for finding in audit.all_findings()] == told


@pytest.mark.parametrize(("rhythm", "told"), [(None, False), (beat(0.9), True)])
def test_chords_say_nothing_of_a_stem_whose_copy_makes_them(rhythm: RhythmFit | None, told: bool):
    """Night Ferry's keys were put into Tin Roof, cut to its length, and are all the harmony that it has
    now."""
    own = replace(
        stem("Keys.wav"),
        key=moves(0.0),
        rhythm=beat(0.1),
        elsewhere=(Elsewhere(song="Tin Roof", key=moves(1.0), rhythm=rhythm),),
    )
    whole = show(
        song("Night Ferry", stem("Bass.wav"), own), song("Tin Roof", stem("Keys.wav")), song("Long Quay")
    )
    ends = ("Tin Roof", "Keys.wav"), ("Night Ferry", "Keys.wav")
    for one, other in (ends, ends[::-1]):
        copied = replace(whole, copies=(one_recording(one, other),))
        assert bool(findings("foreign-stem", copied)) is told
    assert findings("foreign-stem", whole)


@pytest.mark.parametrize(("there", "told"), [(0.9, True), (0.3, False)])
def test_a_copy_says_where_it_is_at_home(there: float, told: bool):
    """Tin Roof's pad in Night Ferry, where it goes with nothing, and in a third key with Long Quay."""
    astray = replace(
        stem("Pad.wav"),
        key=chords(0.0, turned=0.3),
        elsewhere=(
            Elsewhere(song="Tin Roof", key=chords(1.0), rhythm=None),
            Elsewhere(song="Long Quay", key=chords(0.59), rhythm=None),
        ),
    )
    whole = show(
        song("Night Ferry", stem("Bass.wav"), stem("Keys.wav"), stem("Gtr.wav"), astray),
        song("Tin Roof", stem("Organ.wav"), stem("Horns.wav"), replace(stem("Pad.wav"), key=chords(there))),
        song("Long Quay", stem("Bass.wav")),
    )
    pair = one_recording(("Night Ferry", "Pad.wav"), ("Tin Roof", "Pad.wav"))
    (finding,) = findings("foreign-stem", replace(whole, copies=(pair,)))
    assert ("belongs to Tin Roof, where the same recording is Pad.wav" in finding.message) is told
    assert ("belongs to Long Quay" in finding.message) is not told


@pytest.mark.parametrize(("copied", "told"), [(0, True), (1, True), (2, False)])
def test_versions_whose_samples_differ_are_one_song(copied: int, told: bool):
    """Of three stems one is astray, and so many of the others are the other song's recordings, changed."""
    there = Elsewhere(song="Tin Roof", key=OTHER_CHORDS[1], rhythm=OTHER_BEAT[1])
    own = replace(
        stem("Keys.wav", audio={"content_hash": "keys"}), rhythm=OTHER_BEAT[0], key=OTHER_CHORDS[0],
        elsewhere=(there,),
    )  # fmt: skip
    parts = [stem(f"Part {n}.wav", audio={"content_hash": f"here {n}"}) for n in range(2)]
    others = [stem(f"Part {n}.wav", audio={"content_hash": f"there {n}"}) for n in range(2)]
    pairs = [one_recording(("Night Ferry", f"Part {n}.wav"), ("Tin Roof", f"Part {n}.wav")) for n in range(2)]
    for ends in (pairs, [one_recording(("Tin Roof", p.second), ("Night Ferry", p.first)) for p in pairs]):
        whole = show(song("Night Ferry", own, *parts), song("Tin Roof", *others))
        assert bool(findings("foreign-stem", replace(whole, copies=tuple(ends[:copied])))) is told


def test_two_bounces_in_each_other_s_folder_are_both_told():
    def keys(other: str):
        there = Elsewhere(song=other, key=OTHER_CHORDS[1], rhythm=OTHER_BEAT[1])
        return replace(stem("Keys.wav"), rhythm=OTHER_BEAT[0], key=OTHER_CHORDS[0], elsewhere=(there,))

    whole = show(
        song("Night Ferry", stem("Bass.wav"), keys("Tin Roof")),
        song("Tin Roof", stem("Bass.wav"), keys("Night Ferry")),
    )
    assert [found.songs for found in findings("foreign-stem", whole)] == [("Night Ferry",), ("Tin Roof",)]


@pytest.mark.parametrize(
    ("stands", "advice"),
    [
        ("Keys 2.wav", "look whether the one of Tin Roof is still in its place"),
        ("Bass.wav", "Move it to Tin Roof, where none is in its place now"),
    ],
)
def test_what_to_do_depends_on_what_stands_in_the_other_song(stands: str, advice: str):
    there = Elsewhere(song="Tin Roof", key=OTHER_CHORDS[1], rhythm=OTHER_BEAT[1])
    own = replace(stem("Keys.wav"), rhythm=OTHER_BEAT[0], key=OTHER_CHORDS[0], elsewhere=(there,))
    whole = show(song("Night Ferry", stem("Bass.wav"), own), song("Tin Roof", stem(stands)))
    (found,) = findings("foreign-stem", whole)
    assert advice in found.advice


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("copy_in", "moved"), [("Tin Roof", False), ("Long Quay", True), (None, True)], ids=str
)
def test_it_is_not_moved_to_where_its_recording_stands(copy_in: str | None, moved: bool, turned: bool):
    """Keys are the Piano of Tin Roof, cut to this song's length: another name, role and hash."""
    there = Elsewhere(song="Tin Roof", key=OTHER_CHORDS[1], rhythm=OTHER_BEAT[1])
    own = replace(stem("Keys.wav"), rhythm=OTHER_BEAT[0], key=OTHER_CHORDS[0], elsewhere=(there,))
    songs = [song(name, stem("Bass.wav"), stem("Piano.wav")) for name in ("Tin Roof", "Long Quay")]
    whole = show(song("Night Ferry", stem("Bass.wav"), own), *songs)
    if copy_in:
        ends = ("Night Ferry", "Keys.wav"), (copy_in, "Piano.wav")
        whole = replace(whole, copies=(one_recording(*(ends[::-1] if turned else ends)),))
    (found,) = findings("foreign-stem", whole)
    assert ("Move it to Tin Roof" in found.advice) is moved
    assert ("where the same recording is Piano.wav" in found.message) is (copy_in == "Tin Roof")
