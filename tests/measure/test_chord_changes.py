"""chord_changes: what comes and goes, thirds and tones over roots, on rows made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.chord_changes import changes_fit, over_roots, thirds_fit

SHAPES = {"major": (0, 4, 7), "minor": (0, 3, 7), "fifths": (0, 7), "root": (0,), "upper": (7, 11, 14)}


def rows(chords: list[tuple[int, str]], *, turn: int = 0, shape: str | None = None) -> np.ndarray:
    """Square roots of chroma, rows of length 1: a chord a frame."""
    table = np.full((len(chords), 12), 0.05)
    for row, (root, quality) in zip(table, chords, strict=True):
        row[[(root + turn + step) % 12 for step in SHAPES[shape or quality]]] = 1.0
    return table / np.linalg.norm(table, axis=1, keepdims=True)


def song(seed: int, frames: int = 200) -> list[tuple[int, str]]:
    """Chords of C major at random."""
    kinds = [(0, "major"), (2, "minor"), (4, "minor"), (5, "major"), (7, "major"), (9, "minor")]
    random = np.random.default_rng(seed)
    return [kinds[k] for k in random.integers(len(kinds), size=frames)]


SONG = song(1)


@pytest.mark.parametrize("turn", range(12))
def test_the_turn_of_a_transposed_part(turn: int):
    fit = changes_fit(rows(SONG, turn=turn), rows(SONG))
    assert int(np.argmax(fit)) == -turn % 12
    assert fit.max() == pytest.approx(1.0)


def test_it_is_pearsons_r_of_all_classes_together():
    """numpy.corrcoef of the tables with each class's mean taken off, laid out in a row."""
    mine, theirs = rows(SONG, shape="root"), rows(SONG)
    flat = [(table - table.mean(axis=0)).ravel() for table in (mine, theirs)]
    assert changes_fit(mine, theirs)[0] == pytest.approx(np.corrcoef(*flat)[0, 1])


def test_another_song_of_the_key_fits_nowhere_though_its_scale_does():
    other = rows(song(2))
    assert np.abs(changes_fit(rows(SONG), other)).max() < 0.25
    profiles = rows(SONG).mean(axis=0), other.mean(axis=0)
    assert np.corrcoef(*profiles)[0, 1] > 0.9


def test_a_fifth_apart_is_told_by_changes():
    fit = changes_fit(rows(SONG, turn=7), rows(SONG))
    assert fit[5] - fit[0] > 0.5


def test_what_stands_still_says_nothing():
    still = rows([(0, "major")] * 50)
    assert not changes_fit(still, rows(SONG[:50])).any()
    assert thirds_fit(still[:, :], still, 0) == 0.0
    assert thirds_fit(np.zeros((0, 12)), np.zeros((0, 12)), 0) == 0.0
    assert not over_roots(np.zeros((0, 12)), np.zeros((0, 12))).any()


def test_frames_in_any_order_and_parts_in_either():
    order = np.random.default_rng(3).permutation(len(SONG))
    mine, theirs = rows(SONG, shape="root"), rows(SONG)
    assert changes_fit(mine[order], theirs[order]) == pytest.approx(changes_fit(mine, theirs))
    back = changes_fit(theirs, mine)
    assert changes_fit(mine, theirs) == pytest.approx(np.roll(back[::-1], 1))


def test_thirds_are_followed_by_chords_and_not_by_one_shape():
    theirs = rows(SONG)
    assert thirds_fit(rows(SONG, turn=7), theirs, 5) > 0.99
    assert abs(thirds_fit(rows(SONG, shape="upper"), theirs, 5)) < 0.4
    assert thirds_fit(rows(SONG, shape="fifths"), theirs, 0) < 0.4


def test_tones_over_the_roots():
    theirs = rows(SONG)
    on_roots = over_roots(rows(SONG, shape="root"), theirs)
    assert int(on_roots.argmax()) == 0
    assert on_roots.sum() == pytest.approx(1.0)
    fifth_above = over_roots(rows(SONG, shape="fifths", turn=7), theirs)
    assert set(np.argsort(fifth_above)[-2:]) == {2, 7}


def test_minor_thirds_alone_are_thirds_too():
    mine = rows([(root, "minor" if quality == "minor" else "fifths") for root, quality in SONG])
    assert thirds_fit(mine, rows(SONG), 0) > 0.99
