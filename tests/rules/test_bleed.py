"""The rules on leaks: planted, clean, and on both sides of each limit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.facts import Role
from audit.results import Leak
from tests.evidence import findings, part, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted
from tests.rules.test_click import track

BASS = "Bass.wav"


def leak(relative_db: float | None = -40.0, level_dbfs: float = -45.0, **more: Any) -> Leak:
    fields = {"delay_ms": 0.0, "places": 60, **more}
    return Leak(level_dbfs=level_dbfs, relative_db=relative_db, best_at_s=2.5, **fields)


def leaking(*, counted: bool = True, **leaks: Leak) -> Any:
    """A song with a click, and a bass that holds the leaks."""
    bass = replace(part(Role.BASS), **leaks)
    stems = (stem("Click.wav", channels=1), stem(BASS, parts=[bass]))
    click = track() if counted else None
    return show(song("Night Ferry", *stems, click=click, click_stem="Click.wav" if counted else None))


def clicks(*given: Any, **more: Any) -> Any:
    return leaking(click_leak=leak(*given, **more))


def code(level_dbfs: float, **more: Any) -> Any:
    return leaking(timecode_leak=leak(-30.0, level_dbfs, **more))


SPILL: dict[str, Any] = {"delay_ms": 3.0, "spread": 0.3, "low_hz": 1000.0, "high_hz": 6000.0}

CASES: dict[str, tuple[Case, ...]] = {
    "click-bleed": (
        planted(
            "a send left open", clicks(-20.0, -28.0),
            Expected(stem=BASS, value=-20.0, at_s=2.5, severity="error",
                     says=("20 dB under the stem", "−28 dBFS"), advises=("click send", "Turn the PA")),
        ),
        planted(
            "quiet, alone in a rest", clicks(-50.0, -49.0, in_rest=True),
            Expected(stem=BASS, severity="error", says=("alone in its rests",), facts={"in_rest": True}),
        ),
        planted(
            "late", clicks(-20.0, -28.0, delay_ms=7.0),
            Expected(stem=BASS, says=("7.0 ms late",), value=-20.0),
        ),
        planted(
            "a headphone before the microphone", clicks(-30.0, **SPILL),
            Expected(stem=BASS, severity="warning", says=("headphone spill",), facts={"spill": True}),
        ),
        planted("a faint headphone is a note", clicks(-45.0, **SPILL), Expected(stem=BASS, severity="note")),
        clean("nothing", leaking()),
        clean("no click in the song", leaking(counted=False)),
        clean("no loudness to compare with", clicks(None)),
        at_limit("just under the warning", clicks(-55.1, -65.0)),
        past_limit("at the warning", clicks(-55.0, -65.0), Expected(stem=BASS, severity="warning")),
        past_limit("under the error", clicks(-35.1, -45.0), Expected(stem=BASS, severity="warning")),
        past_limit("at the error", clicks(-35.0, -45.0), Expected(stem=BASS, severity="error")),
        past_limit(
            "in a rest, too quiet for an error", clicks(-50.0, -50.1, in_rest=True),
            Expected(stem=BASS, severity="warning"),
        ),
        past_limit(
            "steady, so no headphone", clicks(-30.0, **{**SPILL, "spread": 0.09}),
            Expected(stem=BASS, severity="error"),
        ),
        past_limit(
            "too late for a headphone", clicks(-30.0, **{**SPILL, "delay_ms": 6.1}),
            Expected(stem=BASS, severity="error"),
        ),
    ),
    "timecode-bleed": (
        planted(
            "loud", code(-30.0),
            Expected(stem=BASS, value=-30.0, at_s=2.5, says=("−30 dBFS", "30 dB under the stem"),
                     advises=("Turn the PA",)),
        ),
        planted(
            "read by itself", leaking(timecode_leak=leak(None, -48.0, delay_ms=None)),
            Expected(stem=BASS, value=-48.0, says=("−48 dBFS (limit",)),
        ),
        clean("nothing", leaking()),
        at_limit("−60.1 dBFS", code(-60.1)),
        past_limit("−60 dBFS", code(-60.0), Expected(stem=BASS, value=-60.0)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_the_louder_of_two_parts_is_told():
    parts = [
        replace(part(Role.BASS, channels=(0,)), timecode_leak=leak(-30.0, -50.0)),
        replace(part(Role.PAD, channels=(1,)), timecode_leak=leak(-20.0, -40.0)),
    ]
    found = findings("timecode-bleed", show(song("Night Ferry", stem("Bass+Pad.wav", parts=parts))))
    assert [one.value for one in found] == [-40.0]


def test_the_limits_are_the_settings():
    from audit.rules.rule import Limit

    limits = {"timecode-bleed": Limit(value=-70.0, unit="dBFS")}
    found = findings("timecode-bleed", code(-65.0), limits=limits)
    assert [(one.value, one.limit) for one in found] == [(-65.0, -70.0)]
