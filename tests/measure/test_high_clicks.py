"""Wrong samples under loud sound that leaves the top of the band empty, and what looks like them up there."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.linalg
import scipy.optimize
import scipy.signal

from audit.measure import high_clicks, high_clicks_kernel, low_clicks_kernel
from audit.measure.damage import DamageMeter
from audit.measure.high_clicks import HighClickFinder
from audit.measure.low_clicks import SCORE, SPAN
from tests import signals
from tests.measure.feeding import fed

RATE_HZ = 48_000
AT = 120_007


def shakers(rate_hz: int = RATE_HZ, seconds: float = 5.0, *, top: float = 3e-4) -> np.ndarray:
    """Noise from the lowest frequencies to 17 kHz, little above; shape (frames,)."""
    frames = round(seconds * rate_hz)
    random = np.random.default_rng(5)
    band = scipy.signal.butter(8, 0.354 * rate_hz, fs=rate_hz, output="sos")
    noise = scipy.signal.sosfilt(band, random.normal(size=frames))
    swell = 1.0 + 0.3 * np.sin(2 * np.pi * 0.7 * np.arange(frames) / rate_hz)
    return np.asarray(0.1 * noise * swell + top * random.normal(size=frames))


def clicks_of(wave: np.ndarray, rate_hz: int = RATE_HZ, block: int = 7000):
    take = signals.quantise(wave.astype(np.float32)[:, None], 24)
    return fed(DamageMeter(rate_hz, 1, bits=24, is_float=False), take, block).result().clicks


def with_click(size: float) -> np.ndarray:
    broken = shakers()
    broken[AT] += size
    return broken


@pytest.mark.parametrize("size", [0.1, -0.1, 0.05])
def test_a_wrong_sample_no_larger_than_the_noise_is_found(size: float):
    (found,) = clicks_of(with_click(size))
    assert abs(found.at_frame - AT) <= 1
    assert found.size_dbfs == pytest.approx(20 * np.log10(abs(size)), abs=0.3)


def test_the_whole_band_and_the_low_one_do_not_find_it(monkeypatch):
    monkeypatch.setattr(HighClickFinder, "look", lambda *_: None)
    assert clicks_of(with_click(0.1)) == ()


def test_the_same_noise_without_it_is_silent():
    assert clicks_of(shakers()) == ()


def cut_tom() -> np.ndarray:
    """A tom under the shakers that ends at a tenth of full scale, as a sampler cuts it."""
    wave = shakers(top=1e-3)
    since_s = np.arange(AT) / RATE_HZ
    begin = AT - 6000
    tom = (
        0.5
        * np.exp(-(since_s[begin:] - since_s[begin]) / 0.08)
        * np.cos(2 * np.pi * 110.0 * (since_s[begin:] - since_s[AT - 1]))
    )
    wave[begin:AT] += tom * np.minimum(np.arange(6000) / 200.0, 1.0)
    return wave


def test_a_cut_sound_jumps_and_is_no_wrong_sample(monkeypatch):
    """In the top band it is one, of half the jump; the low band, or a step's own shape, says what it is."""
    assert clicks_of(cut_tom()) == ()
    monkeypatch.setattr(HighClickFinder, "_is_sample", lambda *_: True)
    monkeypatch.setattr(HighClickFinder, "_shows_below", lambda *_: True)
    assert [abs(click.at_frame - AT) <= 1 for click in clicks_of(cut_tom())] == [True]


@pytest.mark.parametrize("rate_hz", [44_100, 88_200, 96_000])
def test_other_rates(rate_hz: int):
    broken = shakers(rate_hz, 3.0)
    at = rate_hz + 77
    broken[at] += 0.1
    assert [abs(click.at_frame - at) <= 1 for click in clicks_of(broken, rate_hz)] == [True]
    assert clicks_of(shakers(rate_hz, 3.0), rate_hz) == ()


@pytest.mark.parametrize("block", [4096, 5000, 240_000])
def test_blocks_make_no_difference(block: int):
    broken = shakers()
    broken[[AT, 32_768, 65_535]] += np.array([0.08, 0.09, 0.1])
    found = clicks_of(broken, block=block)
    assert found == clicks_of(broken)
    assert [click.at_frame for click in found] == pytest.approx([32_768, 65_535, AT], abs=1)


def test_half_as_loud_is_the_same_place_and_six_decibels_less():
    loud, soft = clicks_of(with_click(0.1))[0], clicks_of(0.5 * with_click(0.1))[0]
    assert loud.at_frame == soft.at_frame
    assert loud.size_dbfs - soft.size_dbfs == pytest.approx(6.02, abs=0.2)


@pytest.mark.parametrize(("number", "is_told"), [(4, True), (5, False)])
def test_where_the_whole_band_jolts_all_the_time_it_is_the_sound(number: int, is_told: bool):
    finder = HighClickFinder(RATE_HZ)
    wave = with_click(0.1).astype(np.float32)
    for start in range(8192, len(wave) - 16_384, 8192):
        finder.look(wave[start - 4096 : start + 12_288], 4096, 12_288, start - 4096)
    (click,) = finder.clicks()
    jolts = [(click.at_frame + 30_001 * k, 0.06) for k in range(-2, number - 2)]
    assert bool(finder.clicks(jolts)) == is_told
    assert finder.clicks([(frame, 0.04) for frame, _ in jolts] * 2)  # all are less than half as high
    assert finder.clicks([(frame + 600_000, size) for frame, size in jolts])


@pytest.mark.parametrize(("still", "is_still"), [(0.015, False), (0.03, True)])
def test_what_stands_still_between_its_steps_is_not_judged(still: float, is_still: bool):
    wave = shakers().astype(np.float32)
    same = np.random.default_rng(2).choice(np.arange(AT - 960, AT + 960), round(still * 1920), replace=False)
    for frame in sorted(same.tolist()):
        wave[frame] = wave[frame - 1]
    assert HighClickFinder(RATE_HZ)._stands_still(wave, AT) == is_still


@pytest.mark.parametrize(("size", "is_worth_it"), [(0.0, False), (4.8, False), (5.2, True)])
def test_only_what_stands_out_at_a_glance_is_looked_at(size: float, is_worth_it: bool):
    thin = np.tile(np.array([1.0, -1.0], np.float32), 3 * 64)
    thin[200] = size
    assert HighClickFinder(RATE_HZ)._is_worth_it(thin) == is_worth_it


@pytest.mark.parametrize(("kind", "low", "high"), [("sample", 4.0, 1e6), ("step", 0.0, 1.0)])
def test_a_step_and_a_wrong_sample_are_told_apart(kind: str, low: float, high: float):
    """Second implementation: scipy's solver for the models and its filter for the residual."""
    wave = shakers()[AT - 1600 : AT + 1601].astype(np.float64)
    wave[1600 if kind == "sample" else slice(1600, None)] += 0.1
    found = high_clicks_kernel.sample_or_step(wave, 1600, 1440, 0.8)
    assert low <= found <= high
    ratios = []
    for piece in (wave, wave[::-1]):
        side = piece[1600 - 1443 : 1597]
        shaped = side * np.sin(np.pi * (np.arange(1440) + 0.5) / 1440) ** 2
        lags = np.correlate(shaped, shaped, "full")[1439 : 1439 + 65]
        lags[0] *= 1.0 + 1e-9
        model = np.concatenate(([1.0], -scipy.linalg.solve_toeplitz(lags[:-1], lags[1:])))
        residual = scipy.signal.lfilter(model, 1.0, piece)
        spread = np.median(np.abs(scipy.signal.lfilter(model, 1.0, side)[64:])) / 0.6745
        e = residual[1599 : 1602 + 64]
        sample = np.concatenate((model, np.zeros(3)))
        left = [
            min(
                np.linalg.lstsq(moved[:, None], e, rcond=None)[1][0]
                for moved in (np.concatenate((np.zeros(k), shape))[: len(e)] for k in range(3))
            )
            for shape in (sample, np.cumsum(sample))
        ]
        ratios.append(left[1] / max(left[0], 0.8 * len(e) * spread**2))
    assert found == pytest.approx(min(ratios), rel=0.02)


@pytest.mark.parametrize(("size", "told"), [(0.1, 0.1), (0.1, 0.05), (-0.1, 0.1)])
def test_the_low_band_says_how_large_a_wrong_sample_is(size: float, told: float):
    finder = HighClickFinder(RATE_HZ)
    wave = (0.001 * shakers()).astype(np.float32)
    wave[AT] += size
    thin = np.zeros(2 * 173 + 1, np.float32)
    low_clicks_kernel.thinned(wave[AT - 173 * 8 - 64 :], finder._taps, 8, thin)
    fit, stands_out = high_clicks_kernel.size_below(thin.astype(np.float64), 173, 160, finder._shape, told)
    assert fit == pytest.approx(size / told, rel=0.02)
    assert stands_out > 50.0


@pytest.mark.parametrize(
    ("noise", "fit", "is_shown"),
    [
        (1e-6, 0.94, False), (1e-6, 0.96, True), (1e-6, 1.04, True), (1e-6, 1.06, False),
        (0.01, 0.90, False), (0.01, 0.93, True), (0.01, 1.13, True), (0.01, 1.17, False),
        (0.03, 0.86, False), (0.03, 0.88, True), (0.03, 1.38, True), (0.03, 1.44, False),
    ],
)  # fmt: skip
def test_the_low_band_may_differ_by_a_twentieth_and_by_its_errors(noise: float, fit: float, is_shown: bool):
    wave = (noise * shakers()).astype(np.float32)
    wave[AT] += 0.1
    assert HighClickFinder(RATE_HZ)._shows_below(wave, AT, 0.1 / fit) == is_shown


@pytest.mark.parametrize(
    ("changed", "is_fault"),
    [
        ({}, True),
        ({"BEFORE": 16.0}, True),
        ({"BEFORE": 15.9}, False),
        ({"AFTER": 15.9}, False),
        ({"REST_BEFORE": 4.4}, True),
        ({"REST_BEFORE": 4.6}, False),
        ({"REST_AFTER": 4.6}, False),
        ({"OTHER": 24.9}, True),
        ({"OTHER": 25.1}, False),
        ({"SIZE": 0.103}, True),
        ({"SIZE": 0.109}, False),
    ],
)
def test_its_bounds(changed: dict[str, float], is_fault: bool):
    """A wrong sample of 0.1, a hundred times its band's residual, but for what is changed."""
    kernel = low_clicks_kernel
    answer = np.zeros(9)
    usual = {
        "BEFORE": 100.0,
        "AFTER": 100.0,
        "REST_BEFORE": 1.0,
        "REST_AFTER": 1.0,
        "SIZE": 0.1,
        "AGREE": 1.0,
    }
    for name, value in {**usual, **changed}.items():
        answer[getattr(kernel, name)] = value
    assert HighClickFinder(RATE_HZ)._is_fault(answer, with_click(0.1).astype(np.float32), AT) == is_fault


@pytest.mark.parametrize(("change_db", "is_fault"), [(-8.2, False), (-7.8, True), (3.8, True), (4.2, False)])
def test_sound_that_falls_or_rises_at_the_place_is_not_judged(change_db: float, is_fault: bool):
    finder = HighClickFinder(RATE_HZ)
    wave = (1e-3 * shakers()).astype(np.float32)  # so little that the size of the click is sure
    wave[AT + 8 :] *= 10 ** ((change_db - finder._change_db(wave, AT)) / 20)
    assert finder._change_db(wave, AT) == pytest.approx(change_db, abs=0.05)
    wave[AT] += 0.1
    answer = np.zeros(9)
    answer[[low_clicks_kernel.BEFORE, low_clicks_kernel.AFTER]] = 100.0
    answer[low_clicks_kernel.SIZE] = 0.1
    assert finder._is_fault(answer, wave, AT) == is_fault


@pytest.mark.parametrize(("left", "is_judged"), [(2.45, True), (2.55, False)])
def test_a_place_that_leaves_more_beside_the_click_than_its_like_is_none(left: float, is_judged: bool):
    """Beside the click, noise of its own strength until that much is left on the side that leaves less."""
    finder, random = HighClickFinder(RATE_HZ), np.random.default_rng(8)
    noise, beside, place = 1e-3 * random.normal(size=600), np.zeros(600), 300
    noise[place - 9 : place + 10] += 0.5 * finder._shape
    beside[place - 9 : place + 10] = 1e-3 * random.normal(size=19)
    taps = finder._taps.astype(np.float64)

    def least_left(more: float) -> float:
        answer = low_clicks_kernel.examine(noise + more * beside, place, SPAN, 8, taps, SCORE)
        return min(answer[[low_clicks_kernel.REST_BEFORE, low_clicks_kernel.REST_AFTER]])

    more = scipy.optimize.brentq(lambda more: least_left(more) - left, 0.0, 8.0, xtol=1e-3)
    thin = (noise + more * beside).astype(np.float32)
    finder._judge(thin, place, 1000, np.zeros(30_000, np.float32), 0)
    assert len(finder._found) == is_judged


@pytest.mark.parametrize(("name", "bound"), [("AS_A_STEP", 1e9), ("BELOW_ERRORS", -1e9)])
def test_steps_and_the_low_band_are_asked_each_by_itself(name: str, bound: float, monkeypatch):
    answer = np.zeros(9)
    answer[:3] = 0.0, 100.0, 100.0
    answer[low_clicks_kernel.SIZE] = 0.1
    wave = with_click(0.1).astype(np.float32)
    assert HighClickFinder(RATE_HZ)._is_fault(answer, wave, AT)
    monkeypatch.setattr(high_clicks, name, bound)
    assert not HighClickFinder(RATE_HZ)._is_fault(answer, wave, AT)


def test_what_stands_still_is_asked_too(monkeypatch):
    monkeypatch.setattr(high_clicks, "STILL", -1.0)
    assert clicks_of(with_click(0.1)) == ()


def test_a_result_on_the_way_changes_nothing():
    broken = signals.quantise(with_click(0.1).astype(np.float32)[:, None], 24)
    asked = DamageMeter(RATE_HZ, 1, bits=24, is_float=False)
    for start in range(0, len(broken), 7000):
        asked.add(broken[start : start + 7000])
        asked.result()
    assert asked.result().clicks == clicks_of(with_click(0.1))
