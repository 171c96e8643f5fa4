"""turns_along: whether chords turn with the click or at another tempo."""

from __future__ import annotations

from array import array

import numpy as np
import pytest

from audit.measure.own_turns import turns_along
from audit.results import Chroma

CLICK = 4.0 + 0.5 * np.arange(200)
HOP_S = 0.05


def chroma(turn_every_s: float, *, start_s: float = 4.0, seconds: float = 104.0, seed: int = 1) -> Chroma:
    """Triads, another one at every turn."""
    random = np.random.default_rng(seed)
    hops = int(seconds / HOP_S)
    rows = np.zeros((hops, 12), dtype=np.uint8)
    number = np.floor((np.arange(hops) * HOP_S - start_s) / turn_every_s).astype(int)
    roots, last = {}, 0
    for one in np.unique(number):
        last = roots[one] = (last + int(random.integers(1, 12))) % 12
    for hop, one in enumerate(number):
        rows[hop, [(roots[one] + step) % 12 for step in (0, 4, 7)]] = 255
    return Chroma(
        hop_s=HOP_S, classes=array("B", rows.tobytes()), levels=array("B", [160] * hops), tonal=0.95,
        tuning_cents=0.0, tuning_agreed=1.0,
    )  # fmt: skip


@pytest.mark.parametrize("beats", [1, 2, 4, 8])
@pytest.mark.parametrize("ratio", [0.95, 1.02, 1.06])
def test_turns_at_another_tempo(beats: int, ratio: float):
    found = turns_along(chroma(0.5 * beats / ratio), CLICK, ratio)
    assert found is not None
    on_click, own = found
    assert own > 0.6
    assert on_click < 0.7 * own


@pytest.mark.parametrize("beats", [1, 2, 4, 8])
def test_turns_on_the_click(beats: int):
    found = turns_along(chroma(0.5 * beats), CLICK, 1.02)
    assert found is not None
    on_click, own = found
    assert on_click > 0.6
    assert own < 0.7 * on_click


def test_one_chord_throughout_says_nothing():
    assert turns_along(chroma(1000.0, start_s=-1.0), CLICK, 1.02) is None


def test_nothing_to_tell_by():
    assert turns_along(None, CLICK, 1.02) is None
    assert turns_along(chroma(1.0), CLICK[:1], 1.02) is None
    assert turns_along(chroma(1.0, seconds=0.2), CLICK, 1.02) is None
    assert turns_along(chroma(1.0), CLICK + 500.0, 1.02) is None


def test_turns_gather_as_scipy_has_it():
    """Second implementation: SciPy's circular statistics, of the moments at which chords turn."""
    stats = pytest.importorskip("scipy.stats")
    made = chroma(1.0)
    rows = np.frombuffer(bytes(made.classes), dtype=np.uint8).reshape(-1, 12)
    turn = np.flatnonzero((rows[1:] != rows[:-1]).any(axis=1)) + 1
    at = np.interp(turn * HOP_S, CLICK, np.arange(200.0))[4:-6]
    spread = float(stats.circvar(2 * np.pi * 0.5 * at))
    found = turns_along(made, CLICK, 1.02)
    assert found is not None
    assert found[0] == pytest.approx(1.0 - spread, abs=0.12)  # each turn is smeared over four hops
