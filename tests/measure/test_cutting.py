"""Cutter: the pieces, put together, are the stream, and begin at multiples of the window."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.measure.cutting import Cutter


@settings(max_examples=80, deadline=None)
@given(cuts=st.lists(st.integers(0, 40), max_size=15), window=st.integers(1, 17), fortran=st.booleans())
def test_pieces_are_whole_windows_in_order(cuts, window, fortran):
    stream = np.arange(2 * sum(cuts), dtype=np.float32).reshape(-1, 2)
    cutter, at, pieces = Cutter(window, 2), 0, []
    for cut in cuts:
        block = stream[at : at + cut]
        for piece in cutter.cut(np.asfortranarray(block) if fortran else block):
            assert len(piece) % window == 0
            pieces.append(piece.copy())
        at += cut
    pieces.append(cutter.rest.copy())
    assert len(cutter.rest) == at % window
    np.testing.assert_array_equal(np.concatenate(pieces), stream)
