"""comb-pair: one source in two stems of a song."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.results import CommonSource
from audit.rules.comb import are_two_sides
from tests.evidence import audit_with, findings, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

COPY = CommonSource(
    first="Bass DI.wav", second="Bass Amp.wav", lag_ms=2.0, lag_frames=96.0, likeness=0.95, coherence=0.97,
    turned_deg=3.0, level_db=-6.0, together_s=40.0,
)  # fmt: skip


def pair(*stems: StemEvidence, **odd: Any) -> ShowEvidence:
    """Two stems, by default bass and amplifier, with what was found between them."""
    heard = stems or (stem("Bass DI.wav"), stem("Bass Amp.wav"))
    found = replace(COPY, first=heard[0].name, second=heard[1].name, **odd)
    whole = song("Night Ferry", *heard, stem("Keys.wav"))
    return show(replace(whole, common_sources=(found,)))


def drums(**odd: Any) -> ShowEvidence:
    return pair(stem("Drums Snare.wav"), stem("Drums Overheads.wav"), **odd)


CASES: dict[str, tuple[Case, ...]] = {
    "comb-pair": (
        planted(
            "an amplifier 2 ms after its direct signal",
            pair(),
            Expected(
                stem="Bass Amp.wav",
                value=2.0,
                says=("Bass DI.wav", "2.00 ms (96 samples) after", "near 250 Hz", "6 dB quieter"),
                advises=("96 samples earlier",),
                facts={"level_db": -6.0, "opposed": False},
            ),
        ),
        planted(
            "the first one is the later one",
            pair(lag_ms=-0.5, lag_frames=-24.0),
            Expected(stem="Bass DI.wav", value=0.5, says=("Bass Amp.wav", "near 1000 Hz", "6 dB louder")),
        ),
        planted(
            "upside down",
            pair(lag_ms=0.0, lag_frames=0.0, turned_deg=178.0, level_db=0.0),
            Expected(
                stem="Bass Amp.wav", says=("upside down", "13 dB weaker", "as loud"), advises=("polarity",)
            ),
        ),
        planted(
            "late and upside down",
            pair(turned_deg=178.0),
            Expected(
                stem="Bass Amp.wav", value=2.0, says=("lose the bass", "near 500 Hz"), advises=("flip its",)
            ),
        ),
        planted(
            "filtered on its way, its phase turned",
            pair(likeness=0.75, turned_deg=90.0),
            Expected(stem="Bass Amp.wav", value=2.0),
        ),
        planted(
            "one recording of the drums twice",
            drums(likeness=0.98),
            Expected(stem="Drums Overheads.wav", value=2.0),
        ),
        planted(
            "one recording left and right",
            pair(stem("Gtr L.wav"), stem("Gtr R.wav"), likeness=0.98),
            Expected(stem="Gtr R.wav", value=2.0),
        ),
        clean("nothing in common", show(replace(song("S", stem("a.wav"), stem("b.wav")), common_sources=()))),
        clean("a copy without a lag adds up", pair(lag_ms=0.02, lag_frames=1.0)),
        clean("an amplifier in time", pair(lag_ms=0.02, lag_frames=1.0, turned_deg=100.0, likeness=0.8)),
        clean("an echo", pair(lag_ms=18.0, lag_frames=864.0)),
        clean("two sampled instruments on the same notes", pair(likeness=0.6, coherence=0.75)),
        clean("spill in overheads", drums(likeness=0.9, coherence=0.96)),
        clean("spill far below", pair(level_db=-20.0)),
        clean("two microphones of one piano", pair(stem("Piano L.wav"), stem("Piano R.wav"), likeness=0.9)),
        clean("a snare from below, most of it not the same", drums(
            lag_ms=0.0, lag_frames=0.0, turned_deg=178.0, likeness=0.7, level_db=-9.0)),
        clean("a click in two files", pair(stem("Click.wav"), stem("Click 2.wav"))),
        clean("one of them is silent", pair(stem("Bass.wav"), stem("Bass 2.wav", silent=True))),
        clean("two versions", pair(
            stem("Bass v1.wav", facts={"version": "v1", "version_key": "bass"}),
            stem("Bass v2.wav", facts={"version": "v2", "version_key": "bass"}))),
        at_limit("a lag of 0.09 ms", pair(lag_ms=0.09, lag_frames=4.3)),
        past_limit(
            "a lag of 0.1 ms", pair(lag_ms=0.1, lag_frames=4.8), Expected(stem="Bass Amp.wav", value=0.1)
        ),
        at_limit("0.69 alike", pair(likeness=0.69, coherence=0.8)),
        past_limit("0.7 alike", pair(likeness=0.7, coherence=0.8), Expected(stem="Bass Amp.wav", value=2.0)),
        at_limit("10.1 ms", pair(lag_ms=10.1, lag_frames=484.8)),
        past_limit("10 ms", pair(lag_ms=10.0, lag_frames=480.0), Expected(stem="Bass Amp.wav", value=10.0)),
        at_limit("microphones of one kit, 0.96 alike", drums(likeness=0.96)),
        past_limit("0.97", drums(likeness=0.97), Expected(stem="Drums Overheads.wav", value=2.0)),
        at_limit("a loss of less than 4 dB", pair(lag_ms=0.0, turned_deg=178.0, level_db=-9.5)),
        past_limit(
            "a loss of 4 dB", pair(lag_ms=0.0, turned_deg=178.0, level_db=-8.9), Expected(stem="Bass Amp.wav")
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_a_song_that_was_not_heard_together_is_not_judged():
    audit = audit_with("comb-pair", show(song("S", stem("a.wav"), stem("b.wav"))))
    assert audit.not_applicable == {"comb-pair": 1}
    assert findings("comb-pair", show(song("S", stem("Click.wav")))) == []


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Gtr L.wav", "Gtr R.wav"),
        ("OHL.wav", "OHR.wav"),
        ("Keys left.wav", "Keys right.wav"),
        ("04_L", "04_R"),
    ],
)
def test_two_halves_of_a_pair(first: str, second: str):
    assert are_two_sides(first, second)
    assert are_two_sides(second, first)


@pytest.mark.parametrize(
    ("first", "second"),
    [("Gtr 1.wav", "Gtr 2.wav"), ("Gtr L.wav", "Gtr L.wav"), ("Vocal L.wav", "Keys R.wav"),
     ("Bell.wav", "Ber.wav"), ("Gtr L.wav", "Gtr R 2.wav")],
)  # fmt: skip
def test_no_halves_of_a_pair(first: str, second: str):
    assert not are_two_sides(first, second)
