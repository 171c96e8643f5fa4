"""The rules on the click: planted, clean, and on both sides of each limit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.results import (
    ClickChange,
    ClickExtra,
    ClickGap,
    ClickJump,
    ClickMiscount,
    ClickPause,
    ClickRun,
    ClickTrack,
)
from tests.evidence import audit_with, find_rule, findings, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

CLICK = "Click.wav"


def track(
    *,
    count_in: int | None = 4,
    first_s: float = 0.5,
    music_s: float | None = 2.5,
    metre: str | None = "4/4",
    **more: Any,
) -> ClickTrack:
    """Sixty-four beats at 120."""
    beats = tuple(first_s + 0.5 * number for number in range(64))
    return ClickTrack(
        beats_s=beats,
        accents=tuple(number % 4 == 0 for number in range(64)),
        runs=(ClickRun(first_beat=0, beats=64, bpm_first=120.0, bpm_last=120.0, steady=True),),
        bpm=120.0,
        metre=metre,
        count_in_beats=count_in,
        first_beat_s=first_s,
        music_s=music_s,
        **more,
    )


def counted(click: ClickTrack | None, name: str = "Night Ferry") -> Any:
    """A song with that click, and a bass."""
    return song(name, stem(CLICK, channels=1), stem("Bass.wav"), click=click, click_stem=CLICK)


def one(**more: Any) -> Any:
    return show(counted(track(**more)))


def gap(at_s: float, beats: int) -> ClickGap:
    return ClickGap(at_s=at_s, beats=beats)


def extra(at_s: float, off_ms: float, *, instead: bool = False) -> ClickExtra:
    return ClickExtra(at_s=at_s, off_s=off_ms / 1000.0, instead=instead)


def pause(start_s: float, end_s: float) -> ClickPause:
    return ClickPause(start_s=start_s, end_s=end_s)


def jump(at_s: float, by_ms: float, kept: tuple[str, ...] = (), went: tuple[str, ...] = ()) -> ClickJump:
    """The click alone where stems keep to the old beats."""
    return ClickJump(
        last_s=at_s - 0.5 - by_ms / 1000.0, at_s=at_s, by_s=by_ms / 1000.0, beat_s=0.5, kept=kept, went=went,
        click_alone=bool(kept),
    )  # fmt: skip


BAND = ("Bass.wav", "Drums.wav", "Keys.wav")


def miscount(beats: int) -> ClickMiscount:
    """One bar of so many beats too many in a click at 120."""
    return ClickMiscount(at_s=16.0, next_bar_s=18.0 + 0.5 * beats, beats=beats, bar=4, kept=BAND)


def songs(*counts: int | None, odd: Any = None) -> Any:
    """Songs with these count-ins, then `odd`."""
    usual = [counted(track(count_in=beats), f"Song {n}") for n, beats in enumerate(counts)]
    return show(*usual, *([odd] if odd else []))


NO_CLICK = show(song("Night Ferry", stem("Bass.wav")))
SILENT = show(song("Night Ferry", stem(CLICK, silent=True), stem("Bass.wav")))
NOT_FOUND = show(counted(None))
SIX_EIGHT = counted(track(count_in=6, metre="6/8"), "Waltz")
ELSE = counted(track(), "Elsewhere")
SHORT = counted(track(count_in=2), "Brief")

CASES: dict[str, tuple[Case, ...]] = {
    "click-missing": (
        planted("a pad under its name", NOT_FOUND, Expected(stem=CLICK, says=("no click",))),
        planted(
            "one side of a file",
            show(song("Night Ferry", stem("Click+LTC.wav"), click_stem="Click+LTC.wav"), ELSE),
            Expected(stem="Click+LTC.wav", songs=("Night Ferry",)),
        ),
        clean("a click", one()),
        clean("no click in the song", NO_CLICK),
        at_limit("silence is silent-stem's", SILENT),
        past_limit("not one tick", NOT_FOUND, Expected(stem=CLICK)),
    ),
    "click-gap": (
        planted(
            "one beat", one(gaps=(gap(12.0, 1),)),
            Expected(
                stem=CLICK, at_s=12.0, value=1.0, says=("1 beat missing", "after it"), facts={"beats": 1}
            ),
        ),
        planted(
            "three, twice", one(gaps=(gap(12.0, 3), gap(20.0, 3))),
            Expected(at_s=12.0, stem=CLICK, says=("3 beats", "after them")), Expected(at_s=20.0, stem=CLICK),
        ),
        planted(
            "too many to list", one(gaps=tuple(gap(float(n), 1) for n in range(1, 8))),
            Expected(stem=CLICK, at_s=1.0, says=("7 beats missing in 7 places",)),
        ),
        planted(
            "a free section is a note", one(pauses=(pause(10.0, 20.0),)),
            Expected(stem=CLICK, severity="note", at_s=10.0, says=("0:10 to 0:20",)),
        ),
        planted(
            "a click from mid-song is a note", show(counted(track(count_in=0, first_s=8.0, music_s=0.0))),
            Expected(stem=CLICK, severity="note", at_s=0.0, says=("0:00 to 0:08",)),
        ),
        planted(
            "half a beat later from there on, the band plays on", one(jumps=(jump(16.25, 250.0, BAND),)),
            Expected(stem=CLICK, severity="error", at_s=16.25, value=250.0,
                     says=("from 0:16.250 on", "250 ms later", "3 stems", "old beats",)),
        ),
        planted(
            "two beats later", one(jumps=(jump(17.0, 1000.0, BAND),)),
            Expected(stem=CLICK, severity="error", value=1000.0, says=("2 beats (1 s) later",)),
        ),
        planted(
            "earlier, by two stems", one(jumps=(jump(15.9, -100.0, BAND[:2]),)),
            Expected(stem=CLICK, severity="warning", value=-100.0, says=("100 ms earlier",),
                advises=("later by 100 ms (4800 samples)",)),
        ),
        planted(
            "there and back is told once",
            one(jumps=(jump(16.1, 100.0, BAND), jump(24.0, -100.0, BAND))),
            Expected(stem=CLICK, at_s=16.1, value=100.0, says=("from 0:16.100 to 0:23.600 the click",)),
        ),
        planted(
            "another grid after a wait is a note", one(jumps=(jump(16.25, 250.0), jump(20.0, 150.0))),
            Expected(stem=CLICK, severity="note", at_s=15.5,
                     says=("from 0:16.250 on 250 ms later, from 0:20.000 on 150 ms later",)),
        ),
        planted(
            "also where the music waits with it", one(jumps=(jump(16.25, 250.0, went=BAND),)),
            Expected(stem=CLICK, severity="note", says=("0:16.250",)),
        ),
        planted(
            "nothing plays to tell by", one(jumps=(jump(16.04, 40.0),)),
            Expected(stem=CLICK, severity="note", says=("40 ms later",)),
        ),
        planted(
            "a beat cut out, the band plays on in its bars", one(miscounts=(miscount(-1),)),
            Expected(stem=CLICK, severity="error", at_s=16.0, value=1.0,
                     says=("its bar at 0:16.000 has 1 beat too few", "1 beat earlier", "3 stems"),
                     advises=("put back the 1 beat",), facts={"beats": -1}),
        ),
        clean("a beat too many is click-extra's", one(miscounts=(miscount(1),))),
        clean("a breath that the music takes too", one(jumps=(jump(16.04, 40.0, went=BAND),))),
        clean("whole beats held", one(jumps=(jump(17.0, 1000.0),))),
        clean("bars of seven eighths", one(jumps=tuple(jump(10.0 + 4.0 * n, -250.0) for n in range(3)))),
        clean("none missing", one()),
        clean("no click in the song", NO_CLICK),
        clean("none found", NOT_FOUND),
        at_limit("a hold of less than a bar", one(pauses=(pause(10.0, 12.4),))),
        at_limit("14.9 ms off the old beats", one(jumps=(jump(16.0149, 14.9, BAND),))),
        past_limit(
            "15.1 ms off", one(jumps=(jump(16.0151, 15.1, BAND),)), Expected(stem=CLICK, value=15.1)
        ),
        past_limit(
            "more than a bar", one(pauses=(pause(10.0, 12.7),)), Expected(stem=CLICK, severity="note")
        ),
    ),
    "click-extra": (
        planted(
            "a doubled beat", one(extras=(extra(12.06, 60.0),)),
            Expected(stem=CLICK, value=60.0, at_s=12.06, says=("a tick too many, 60 ms after",)),
        ),
        planted(
            "a beat off the grid", one(extras=(extra(11.98, -20.0, instead=True),)),
            Expected(stem=CLICK, value=20.0, says=("this beat sounds 20 ms before",)),
        ),
        planted(
            "a swarm", one(extras=tuple(extra(float(n), 10.0 + n) for n in range(1, 9))),
            Expected(stem=CLICK, value=18.0, at_s=8.0, says=("8 ticks stand on no beat",)),
        ),
        planted(
            "a bar of five, the band plays on in its bars of four", one(miscounts=(miscount(1),)),
            Expected(stem=CLICK, severity="error", at_s=16.0, value=1.0,
                     says=("1 beat too many", "from 0:18.500 on its accents come 1 beat later",),
                     advises=("take 1 beat out",), facts={"beats": 1}),
        ),
        clean("a beat too few is click-gap's", one(miscounts=(miscount(-1),))),
        clean("none", one()),
        clean("no click in the song", NO_CLICK),
        at_limit("5 ms", one(extras=(extra(12.0, 5.0, instead=True),))),
        past_limit(
            "a little more", one(extras=(extra(12.0, 5.2, instead=True),)), Expected(stem=CLICK, value=5.2)
        ),
    ),
    "click-tempo": (
        planted(
            "half time", one(changes=(ClickChange(at_s=20.0, ratio=0.5),)),
            Expected(stem=CLICK, severity="note", at_s=20.0, says=("half time",)),
        ),
        planted(
            "double time", one(changes=(ClickChange(at_s=20.0, ratio=2.0),)),
            Expected(stem=CLICK, severity="note", says=("double time",)),
        ),
        clean("one count", one()),
        clean("no click in the song", NO_CLICK),
        at_limit("another tempo is music", one()),
        past_limit(
            "twice the tempo", one(changes=(ClickChange(at_s=9.0, ratio=2.0),)),
            Expected(stem=CLICK, severity="note", at_s=9.0),
        ),
    ),
    "click-count-in": (
        planted(
            "half a bar where five have one", songs(4, 4, 4, 4, 4, odd=SHORT),
            Expected(stem=CLICK, songs=("Brief",), severity="note", value=0.5,
                     says=("2 beats", "5 other songs", "1 bar")),
        ),
        planted(
            "none where six have two", songs(8, 8, 8, 8, 8, 8, odd=counted(track(count_in=0), "Brief")),
            Expected(stem=CLICK, severity="note", value=0.0, says=("0 beats", "6 other songs", "2 bars")),
        ),
        clean("all alike", songs(4, 4, 4, 4, 4, 4)),
        clean("a bar of six is a bar", songs(4, 4, 4, 4, 4, odd=SIX_EIGHT)),
        clean("more than the others", songs(4, 4, 4, 4, 4, odd=counted(track(count_in=8), "Long"))),
        clean("a song that begins without click",
              songs(4, 4, 4, 4, 4, odd=counted(track(count_in=0, first_s=9.0, music_s=0.0), "Free"))),
        clean("no music to tell by",
              songs(4, 4, 4, 4, 4, odd=counted(track(count_in=None, music_s=None), "Bare"))),
        at_limit("four others agree", songs(4, 4, 4, 4, odd=SHORT)),
        past_limit(
            "five do", songs(4, 4, 4, 4, 4, odd=SHORT), Expected(stem=CLICK, severity="note", value=0.5)
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


@pytest.mark.parametrize("rule_id", list(CASES))
def test_a_song_without_click_asks_no_question(rule_id: str):
    assert audit_with(rule_id, NO_CLICK).not_applicable == {rule_id: 1}


def test_a_place_is_told_in_the_click_stems_own_frames():
    (found,) = findings("click-gap", one(gaps=(gap(12.0, 1),)))
    assert found.sample == 12 * 48_000


@pytest.mark.parametrize(("least", "told"), [(1, [1.0, 3.0]), (2, [3.0]), (4, [])])
def test_the_settings_say_from_how_many_missing_beats_on(least: int, told: list[float]):
    limit = find_rule("click-gap").limit
    assert limit is not None
    for evidence in (
        one(gaps=(gap(12.0, 1), gap(20.0, 3))),
        one(miscounts=(miscount(-1), miscount(1), miscount(-3))),
    ):
        found = findings("click-gap", evidence, limits={"click-gap": replace(limit, value=least)})
        assert [(gap.value, gap.limit, gap.unit) for gap in found] == [
            (beats, least, "beat") for beats in told
        ]


def test_of_many_gaps_the_longest_is_the_value():
    (found,) = findings("click-gap", one(gaps=tuple(gap(float(n), 1 + n % 3) for n in range(1, 9))))
    assert (found.value, found.limit, found.unit) == (3.0, 1.0, "beat")


def test_a_free_section_has_no_number():
    (found,) = findings("click-gap", one(pauses=(pause(10.0, 20.0),)))
    assert (found.value, found.limit, found.unit) == (None, None, None)
