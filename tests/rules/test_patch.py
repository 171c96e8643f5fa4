"""Rules on the output patch, each with faults, near misses and both sides of its limit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.pipeline.settled import song_patch
from audit.results import OutputSum
from audit.settings.model import CREW, Machine, Output, ShowSettings
from tests.evidence import findings, mix, part, show, song, stem
from tests.rules.asked import asked
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted


def line(out: int | tuple[int, ...], *stems: str, crew: bool = False, **more: Any) -> Output:
    numbers = (out,) if isinstance(out, int) else out
    return Output(out=numbers, stems=stems, **({"heard_by": CREW} if crew else {}), **more)


BAND = line((1, 2), "drums", "bass", "keys")
CLICK = line(3, "click", crew=True)
CODE = line(4, "timecode", crew=True)


def night(name: str = "Night Ferry", *more: Any) -> SongEvidence:
    stems = [stem("Click.wav", channels=1), stem("LTC.wav", channels=1), stem("Drums.wav"), stem("Bass.wav")]
    return song(name, *stems, *more)


def patched(*lines: Output, songs: tuple[SongEvidence, ...] | None = None, **said: Any) -> ShowEvidence:
    return asked(*(songs or (night(),)), outputs=lines, **said)


def summed(*levels: float, name: str = "Night Ferry") -> SongEvidence:
    """The song with its outputs 1, 2, 3 … at these true peaks."""
    peaks = part(Role.OTHER).measures.peaks
    sums = tuple(
        OutputSum(
            output=number, from_stems=("Drums.wav", "Bass.wav"),
            peaks=replace(peaks, true_dbtp=level, true_at_s=12.5),
        )
        for number, level in enumerate(levels, start=1)
    )  # fmt: skip
    return replace(night(name), outputs=sums)


def several(*moved: Output) -> ShowEvidence:
    """Four songs with the usual patch, and the lines of `moved` for Tin Roof alone."""
    usual = tuple(replace(each, songs=("Song ?",)) for each in (BAND, CLICK, CODE))
    own = tuple(replace(each, songs=("Tin Roof",)) for each in moved)
    songs = (*(night(f"Song {n}") for n in range(4)), night("Tin Roof"))
    return patched(*usual, *own, songs=songs)


UNUSED = night("Night Ferry", stem("Choir.wav", silent=True))
REPLACED = replace(night("Night Ferry", stem("Choir.wav")), mix=mix(left_out=(("Choir.wav", "older"),)))
PLAYBACK = stem("Playback.wav", parts=[part(Role.CLICK, channels=(0,)), part(Role.KEYS, channels=(1,))])

CASES: dict[str, tuple[Case, ...]] = {
    "unrouted-stem": (
        planted(
            "a role nobody thought of",
            patched(BAND, CLICK, CODE, songs=(night("Night Ferry", stem("Choir.wav")),)),
            Expected(stem="Choir.wav", says=("goes to no output", "choir")),
        ),
        planted(
            "only click is patched",
            patched(CLICK),
            Expected(stem="Drums.wav"), Expected(stem="Bass.wav"),
            Expected(stem="LTC.wav", severity="warning", says=("timecode",)),
        ),
        planted(
            "a line for another song",
            patched(replace(BAND, songs=("Low Tide",)), CLICK, CODE),
            Expected(stem="Drums.wav"), Expected(stem="Bass.wav"),
        ),
        clean("everything is patched", patched(BAND, CLICK, CODE)),
        clean("no patch", show(night())),
        clean("by file names", patched(line((1, 2), "D*", "bass.wav"), CLICK, line(4, "LTC", crew=True))),
        clean("a silent stem", patched(BAND, CLICK, CODE, songs=(UNUSED,))),
        at_limit(
            "an older version that the sum leaves out",
            patched(BAND, CLICK, CODE, songs=(REPLACED,)),
        ),
        past_limit(
            "one part of a file",
            patched(CLICK, songs=(song("Night Ferry", PLAYBACK),)),
            Expected(stem="Playback.wav", says=("keys",)),
        ),
    ),
    "crew-on-audience-output": (
        planted(
            "a click on the band's pair",
            patched(replace(BAND, stems=("drums", "bass", "click"), name="Band"), CODE),
            Expected(stem="Click.wav", says=("click on outputs 1 and 2 (“Band”)",), advises=("muted",)),
        ),
        planted(
            "everything by a star",
            patched(line(1, "*")),
            Expected(stem="Click.wav"), Expected(stem="LTC.wav", says=("timecode on output 1",)),
        ),
        clean("where they belong", patched(BAND, CLICK, CODE)),
        clean("no patch", show(night())),
        at_limit("a file's click side goes to the crew", patched(
            BAND, CLICK, songs=(song("Night Ferry", PLAYBACK),))),
        past_limit(
            "a file whose click side goes out with its keys",
            patched(CLICK, line((1, 2), "Playback*"), songs=(song("Night Ferry", PLAYBACK),)),
            Expected(stem="Playback.wav", says=("click",)),
        ),
    ),
    "split-pair": (
        planted(
            "outputs 1 and 5",
            patched(replace(BAND, out=(1, 5)), CLICK, CODE),
            Expected(songs=("Night Ferry",), says=("outputs 1 and 5", "no neighbours", "Drums.wav")),
        ),
        planted(
            "left and right exchanged",
            patched(replace(BAND, out=(2, 1)), CLICK, CODE),
            Expected(songs=("Night Ferry",), says=("exchanged",)),
        ),
        clean("1 and 2", patched(BAND, CLICK, CODE)),
        clean("no patch", show(night())),
        at_limit("mono stems may go to any two", patched(line((1, 5), "click", crew=True))),
        at_limit("2 and 3 are neighbours", patched(replace(BAND, out=(2, 3)))),
        past_limit("1 and 3", patched(replace(BAND, out=(1, 3))), Expected(songs=("Night Ferry",))),
    ),
    "output-moved": (
        planted(
            "the band on other outputs in one song",
            several(replace(BAND, out=(5, 6)), CLICK, CODE),
            Expected(songs=("Tin Roof",), value=4.0, says=("drums goes to outputs 5, 6 in", "in 4 songs")),
            Expected(songs=("Tin Roof",), says=("bass",)),
        ),
        planted(
            "a click on one output more",
            several(BAND, CLICK, CODE, line(7, "click", crew=True)),
            Expected(songs=("Tin Roof",), says=("click goes to outputs 3, 7", "output 3 in 4 songs")),
        ),
        clean("the same everywhere", several(BAND, CLICK, CODE)),
        clean("no patch", show(night())),
        clean("a song without timecode moved nothing", several(BAND, CLICK)),
        at_limit("two songs against one", patched(
            replace(CLICK, songs=("Song ?",)), line(7, "click", crew=True, songs=("Tin Roof",)),
            songs=(night("Song 1"), night("Song 2"), night("Tin Roof")))),
        past_limit(
            "three songs against one",
            patched(
                replace(CLICK, songs=("Song ?",)), line(7, "click", crew=True, songs=("Tin Roof",)),
                songs=(night("Song 1"), night("Song 2"), night("Song 3"), night("Tin Roof")),
            ),
            Expected(songs=("Tin Roof",), value=3.0),
        ),
    ),
    "too-many-outputs": (
        planted(
            "ten outputs on an interface of eight",
            patched(BAND, line((9, 10), "choir"), interface_outputs=8),
            Expected(says=("uses output 10", "has 8", "outputs 9 and 10 for choir")),
        ),
        planted(
            "the spare machine has fewer",
            patched(BAND, CLICK, CODE, interface_outputs=8, machines=(Machine(name="Spare", outputs=2),)),
            Expected(says=("of “Spare” has 2", "output 3", "output 4")),
        ),
        clean("enough", patched(BAND, CLICK, CODE, interface_outputs=8)),
        clean("nobody says how many there are", patched(BAND, CLICK, CODE)),
        at_limit("just enough", patched(BAND, CLICK, CODE, interface_outputs=4)),
        past_limit("one too few", patched(BAND, CLICK, CODE, interface_outputs=3), Expected(says=("has 3",))),
    ),
    "output-overload": (
        planted(
            "one output",
            patched(BAND, CLICK, CODE, songs=(summed(2.5, -3.0),)),
            Expected(value=2.5, says=("2 stems on output 1", "+2.5 dBTP", "0:12.500"), advises=("2.5 dB",)),
        ),
        planted(
            "a pair, worst first",
            patched(BAND, CLICK, CODE, songs=(summed(1.0, 4.0, -60.0),)),
            Expected(value=4.0, says=("outputs 1, 2", "most output 2"), facts={"others": (1,)}),
        ),
        clean("room enough", patched(BAND, CLICK, CODE, songs=(summed(-1.0, -2.0),))),
        clean("no patch", show(summed(6.0))),
        at_limit("exactly full", patched(BAND, CLICK, CODE, songs=(summed(0.0),))),
        past_limit("a hair over", patched(BAND, songs=(summed(0.1),)), Expected(value=0.1, within=0.01)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_a_role_that_the_audience_hears_by_the_settings_is_no_crew():
    guide = stem("Guide.wav", audience=True)
    evidence = patched(line(1, "guide"), songs=(song("Night Ferry", guide),), audience={Role.GUIDE: True})
    check("crew-on-audience-output", clean("x", evidence))


def test_a_patch_for_a_song_holds_for_its_next_version():
    facts = {"title": "Night Ferry v4", "unmarked": "Night Ferry"}
    ferry = replace(night("02 - Night Ferry v4"), song=replace(night("02 - Night Ferry v4").song, **facts))
    own = [replace(each, songs=("Night Ferry",)) for each in (BAND, CLICK, CODE)]
    assert findings("unrouted-stem", patched(*own, songs=(ferry,))) == []
    assert len(song_patch(ferry.song, ShowSettings(source="x", outputs=tuple(own))).outputs) == 3  # type: ignore[union-attr]
    other = replace(ferry, song=replace(ferry.song, unmarked=""))
    assert song_patch(other.song, ShowSettings(source="x", outputs=tuple(own))) is None
    assert ferry.listed_names == ("02 - Night Ferry v4", "Night Ferry v4")
