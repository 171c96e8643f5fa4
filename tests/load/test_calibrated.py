"""Readings worked into a profile: the forecast then says what the meter said."""

from __future__ import annotations

import pytest

from audit.errors import UsageError
from audit.load.calibrated import add_reading, callback_pct
from audit.load.demand import EngineSetup
from audit.load.figure import Provenance
from tests.load.machines import song, stems, strong

SETUP = EngineSetup()
LIGHT, MIDDLE, HEAVY = (song(stems(n), name=f"{n} stems") for n in (12, 40, 90))


def test_after_one_reading_the_forecast_is_the_reading():
    model = callback_pct(HEAVY, strong(), SETUP)
    made, fit = add_reading(strong(), HEAVY, SETUP, 1.25 * model)
    assert fit.factor == pytest.approx(1.25)
    assert callback_pct(HEAVY, made, SETUP) == pytest.approx(1.25 * model)
    assert made.callback_per_voice.provenance is Provenance.FITTED
    assert made.speed.value == pytest.approx(1 / 1.25)


def test_three_readings_give_the_players_own_load_too():
    """Readings made from 2 % + 1.2 · forecast come back as those, in whatever order they are told."""
    machine = strong()
    models = {load.name: callback_pct(load, machine, SETUP) for load in (LIGHT, MIDDLE, HEAVY)}
    for load in (MIDDLE, HEAVY, LIGHT):
        machine, fit = add_reading(machine, load, SETUP, 2.0 + 1.2 * models[load.name])
    assert (fit.factor, fit.constant_pct) == (pytest.approx(1.2), pytest.approx(2.0))
    for load in (LIGHT, MIDDLE, HEAVY):
        assert callback_pct(load, machine, SETUP) == pytest.approx(2.0 + 1.2 * models[load.name])


def test_a_song_read_again_replaces_its_reading():
    model = callback_pct(HEAVY, strong(), SETUP)
    made, _ = add_reading(strong(), HEAVY, SETUP, 1.25 * model)
    made, fit = add_reading(made, HEAVY, SETUP, 1.5 * model)
    assert len(made.observed) == 1
    assert fit.factor == pytest.approx(1.5)
    assert callback_pct(HEAVY, made, SETUP) == pytest.approx(1.5 * model)


def test_nonsense_leaves_the_profile_alone():
    model = callback_pct(HEAVY, strong(), SETUP)
    with pytest.raises(UsageError, match="times as loaded"):
        add_reading(strong(), HEAVY, SETUP, max(101.0, 6.0 * model))


def test_a_busy_players_reading_becomes_its_own_load():
    """What a player with a picture and a driver shows of a song that streams next to nothing."""
    machine = strong()
    light, heavy = (callback_pct(load, machine, SETUP) for load in (LIGHT, HEAVY))
    assert 5.0 * light < 35.0
    made, fit = add_reading(machine, LIGHT, SETUP, 35.0)
    assert (fit.factor, made.speed.value) == (1.0, machine.speed.value)
    assert callback_pct(LIGHT, made, SETUP) == pytest.approx(35.0)
    assert callback_pct(HEAVY, made, SETUP) == pytest.approx(35.0 - light + heavy)


def test_a_constant_is_not_scaled_when_a_later_reading_changes_the_factor():
    machine = strong()
    models = {load.name: callback_pct(load, machine, SETUP) for load in (LIGHT, MIDDLE, HEAVY)}
    for load in (LIGHT, MIDDLE, HEAVY):
        machine, fit = add_reading(machine, load, SETUP, 30.0 + 1.5 * models[load.name])
    assert (fit.factor, fit.constant_pct) == (pytest.approx(1.5), pytest.approx(30.0))
    for load in (LIGHT, MIDDLE, HEAVY):
        assert callback_pct(load, machine, SETUP) == pytest.approx(30.0 + 1.5 * models[load.name])
