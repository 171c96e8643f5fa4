"""Which of two copies has rotted: told where one of them shows it, and never of the wrong one."""

from __future__ import annotations

import numpy as np
import pytest

from audit.pipeline.sealed.damaged_side import signs
from tests.pipeline.sealed_show import RATE_HZ, music

TRIES = 40


def as_24_bit(wave: np.ndarray) -> np.ndarray:
    return (np.round(wave * 2**23) / 2**23).astype(np.float32)


def flipped(wave: np.ndarray, at: int, bit: int) -> np.ndarray:
    """One bit of one sample on the left, as in a 24-bit file."""
    made = wave.copy()
    value = (round(float(made[at, 0]) * 2**23) & 0xFFFFFF) ^ (1 << bit)
    made[at, 0] = (value - (1 << 24) if value & 0x800000 else value) / 2**23
    return made


def accused(whole: np.ndarray, broken: np.ndarray) -> set[bool]:
    """True: the whole one, False: the broken one; told from both sides in turn."""
    found = {of_old for of_old, _ in signs(whole, broken, 0, RATE_HZ, len(whole))}
    turned = {not of_old for of_old, _ in signs(broken, whole, 0, RATE_HZ, len(whole))}
    assert found == turned
    return found


@pytest.mark.parametrize(("bit", "least"), [(23, 40), (21, 40), (18, 36), (8, 0), (0, 0)])
def test_a_flipped_bit_shows_where_it_is_a_click_and_accuses_nobody_else(bit: int, least: int):
    rng = np.random.default_rng(bit)
    told = 0
    for seed in range(TRIES):
        wave = as_24_bit(music(seed)[:RATE_HZ])
        at = int(rng.integers(100, len(wave) - 100))
        piece = slice(at - 68, at + 69)
        who = accused(wave[piece], flipped(wave, at, bit)[piece])
        assert who <= {False}
        told += False in who
    assert told >= least


@pytest.mark.parametrize("what", ["zeros", "noise", "another place"])
def test_a_lost_block_shows(what: str):
    rng = np.random.default_rng(3)
    wave = as_24_bit(music(5))
    broken, at = wave.copy(), 3 * RATE_HZ + 4321
    fill = {
        "zeros": np.zeros((682, 2)),
        "noise": rng.uniform(-1, 1, (682, 2)),
        "another place": wave[RATE_HZ : RATE_HZ + 682],
    }
    broken[at : at + 682] = fill[what]
    piece = slice(at - 68, at + 682 + 68)
    assert accused(wave[piece], broken[piece]) == {False}


def test_what_was_edited_over_a_long_stretch_is_not_looked_into():
    wave, other = music(5)[:RATE_HZ], music(6)[:RATE_HZ]
    assert list(signs(wave, other, 0, RATE_HZ, 4096)) == []


def test_noise_on_both_sides_tells_nothing():
    rng = np.random.default_rng(4)
    wave = rng.uniform(-0.5, 0.5, (400, 1)).astype(np.float32)
    assert accused(wave, flipped(as_24_bit(wave), 200, 20)) == set()
