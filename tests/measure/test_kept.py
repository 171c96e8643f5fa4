"""Rows kept until the end come back as they were, and take less room."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from audit.measure.kept import PIECE_ROWS, KeptRows


@pytest.mark.parametrize("count", [0, 1, PIECE_ROWS - 1, PIECE_ROWS, PIECE_ROWS + 1, 3 * PIECE_ROWS])
@pytest.mark.parametrize("at_once", [1, 7, 5000])
def test_rows_come_back_in_order(count, at_once):
    rows = np.random.default_rng(count).integers(0, 256, (count, 5), dtype=np.uint8)
    kept = KeptRows(5)
    for first in range(0, count, at_once):
        kept.extend(rows[first : first + at_once])
    assert len(kept) == count
    pieces = list(kept.pieces())
    assert [len(piece) for piece in pieces[:-1]] == [PIECE_ROWS] * (len(pieces) - 1)
    np.testing.assert_array_equal(np.concatenate([*pieces, np.empty((0, 5), np.uint8)]), rows)
    assert list(map(len, kept.pieces())) == list(map(len, pieces))  # asked twice, told twice


def test_what_was_handed_over_may_change_afterwards():
    kept = KeptRows(1)
    row = np.array([[7]], dtype=np.uint8)
    kept.extend(row)
    row[0, 0] = 9
    piece = next(kept.pieces())
    piece[0, 0] = 11
    assert next(kept.pieces())[0, 0] == 7


def test_mostly_empty_rows_take_a_fraction_of_their_room():
    kept = KeptRows(37)
    rng = np.random.default_rng(1)
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    for _ in range(100):
        rows = np.zeros((1000, 37), np.uint8)
        rows[np.arange(1000), rng.integers(0, 37, 1000)] = 200
        kept.extend(rows)
    grown = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert grown < 100_000 * 37 / 3
