"""offset-from-click, drift-from-click, wrong-rate-header: what is asked before a stem is accused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import Against, Alignment, Drift, Phase, WrongRate
from audit.rules.alignment import drift_from_click, offset_from_click
from audit.rules.customs import habit
from audit.rules.rule import Limit
from tests.evidence import audit_with, findings, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted

BAND = ("Drums.wav", "Bass.wav", "Guitar.wav", "Keys.wav")


def band(name: str, offsets: dict[str, float] | None = None, **phase: Any) -> SongEvidence:
    """A song whose stems lie at these offsets (ms), 0 unless told; `phase` changes that of the moved
    stems."""
    moved = offsets or {}
    at = {file: moved.get(file, 0.0) for file in (*BAND, *moved)}
    stems = []
    for file, offset in at.items():
        rest = sorted(value for other, value in at.items() if other != file)
        middle = rest[len(rest) // 2]
        against = tuple(
            Against(stem=other, lag_ms=offset - value, meetings=60)
            for other, value in at.items()
            if other != file
        )
        made = Phase(
            offset_ms=offset,
            from_others_ms=offset - middle,
            iqr_ms=3.0,
            onsets=80,
            share=1.0,
            confidence=1.0,
            against=against,
        )
        if file in moved:
            made = replace(made, **phase)
        place = Alignment(phase=made, drift=None, wrong_rate=None)
        stems.append(replace(stem(file), alignment=place))
    return song(name, stem("Click.wav"), *stems)


def tour(*songs: SongEvidence, others: int = 4) -> ShowEvidence:
    """The songs among others in which nothing is off."""
    return show(*songs, *(band(f"Other {number}") for number in range(others)))


def sliding(
    file: str, ppm: float, *, error: float = 5.0, seconds: float = 240.0, **more: Any
) -> StemEvidence:
    drift = Drift(
        ppm=ppm, low_ppm=ppm - 1.96 * error, high_ppm=ppm + 1.96 * error, first_half_ppm=ppm,
        second_half_ppm=ppm, slide_ms=ppm * seconds / 1000.0, onsets=200,
    )  # fmt: skip
    return replace(stem(file), alignment=Alignment(phase=None, drift=replace(drift, **more), wrong_rate=None))


def steady(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", sliding("Guitar.wav", 2.0), sliding("Keys.wav", -3.0), *stems))


def wrong(file: str, ratio: float, onsets: int = 90) -> StemEvidence:
    found = WrongRate(ratio=ratio, fit=0.93, fit_as_is=0.31, onsets=onsets)
    return replace(stem(file), alignment=Alignment(phase=None, drift=None, wrong_rate=found))


CASES = {
    "offset-from-click": (
        planted(
            "drums 14 ms late",
            tour(band("Night Ferry", {"Drums.wav": 14.0})),
            Expected(
                stem="Drums.wav", value=14.0, says=("late by 14.0 ms (672 samples)", "limit 10 ms"),
                advises=("Move it 672 samples (14.0 ms) earlier", "bar 1"),
            ),
        ),
        planted(
            "a guitar 60 ms early, which listening has to place",
            tour(band("Night Ferry", {"Guitar.wav": -60.0})),
            Expected(stem="Guitar.wav", value=-60.0, says=("early by 60.0 ms",), advises=("later",
            "eighths")), ),
        planted(
            "drums, with no other song to compare",
            tour(band("Night Ferry", {"Drums.wav": 26.0}), others=0),
            Expected(stem="Drums.wav", value=26.0, says=("limit 20 ms",)),
        ),
        planted(
            "a bass, with no other song to compare",
            tour(band("Night Ferry", {"Bass.wav": 55.0}), others=0),
            Expected(severity="warning", stem="Bass.wav", value=55.0),
        ),
        planted(
            "nearly at the limit",
            tour(band("Night Ferry", {"Drums.wav": 9.0})),
            Expected(severity="warning", stem="Drums.wav", value=9.0),
        ),
        planted(
            "all stems late",
            tour(band("Night Ferry", dict.fromkeys(BAND, 90.0))),
            Expected(severity="warning", says=("all 4 stems", "+90.0 ms", "the click or all stems")),
        ),
        planted(
            "all stems a little late: told, not blamed",
            tour(band("Night Ferry", dict.fromkeys(BAND, 40.0))),
            Expected(severity="note", says=("all 4 stems",)),
        ),
        clean("a band in time", tour(band("Night Ferry"))),
        clean("a bass that lies back 15 ms", tour(band("Night Ferry", {"Bass.wav": 15.0}, iqr_ms=8.0))),
        clean(
            "a bass that lies back in every song",
            show(*(band(f"Song {number}", {"Bass.wav": 22.0}) for number in range(6))),
        ),
        clean("a singer 25 ms behind", tour(band("Night Ferry", {"Lead Vocal.wav": 25.0}))),
        clean("too few onsets", tour(band("Night Ferry", {"Drums.wav": 40.0}, onsets=29))),
        clean("onsets that spread over more than the offset",
              tour(band("Night Ferry", {"Drums.wav": 14.0}, iqr_ms=15.0))),
        clean("nobody to compare with", tour(band("Night Ferry", {"Drums.wav": 40.0}, against=()))),
        clean("on the click, beside others that are not",
              tour(band("Night Ferry", {"Drums.wav": 14.0}, offset_ms=0.5))),
        clean("no click", show(song("Night Ferry", stem("Drums.wav"), stem("Bass.wav")))),
        at_limit("7.5 ms, the least that is spoken of", tour(band("Night Ferry", {"Drums.wav": 7.5}))),
        past_limit(
            "10.1 ms",
            tour(band("Night Ferry", {"Drums.wav": 10.1})),
            Expected(severity="error", stem="Drums.wav", value=10.1),
        ),
    ),
    "drift-from-click": (
        planted(
            "200 ppm slow",
            steady(sliding("Drums.wav", 200.0)),
            Expected(
                stem="Drums.wav", value=200.0, says=("+200 ppm", "+12.0 ms a minute", "+48 ms over the song"),
                advises=("−200 ppm",),
            ),
        ),
        planted("1000 ppm fast", steady(sliding("Bass.wav", -1000.0)), Expected(stem="Bass.wav",
        value=-1000.0)),
        planted(
            "about the limit",
            steady(sliding("Drums.wav", 50.0)),
            Expected(severity="warning", stem="Drums.wav", value=50.0),
        ),
        planted(
            "everything against the click",
            show(song("Night Ferry", *(sliding(file, 300.0) for file in BAND))),
            Expected(severity="warning", value=300.0, says=("all 4 stems", "the click or all stems")),
        ),
        clean("a clock that is 20 ppm off", steady(sliding("Drums.wav", 20.0))),
        clean("a slope that is hardly known", steady(sliding("Drums.wav", 200.0, error=100.0))),
        clean("a short slide", steady(sliding("Drums.wav", 200.0, seconds=45.0))),
        clean("a player who speeds up and slows down",
              steady(sliding("Drums.wav", 200.0, first_half_ppm=-300.0))),
        clean("nobody keeps to the click", show(song("Night Ferry", sliding("Drums.wav", 200.0),
        stem("Bass.wav")))),
        clean("no click", show(song("Night Ferry", stem("Drums.wav")))),
        at_limit("39 ppm: under what is spoken of", steady(sliding("Drums.wav", 39.0, seconds=400.0))),
        past_limit(
            "a lower bound just past 50 ppm",
            steady(sliding("Drums.wav", 60.0)),
            Expected(severity="error", stem="Drums.wav", value=60.0),
        ),
    ),
    "wrong-rate-header": (
        planted(
            "44.1 kHz audio said to be 48 kHz",
            show(song("Night Ferry", wrong("Keys.wav", 160 / 147))),
            Expected(stem="Keys.wav", says=("44.1 kHz audio under a 48 kHz header", "1.0884")),
        ),
        planted(
            "48 kHz audio said to be 96 kHz",
            show(song("Night Ferry", wrong("Drums.wav", 2.0))),
            Expected(stem="Drums.wav", says=("half the rate",)),
        ),
        clean("a band in time", tour(band("Night Ferry"))),
        clean("no click", show(song("Night Ferry", stem("Drums.wav")))),
        at_limit("29 onsets", show(song("Night Ferry", wrong("Keys.wav", 160 / 147, onsets=29)))),
        past_limit(
            "30 onsets",
            show(song("Night Ferry", wrong("Keys.wav", 160 / 147, onsets=30))),
            Expected(stem="Keys.wav", value=30.0),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


@pytest.mark.parametrize("offset_ms", [-40.0, -12.0, 12.0, 40.0])
def test_the_cure_undoes_the_offset(offset_ms: float):
    (found,) = findings("offset-from-click", tour(band("Night Ferry", {"Drums.wav": offset_ms})))
    assert found.measured["samples"] == round(abs(offset_ms) * 48)
    assert ("earlier" in found.advice) == (offset_ms > 0)
    assert ("late" in found.message.split()[0]) == (offset_ms > 0)


def test_the_habit_leaves_out_the_song_itself():
    whole = tour(band("Night Ferry", {"Drums.wav": 14.0}))
    usual = habit(whole, Role.DRUMS, without="Night Ferry")
    assert usual is not None
    assert (usual.usual_ms, usual.songs) == (0.0, 4)


def test_roles_that_speak_alike_lend_their_habit():
    """Percussion in one song only: drums in the others tell."""
    whole = tour(band("Night Ferry", {"Perc.wav": 14.0}))
    (found,) = findings("offset-from-click", whole)
    assert (found.stem, found.limit) == ("Perc.wav", 10.0)
    assert habit(whole, Role.BRASS, without="Night Ferry") is None


def test_one_late_stem_does_not_make_the_others_early():
    """In a song of three stems each of the others lies off from two that agree by chance."""
    audit = audit_with(offset_from_click, tour(band("Night Ferry", {"Drums.wav": 30.0, "Perc.wav": -12.0})))
    assert [finding.stem for finding in audit.all_findings()] == ["Drums.wav"]


def test_a_song_without_click_is_not_applicable():
    audit = audit_with(offset_from_click, show(song("Night Ferry", stem("Drums.wav"))))
    assert audit.not_applicable == {"offset-from-click": 1}


def test_the_text_of_drift_holds_for_any_limit():
    """One part per million of a minute, 60 000 ms, is 0.06 ms by arithmetic."""
    text = drift_from_click.text(drift_from_click.means, Limit(value=20.0, unit="ppm", more={"slide": 10.0}))
    assert "20 ppm" in text
    assert "1 ppm is 0.06 ms a minute" in text
    assert "3 ms" not in text
