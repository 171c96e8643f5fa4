"""A click out of the blocks of its part: a first pass for what is plain, then looks under other sounds."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from audit.measure.click import find_click
from audit.measure.click_masked import masked_places, sounds_of, with_found
from audit.measure.samples import Samples
from audit.measure.tick_events import TickMeter, Ticks
from audit.measure.tick_search import TickSearch
from audit.results import ClickTrack

LOOKS = 2
"""Beats found under a voice tell where others may lie: a second look finds those."""


def hear_click(blocks: Callable[[], Iterable[Samples]], rate_hz: int, channels: int) -> ClickTrack | None:
    """The click in a part; None where there is none.

    blocks: gives the part's samples from its beginning each time it is called, as (frames, channels) float32
    blocks of any size without NaN. Called up to 1 + LOOKS times.
    """
    meter = TickMeter(rate_hz, channels)
    for block in blocks():
        meter.add(block)
    ticks: Ticks = meter.result()
    for _ in range(LOOKS):
        places = masked_places(ticks)
        if not places:
            break
        search = TickSearch(rate_hz, channels, places, sounds_of(ticks))
        for block in blocks():
            search.add(block)
        found = with_found(ticks, search.result())
        if len(found) == len(ticks):
            break
        ticks = found
    return find_click(ticks)
