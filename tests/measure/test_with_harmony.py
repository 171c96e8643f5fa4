"""with_harmony: what a stem's harmony says of a pulse that it seems to have of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit.measure.harmony import Laid, with_harmony
from audit.results import Alignment, Beats, Chroma, Pulse
from tests.measure.test_own_turns import CLICK, chroma

PULSE = Pulse(per_beat=1.03, fit=0.9, on_click=0.1, onsets=180)
SLIDING = Alignment(phase=None, drift=None, wrong_rate=None, own_pulse=PULSE)
FITS = Beats(
    shift_beats=4.0, at_best=0.4, at_best_without_loudest=0.38, at_zero=0.1, half_late=0.05, half_early=0.05,
    gain_by_changes=0.25, gain_by_state=0.5, second_beats=-12.0, at_second=0.2, sure=5.0,
    sure_without_loudest=4.0, usual=0.4, backbeat=0.5, on_turns=1.0, saying_so=("Bass.wav",), against=(),
)  # fmt: skip


def joined(
    own: Pulse = PULSE, *, beats: int = 200, tones: Chroma | None = None, **fits: float
) -> tuple[Pulse | None, Beats | None]:
    laid = Laid(beats=replace(FITS, **fits), rearranged=None, bar_turns=None)
    found = with_harmony(replace(SLIDING, own_pulse=own), laid, CLICK[:beats], tones)
    return found.own_pulse, found.beats


def test_a_stem_without_such_a_pulse_keeps_its_beats():
    laid = Laid(beats=FITS, rearranged=None, bar_turns=None)
    found = with_harmony(replace(SLIDING, own_pulse=None), laid, CLICK, None)
    assert (found.own_pulse, found.beats) == (None, FITS)


@pytest.mark.parametrize(("at_zero", "left"), [(0.19, True), (0.21, False)])
def test_half_of_the_usual_fit_is_at_home(at_zero: float, left: bool):
    own, beats = joined(at_zero=at_zero)
    assert (own is not None) is left
    assert (beats is None) is left
    if own is not None:
        assert own.harmony == pytest.approx(at_zero / 0.4)


@pytest.mark.parametrize(("usual", "known"), [(0.19, False), (0.21, True)])
def test_of_others_that_hardly_fit_one_another_nothing_is_known(usual: float, known: bool):
    own, _ = joined(at_zero=0.05, usual=usual)
    assert own is not None
    assert (own.harmony is not None) is known


@pytest.mark.parametrize(("beats", "known"), [(130, False), (140, True)])
def test_harmony_says_nothing_before_the_tempo_has_led_it_four_beats_away(beats: int, known: bool):
    """3 % of 134 beats."""
    own, _ = joined(beats=beats, at_zero=0.05)
    assert own is not None
    assert (own.harmony is not None) is known


def test_whose_chords_turn_on_the_click_is_of_its_tempo_wherever_it_lies():
    """A guitar behind a tremolo, a bar late: it fits nobody as it stands, and its bar has to be told."""
    own, beats = joined(at_zero=0.0, tones=chroma(2.0))
    assert own is None
    assert beats is not None
    assert beats.shift_beats == 4.0


def test_whose_chords_turn_at_the_other_tempo_has_left():
    own, beats = joined(at_zero=0.0, tones=chroma(2.0 / 1.03))
    assert beats is None
    assert own is not None
    assert own.turns is not None
    assert own.turns[1] > 1.5 * own.turns[0]


def test_one_chord_all_through_says_neither():
    own, _ = joined(at_zero=0.0, tones=chroma(1000.0, start_s=-1.0))
    assert own is not None
    assert own.turns is None
    assert np.isfinite(own.harmony or 0.0)
