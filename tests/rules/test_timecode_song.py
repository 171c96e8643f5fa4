"""timecode-unreadable, -jump, -flag, -level: planted, clean, and on both sides of each limit."""

from __future__ import annotations

import pytest

from audit.results import JumpKind
from audit.rules.timecode import MOST_TOLD
from audit.rules.timecode_words import stretch_words
from audit.timecode import FPS_24, FPS_25, FPS_29_97, FPS_29_97_DROP, FPS_30
from tests.evidence import audit_with, findings, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted
from tests.rules.timecode_tracks import beside_click, coded, jump, jumping, ltc, track

NONE_OF_IT = song("Night Ferry", stem("Click.wav"), stem("Bass.wav"))


def level(level_dbfs: float, **more: object):
    return coded("Night Ferry", track(level_dbfs=level_dbfs, lowest_level_dbfs=level_dbfs - 0.1, **more))


def reading(seconds: float):
    """So much of a minute's sound reads as timecode."""
    return show(coded("Night Ferry", track(seconds=seconds), activity={"active_s": 60.0}))


CASES: dict[str, tuple[Case, ...]] = {
    "timecode-unreadable": (
        planted(
            "noise under the name", show(song("Night Ferry", ltc(None))),
            Expected(stem="LTC.wav", value=0.0, says=("not one frame",), advises=("generator",)),
        ),
        planted(
            "one side of a file", show(song("Night Ferry", beside_click(None))),
            Expected(stem="Click+LTC.wav", says=("(timecode, channel 2)",)),
        ),
        planted("ten seconds of sixty", reading(10.0), Expected(stem="LTC.wav", value=16.7, says=("17 %",))),
        clean("it reads", show(coded("Night Ferry"))),
        clean("silence is silent-stem's", show(song("Night Ferry", ltc(None, silent=True)))),
        clean("no timecode", show(NONE_OF_IT)),
        clean("so weak that the stem does not count as sounding",
              show(coded("Night Ferry", activity={"active_s": 0.0}))),
        at_limit("half of it", reading(30.0)),
        past_limit("a frame less", reading(29.96), Expected(stem="LTC.wav", value=49.9)),
    ),
    "timecode-jump": (
        planted(
            "numbers skip", show(coded("Night Ferry", jumping(jump(JumpKind.FORWARD, frames=5)))),
            Expected(stem="LTC.wav", value=5.0, at_s=20.0,
                     says=("skip 5 frames", "01:00:20:01 follows 01:00:19:24"), advises=("one piece",)),
        ),
        planted(
            "the signal is gone",
            show(coded("Night Ferry", jumping(jump(JumpKind.MISSING, frames=30, silent=True)))),
            Expected(stem="LTC.wav", value=30.0, says=("1.2 s (30 frames) missing", "signal is gone")),
        ),
        planted(
            "every kind",
            show(coded("Night Ferry", jumping(
                jump(JumpKind.MISSING, 1.0), jump(JumpKind.STRAY, 2.0), jump(JumpKind.REPEATED, 3.0, 2),
                jump(JumpKind.HELD, 4.0, 50), jump(JumpKind.BACKWARD, 5.0, 9),
                jump(JumpKind.SLIPPED, 6.0, -0.5), jump(JumpKind.TURNED, 7.0),
            ))),
            Expected(stem="LTC.wav", at_s=1.0, says=("1 frame cannot be read",)),
            Expected(stem="LTC.wav", at_s=2.0, says=("one frame says",)),
            Expected(stem="LTC.wav", at_s=3.0, says=("2 frames too often",)),
            Expected(stem="LTC.wav", at_s=4.0, says=("fall 2 s (50 frames) behind",)),
            Expected(stem="LTC.wav", at_s=5.0, says=("go back by 9 frames",)),
            Expected(stem="LTC.wav", at_s=6.0, says=("−0.50 of a frame",)),
            Expected(stem="LTC.wav", at_s=7.0, says=("changes its direction",)),
        ),
        planted(
            "the file was reversed", show(coded("Night Ferry", track(backward=True))),
            Expected(stem="LTC.wav", at_s=0.0, says=("runs backwards",), advises=("Reverse",)),
        ),
        clean("it counts on", show(coded("Night Ferry"))),
        clean("no timecode", show(NONE_OF_IT)),
        clean("unreadable code is told once", show(song("Night Ferry", ltc(None)))),
        at_limit("drop-frame leaves two numbers out",
                 show(coded("Night Ferry", track("01:00:30;00", rate=FPS_29_97_DROP, dropped_minutes=1)))),
        past_limit("one frame", show(coded("Night Ferry", jumping(jump(JumpKind.REPEATED)))),
                   Expected(stem="LTC.wav", value=1.0, says=("1 frame too often",))),
    ),
    "timecode-flag": (
        planted(
            "the flag promises drop-frame",
            show(coded("Night Ferry", track(rate=FPS_29_97, drop_flags=1798, plain_minutes=2))),
            Expected(stem="LTC.wav", says=("flag says drop-frame", "counted non-drop"),
                     advises=("generator",)),
        ),
        planted(
            "the flag is missing",
            show(coded("Night Ferry", track(rate=FPS_29_97_DROP, drop_flags=0, dropped_minutes=3))),
            Expected(stem="LTC.wav", says=("flag says non-drop", "counted drop-frame")),
        ),
        planted(
            "a flag at 25", show(coded("Night Ferry", track(rate=FPS_25, drop_flags=1500))),
            Expected(stem="LTC.wav", says=("at 25, which has no drop-frame",)),
        ),
        planted(
            "both countings in one file",
            show(coded("Night Ferry", track(rate=FPS_29_97_DROP, dropped_minutes=3, plain_minutes=1))),
            Expected(stem="LTC.wav", says=("left out at 3", "kept at 1")),
        ),
        planted(
            "it comes and goes", show(coded("Night Ferry", track(rate=FPS_29_97_DROP, drop_flags=900))),
            Expected(stem="LTC.wav", says=("900 of 1798",)),
        ),
        clean("25 without", show(coded("Night Ferry"))),
        clean("24 without", show(coded("Night Ferry", track(rate=FPS_24)))),
        clean("non-drop counts every number",
              show(coded("Night Ferry", track(rate=FPS_29_97, plain_minutes=3)))),
        clean("drop-frame leaves them out",
              show(coded("Night Ferry", track(rate=FPS_29_97_DROP, dropped_minutes=3)))),
        clean("no timecode", show(NONE_OF_IT)),
        at_limit("no full minute to tell by", show(coded("Night Ferry", track(rate=FPS_29_97_DROP)))),
        past_limit("one full minute",
                   show(coded("Night Ferry", track(rate=FPS_29_97, drop_flags=1798, plain_minutes=1))),
                   Expected(stem="LTC.wav")),
    ),
    "timecode-level": (
        planted("at −52 dBFS", show(level(-52.0)),
                Expected(stem="LTC.wav", value=-52.0, says=("stands at −52.0 dBFS", "limit −40"),
                         advises=("−18 dBFS", "Turn monitors down"))),
        planted("faded out",
                show(coded("Night Ferry", track(lowest_level_dbfs=-48.0, lowest_level_at_s=55.0))),
                Expected(stem="LTC.wav", value=-48.0, at_s=55.0, says=("falls to −48.0",))),
        planted("clipped until the cells deform",
                show(coded("Night Ferry", track(level_dbfs=0.0, lowest_level_dbfs=0.0, edge_error=0.16),
                           clipping={"runs": 900})),
                Expected(stem="LTC.wav", says=("16% of a bit off (limit 10%)",))),
        planted("hot in one song", show(level(-3.0), coded("Tin Roof")),
                Expected(severity="note", stem="LTC.wav", value=-3.0, songs=("Night Ferry",),
                         says=("−3.0 dBFS", "above −6 dBFS"), advises=("Trim the output",))),
        planted("hot in all songs is one note",
                show(level(-3.0), coded("Tin Roof", track(level_dbfs=-2.5, lowest_level_dbfs=-2.5))),
                Expected(severity="note", songs=("Night Ferry", "Tin Roof"), value=-2.5,
                         says=("all 2 songs",))),
        clean("at −12 dBFS", show(coded("Night Ferry"))),
        clean("a square wave cut off straight",
              show(coded("Night Ferry", track(edge_error=0.02), clipping={"runs": 900}))),
        clean("deformed by something else", show(coded("Night Ferry", track(edge_error=0.16)))),
        clean("no timecode", show(NONE_OF_IT)),
        at_limit("at both limits", show(
            coded("Night Ferry", track(level_dbfs=-40.0, lowest_level_dbfs=-40.0)),
            coded("Tin Roof", track(level_dbfs=-6.0)),
            coded("Third", track(edge_error=0.1), clipping={"runs": 900}),
        )),
        past_limit("0.1 dB lower", show(level(-40.0)), Expected(stem="LTC.wav", says=("−40.1",))),
        past_limit("0.1 dB hotter", show(level(-5.9)),
                   Expected(severity="note", stem="LTC.wav", value=-5.9)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


@pytest.mark.parametrize("rule_id", CASES)
def test_a_song_without_timecode_is_not_applicable_once(rule_id: str):
    audit = audit_with(rule_id, show(NONE_OF_IT, coded("Tin Roof")))
    assert audit.not_applicable == {rule_id: 1}


def test_very_many_jumps_are_told_in_part_and_counted():
    jumps = tuple(jump(JumpKind.FORWARD, at_s=float(n)) for n in range(MOST_TOLD + 3))
    told = findings("timecode-jump", show(coded("Night Ferry", track(jumps=jumps, jump_count=2000))))
    assert len(told) == MOST_TOLD + 1
    assert [f.message for f in told if "more jumps" in f.message] == [
        f"{2000 - MOST_TOLD} more jumps after these"
    ]


@pytest.mark.parametrize(
    ("frames", "rate", "words"),
    [
        (1, FPS_25, "1 frame"),
        (24, FPS_25, "24 frames"),
        (25, FPS_25, "1 s (25 frames)"),
        (90_000, FPS_25, "1 h (90\u00a0000 frames)"),
        (108_000 + 30 * 61, FPS_30, "1 h 1 min 1 s (109\u00a0830 frames)"),
        (40, FPS_30, "1.3 s (40 frames)"),
    ],
)
def test_many_frames_are_a_time(frames, rate, words):
    """Nobody counts 90 000 frames: a song that lies an hour off says so."""
    assert stretch_words(frames, rate) == words
