"""The compiled loops against the same loops run by plain Python and numpy."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np

from audit.measure.flat_tops_kernel import TOUCHED_AT
from tests.measure.plain_run import results

ROOT = Path(__file__).parent.parent.parent


def flat(value: object) -> list[float]:
    """Every number in a nested structure, in order."""
    if isinstance(value, dict):
        return [number for key in sorted(value) for number in flat(value[key])]
    if isinstance(value, list | tuple):
        return [number for item in value for number in flat(item)]
    return [float(value)]  # type: ignore[arg-type]


def test_compiled_and_plain_agree():
    done = subprocess.run(
        [sys.executable, "-m", "tests.measure.plain_run"],
        capture_output=True, text=True, check=True, cwd=ROOT, env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
    )  # fmt: skip
    compiled, plain = flat(results()), flat(json.loads(done.stdout))
    assert len(compiled) > 40
    # Sums are added up in another order: the last digits differ.
    np.testing.assert_allclose(compiled, plain, rtol=1e-9, atol=1e-9)


def test_the_signals_reach_into_the_loops():
    found = results()
    assert found["clipped"][0] > 20  # type: ignore[index]
    assert found["stepped"][0] == 0  # type: ignore[index]
    assert found["stepped"][2][0][0][TOUCHED_AT] > 100  # type: ignore[index]
    assert [len(places) for places in found["damage"]] == [1, 1, 2]  # type: ignore[arg-type]
    assert len(found["hidden"]) == 1  # type: ignore[arg-type]
    assert found["timecode"]["timecode_share"] > 0.9  # type: ignore[index]
    assert found["clicks"]["tick_share"] > 0.8  # type: ignore[index]
    assert len(found["frames"][0]) == len(found["frames backwards"][0]) == 10  # type: ignore[index]
    assert found["ends"][1] >= 5  # type: ignore[index]
    assert found["ceiling"][2] >= 8  # type: ignore[index]
    assert found["side delay"][0] < -0.9  # type: ignore[index]
    assert found["scrambled"][1] >= 3  # type: ignore[index]
