"""Readings worked into a profile: the forecast then says what the meter said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.errors import UsageError
from audit.load.calibrated import add_reading, callback_pct
from audit.load.demand import EngineSetup, SongLoad
from audit.load.figure import Provenance
from tests.load.machines import song, stems, strong

SETUP = EngineSetup()
LIGHT, MIDDLE, HEAVY, EXTRA = (song(stems(n), name=f"{n} stems") for n in (12, 40, 90, 60))


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


@pytest.mark.parametrize("frames", [64, 128, 512, 2048])
def test_a_reading_at_another_buffer_fits_the_earlier_ones(frames: int):
    """The player's own 0.8 ms a callback is 15.8 % of a core at 256 frames and 63 % at 64."""
    machine, other = strong(), EngineSetup(frames=frames)
    own_s, truth = 0.8e-3, {}
    for load in (LIGHT, MIDDLE, HEAVY):
        for setup in (SETUP, other):
            own_pct = 100.0 * own_s / setup.period_s / 0.95
            truth[load.name, setup] = own_pct + 1.3 * callback_pct(load, machine, setup)
    told = [(LIGHT, SETUP), (MIDDLE, SETUP), (HEAVY, SETUP), (LIGHT, other), (HEAVY, other)]
    for load, setup in told:
        machine, fit = add_reading(machine, load, setup, truth[load.name, setup])
    assert fit.factor == pytest.approx(1.3)
    assert fit.constant_pct == pytest.approx(100.0 * own_s / other.period_s / 0.95)
    assert fit.residuals_pct == pytest.approx([0.0] * 5, abs=1e-9)
    for load in (LIGHT, MIDDLE, HEAVY):
        for setup in (SETUP, other):
            assert callback_pct(load, machine, setup) == pytest.approx(truth[load.name, setup])
    assert [each.frames for each in machine.observed] == [256, 256, 256, frames, frames]


def test_readings_at_two_rates_fit_too():
    """44.1 kHz makes the callback's time longer, so the same own load is less of a core."""
    slower = EngineSetup(rate_hz=44100)
    machine, own_pct = strong(), 30.0
    for load, setup in ((LIGHT, SETUP), (MIDDLE, slower), (HEAVY, slower)):
        share = SETUP.period_s / setup.period_s
        reading = own_pct * share + callback_pct(load, strong(), setup)
        machine, fit = add_reading(machine, load, setup, reading)
    assert (fit.factor, fit.constant_pct) == (pytest.approx(1.0), pytest.approx(30.0 * 44100 / 48000))


@pytest.mark.parametrize(
    ("taken", "now"), [(128, 128), (256, 128), (256, 256), (256, 512), (512, 512), (64, 64)]
)
def test_readings_of_old_files_fit_those_at_whatever_buffer(taken: int, now: int):
    """They kept no buffer: it was the usual one, or the one that plays now."""
    machine, then, setup = strong(), EngineSetup(frames=taken), EngineSetup(frames=now)

    def reading(load: SongLoad, at: EngineSetup) -> float:
        return 100.0 * 0.9e-3 / at.period_s / 0.95 + 1.1 * callback_pct(load, strong(), at)

    for load in (LIGHT, MIDDLE, HEAVY):
        machine, _ = add_reading(machine, load, then, reading(load, then))
    bare = tuple(replace(each, frames=None, rate_hz=None) for each in machine.observed)
    made, fit = add_reading(
        replace(machine, observed=bare), EXTRA, setup, reading(EXTRA, setup), usual=EngineSetup()
    )
    assert [each.frames for each in made.observed] == [taken, taken, taken, now]
    assert fit.factor == pytest.approx(1.1)
    assert callback_pct(EXTRA, made, setup) == pytest.approx(reading(EXTRA, setup))
