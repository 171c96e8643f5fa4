"""drift-from-click of stems that keep to another tempo than their song's click and other stems."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Finding
from audit.results import Alignment, Elsewhere, Pulse, RhythmFit
from audit.rules.own_tempo import FEWEST, FIT, NEAR, tempo_of_its_own
from tests.evidence import find_rule, findings, show, song, stem
from tests.rules.test_alignment import CLICK, band

PULSE = Pulse(per_beat=2.04, fit=0.95, on_click=0.1, onsets=200, harmony=0.1, turns=(0.1, 0.3))


def at_tempo(file: str, ratio: float = 1.02, **more: Any) -> StemEvidence:
    pulse = replace(PULSE, per_beat=2.0 * ratio, **more)
    place = Alignment(phase=None, drift=None, wrong_rate=None, own_pulse=pulse)
    return replace(stem(file), alignment=place)


def playing(*odd: StemEvidence, name: str = "Night Ferry") -> SongEvidence:
    """The odd ones, with drums, bass, guitar and keys on the click."""
    made = band(name)
    names = {one.name for one in odd}
    kept = tuple(one for one in made.stems if one.name not in names)
    return replace(made, stems=(*kept, *odd), click=CLICK)


def told(*odd: StemEvidence) -> list[Finding]:
    return findings("drift-from-click", show(playing(*odd)))


def test_drums_of_another_tempo():
    (one,) = told(at_tempo("Drums.wav"))
    assert (one.severity.value, one.stem) == ("error", "Drums.wav")
    assert one.value == pytest.approx((1.0 / 1.02 - 1.0) * 1e6)
    assert one.message == (
        "keeps to 122.4 beats a minute or a multiple of it, the click, with Bass.wav, Guitar.wav, Keys.wav, "
        "to 120.0: it was made at another tempo"
    )
    assert one.advice == "Bounce it again from bar 1 of the current version, at the click's tempo."


@pytest.mark.parametrize(
    ("odd", "severity"),
    [
        (at_tempo("Drums.wav", 0.72), "error"),
        (at_tempo("Drums.wav", 1.34), "error"),
        (at_tempo("Loop.wav", 0.96), "warning"),  # it may hold a clock
        (at_tempo("Percussion.wav", 0.96), "warning"),
        (at_tempo("Bass.wav", 0.96), "error"),
        (at_tempo("Drums.wav", harmony=None, turns=None), "error"),
        (at_tempo("Bass.wav", turns=(0.2, 0.21)), "error"),
        (at_tempo("Guitar.wav", 1.0099, harmony=None, turns=None), "warning"),
        (at_tempo("Guitar.wav", 1.0099), "error"),
        (at_tempo("Guitar.wav", harmony=None, turns=(0.2, 0.31)), "error"),
        (at_tempo("Guitar.wav", harmony=None, turns=(0.01, 0.11)), "error"),
        (at_tempo("Keys.wav", fit=0.74), "warning"),
        (at_tempo("Drums.wav", fit=0.74, onsets=40), "warning"),
        (at_tempo("Synth.wav"), "warning"),
        (at_tempo("Strings.wav", onsets=FEWEST), "warning"),
    ],
)
def test_what_is_an_error(odd: StemEvidence, severity: str):
    assert [(one.stem, one.severity.value) for one in told(odd)] == [(odd.name, severity)]


@pytest.mark.parametrize(
    "odd",
    [
        pytest.param(at_tempo("Drums.wav", 1.0024), id="what slides"),
        pytest.param(at_tempo("Drums.wav", 0.69), id="far"),
        pytest.param(
            at_tempo("Bass.wav", 1.0 + NEAR + 0.001), id="a bass, farther than another tempo of a song"
        ),
        pytest.param(at_tempo("Synth.wav", onsets=FEWEST - 1), id="few notes"),
        pytest.param(at_tempo("Synth.wav", fit=FIT - 0.01), id="unsure"),
        pytest.param(at_tempo("Guitar.wav", harmony=None, turns=None), id="a tremolo, for all that is known"),
        pytest.param(at_tempo("Bass.wav", harmony=0.0, turns=None), id="a wobble on one note fits nobody"),
        pytest.param(at_tempo("Bass.wav", turns=(0.2, 0.19)), id="its chords turn on the click rather"),
        pytest.param(at_tempo("Percussion.wav", 1.2), id="a heart"),
        pytest.param(
            at_tempo("Guitar.wav", harmony=None, turns=(0.2, 0.29)), id="its chords turn on the click"
        ),
        pytest.param(at_tempo("Guitar.wav", harmony=None, turns=(0.01, 0.09)), id="or never"),
        pytest.param(
            at_tempo("Guitar.wav", 1.0101, harmony=None, turns=None), id="hardly off, and a little more"
        ),
        pytest.param(at_tempo("FX.wav"), id="effects have clocks of their own"),
        pytest.param(replace(at_tempo("Drums.wav"), alignment=None), id="nothing to tell by"),
    ],
)
def test_what_is_not_told(odd: StemEvidence):
    assert not told(odd)
    assert tempo_of_its_own(odd) is None


def test_two_stems_of_another_tempo_are_two_faults():
    found = told(at_tempo("Drums.wav"), at_tempo("Bass.wav", 0.95))
    assert [one.stem for one in found] == ["Bass.wav", "Drums.wav"]


def test_where_most_stems_have_it_nobody_knows_which_tempo_is_the_current_one():
    (one,) = told(*(at_tempo(f"{name}.wav") for name in ("Drums", "Bass", "Guitar")))
    assert (one.severity.value, one.stem) == ("warning", None)
    assert one.message == (
        "two tempi: 3 stems keep to 122.4 beats a minute or a multiple of it (Drums.wav, Bass.wav, "
        "Guitar.wav), the click and Keys.wav to 120.0"
    )


def test_half_of_the_stems_are_no_majority():
    found = told(at_tempo("Drums.wav"), at_tempo("Bass.wav", 1.0205))
    assert [one.stem for one in found] == ["Bass.wav", "Drums.wav"]


def test_three_tempi_are_no_camp():
    found = told(at_tempo("Drums.wav"), at_tempo("Bass.wav", 0.96), at_tempo("Keys.wav", 1.06))
    assert [one.stem for one in found] == ["Bass.wav", "Drums.wav", "Keys.wav"]


def test_who_belongs_to_another_song_is_told_so_alone():
    good = RhythmFit(fit=0.9, first_half=0.9, second_half=0.9, onsets=200)
    poor = RhythmFit(fit=0.1, first_half=0.1, second_half=0.1, onsets=200)
    strange = replace(
        at_tempo("Drums.wav"), rhythm=poor, elsewhere=(Elsewhere(song="Tin Roof", key=None, rhythm=good),)
    )
    home = playing(strange)
    home = replace(
        home,
        stems=tuple(replace(one, rhythm=good) if one is not strange else one for one in home.stems),
    )
    evidence: ShowEvidence = show(home, song("Tin Roof", stem("Bass.wav"), stem("Pad.wav")))
    assert [one.stem for one in findings("foreign-stem", evidence)] == ["Drums.wav"]
    assert not findings("drift-from-click", evidence)


def test_what_may_be_an_effect_is_listened_to_first():
    (one,) = told(at_tempo("Guitar.wav", 1.0099, harmony=None, turns=None))
    assert one.advice.startswith("Listen to it with the click. If an effect, a tremolo or a recorded clock")


def test_a_limit_of_the_settings_holds_for_it_too():
    limit = find_rule("drift-from-click").limit
    assert limit is not None
    evidence = show(playing(at_tempo("Drums.wav")))
    for value, expected in ((19_000.0, 1), (20_000.0, 0)):  # 1/1.02 is 19 608 ppm
        limits = {"drift-from-click": replace(limit, value=value)}
        assert len(findings("drift-from-click", evidence, limits=limits)) == expected
