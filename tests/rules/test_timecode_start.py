"""Timecode against the numbers that the settings name.

Drop-frame numbers at 29.97: the first two of each minute are left out, but for each tenth minute, so that
01:00:59;29 is followed by 01:01:00;02 (IEC 60461:2010 / SMPTE ST 12-1, drop-frame counting).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import SongEvidence
from audit.results import TimecodeTrack
from audit.timecode import FPS_29_97_DROP, FPS_30
from tests.evidence import show
from tests.rules.asked import asked, of_song
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted
from tests.rules.test_click import track as click_track
from tests.rules.timecode_tracks import coded, label, ltc, track


def entry(
    found: TimecodeTrack | None = None, *, start: str | None = None, bar_1: str | None = None
) -> SongEvidence:
    song = coded("Night Ferry", found)
    said: dict[str, Any] = {}
    if start is not None:
        said["timecode_start"] = label(start)
    if bar_1 is not None:
        said["timecode_at_beat_1"] = label(bar_1)
    # The click begins at 0.5 s and counts four beats at 120: bar 1 is at 2.5 s, frame 62.5 at 25.
    return of_song(replace(song, click=click_track(), click_stem="Click.wav"), **said)


CASES: dict[str, tuple[Case, ...]] = {
    "timecode-start": (
        planted(
            "an hour off",
            asked(entry(start="02:00:00:00")),
            Expected(
                stem="LTC.wav", value=-90000.0, at_s=0.0,
                says=("starts at 01:00:00:00", "say 02:00:00:00", "1 h (90\u00a0000 frames) earlier"),
            ),
        ),
        planted(
            "a second late at bar 1",
            asked(entry(bar_1="01:00:01:12")),
            Expected(
                stem="LTC.wav", value=25.5, within=0.01, at_s=2.5,
                says=("at bar 1 (0:02.500)", "says 01:00:02:12", "say 01:00:01:12", "later"),
            ),
        ),
        planted(
            "over midnight the short way round",
            asked(entry(track("23:59:59:20"), start="00:00:00:05")),
            Expected(stem="LTC.wav", value=-10.0, says=("10 frames earlier",)),
        ),
        clean("as the settings say", asked(entry(start="01:00:00:00", bar_1="01:00:02:12"))),
        clean("no settings", show(coded("Night Ferry"))),
        clean(
            "drop-frame: a minute later is two numbers more",
            asked(entry(track("01:00:59;29", rate=FPS_29_97_DROP), start="01:00:59;29")),
        ),
        at_limit("half a frame at bar 1", asked(entry(bar_1="01:00:02:12"))),
        at_limit("a hair under a frame at bar 1", asked(entry(track(at_s=0.019), bar_1="01:00:02:13"))),
        past_limit(
            "one frame at the start",
            asked(entry(start="01:00:00:01")),
            Expected(stem="LTC.wav", value=-1.0, says=("1 frame earlier",)),
        ),
        past_limit(
            "one frame in drop-frame counting, over the numbers that are left out",
            asked(entry(track("01:01:00;02", rate=FPS_29_97_DROP), start="01:00:59;29")),
            Expected(stem="LTC.wav", value=1.0, says=("1 frame later",)),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_numbers_that_the_code_does_not_count_are_compared_all_the_same():
    """01:00:00:29 does not exist at 25 frames: the song's rate is told by timecode-rate."""
    night = asked(of_song(coded("Night Ferry"), timecode_start=label("01:00:00:29"), frame_rate=FPS_30))
    case = planted("x", night, Expected(stem="LTC.wav", value=-29.0))
    check("timecode-start", case)


def test_unreadable_code_is_another_rules():
    silent = of_song(coded("Night Ferry"), timecode_start=label("01:00:00:00"))
    check("timecode-start", clean("x", asked(replace(silent, stems=(ltc(None),)))))
