"""full-scale-noise: bytes in the wrong places, and samples that are no audio."""

from __future__ import annotations

from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.results import Reading, Scrambled
from tests.evidence import audit_with, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def scrambled(file: str, **fields: Any) -> StemEvidence:
    told = Scrambled(
        windows=100, reading=None, readable=0, even=0, first_at_frame=None, roughness=0.0, roughness_read=0.0
    )
    made = {name: fields.get(name, getattr(told, name)) for name in told.__slots__}
    return stem(file, audio={"scrambled": Scrambled(**made)})


def read_as(file: str, reading: Reading, readable: int, **more: Any) -> StemEvidence:
    return scrambled(
        file, reading=reading, readable=readable, first_at_frame=48_000, roughness=1.9, roughness_read=0.01,
        **more,
    )  # fmt: skip


CASES = {
    "full-scale-noise": (
        planted(
            "the wrong byte first",
            of(read_as("Keys.wav", Reading.REVERSED, 98), stem("Bass.wav")),
            Expected(
                severity="error", stem="Keys.wav", value=98.0, at_s=1.0,
                says=("only as bytes in reverse order", "98 %", "limit 5 %"),
                advises=("Do not play it", "turn everything"),
            ),
        ),
        planted(
            "one byte lost on the way",
            of(read_as("Pad.wav", Reading.SHIFTED, 40)),
            Expected(stem="Pad.wav", value=40.0, says=("bytes shifted",)),
        ),
        planted(
            "a click as well",
            of(read_as("Click.wav", Reading.FLOAT_32, 90)),
            Expected(stem="Click.wav", says=("32-bit float",)),
        ),
        planted(
            "random bytes",
            of(scrambled("Loop.wav", even=100, first_at_frame=0)),
            Expected(stem="Loop.wav", value=100.0, at_s=0.0, says=("no audio",), advises=("Do not play",)),
        ),
        clean("a healthy stem", of(stem("Bass.wav"), scrambled("Drums.wav"))),
        clean("a riser that is even for a moment", of(scrambled("FX.wav", even=4))),
        clean("silence", of(scrambled("Pad.wav", windows=0))),
        at_limit("two windows of a short file", of(read_as("Hit.wav", Reading.SHIFTED, 2, windows=4))),
        at_limit("5 % of it", of(read_as("Keys.wav", Reading.SHIFTED, 5))),
        at_limit("even in 49 %", of(scrambled("FX.wav", even=49))),
        past_limit("6 % of it", of(read_as("Keys.wav", Reading.SHIFTED, 6)),
                   Expected(stem="Keys.wav", value=6.0)),
        past_limit("even in 50 %", of(scrambled("FX.wav", even=50)), Expected(stem="FX.wav", value=50.0)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


def test_silence_does_not_raise_the_question():
    answer = audit_with("full-scale-noise", of(scrambled("Pad.wav", windows=0), stem("Keys.wav")))
    assert answer.not_applicable == {"full-scale-noise": 2}
