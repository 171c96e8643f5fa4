"""A rehearsal in words: it says what `load` says of the same song, and calls nothing clean that was late."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from audit.report.load_words import fit_word
from audit.report.rehearsal_words import print_rehearsal
from audit.results.load import Range, SongForecast
from audit.results.rehearsal import Rehearsal, Run
from tests.report.test_load_table import forecast

CLIMBED = Run(
    speed=76.1, rounds=12, late_rounds=0, callbacks=562, late_callbacks=87, lowest_buffer_s=0.5,
    worst_round=0.6, cpu=0.9,
)  # fmt: skip


def said(run: Run, headroom: float | None, beside: SongForecast | None = None) -> str:
    done = Rehearsal(
        stems=4, frames=256, rate_hz=48000, refill_s=0.5, prebuffer_s=1.0, run=run, headroom=headroom,
        climb=(run,), opening_cold_s=0.1, opening_warm_s=0.1, surely_cold=True, failed=(),
    )  # fmt: skip
    paper = io.StringIO()
    print_rehearsal("Rain", done, beside, Console(file=paper, width=100))
    return " ".join(paper.getvalue().split())


def test_a_climb_with_late_buffers_is_not_called_clean():
    text = said(CLIMBED, 76.1)
    assert "clean" not in text
    assert "no refill late up to 76.1 times its own speed" in text
    assert "late buffers 87 of 562 at that speed, where a buffer lasts 0.07 ms: up to 20%" in text


@pytest.mark.parametrize(("late", "kept"), [(1, True), (87, False)])
def test_at_its_own_speed_a_song_keeps_up_only_where_it_is_clean(late: int, kept: bool):
    run = replace(CLIMBED, speed=1.0, late_callbacks=late)
    assert run.keeps_up is run.clean is kept


def test_the_forecast_is_called_what_load_calls_it():
    made = forecast("Rain", 0.4)
    use = made.limiting
    doubtful = replace(
        made, uses=(replace(use, used=Range(low=0.5 * use.capacity, value=1.5 * use.capacity, high=9.0)),)
    )
    for each in (made, doubtful):
        assert f": {fit_word(each)}; " in said(CLIMBED, 76.1, each)
    assert fit_word(doubtful) == "doubtful"
