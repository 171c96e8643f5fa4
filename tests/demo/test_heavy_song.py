"""The demo's song that an old laptop cannot carry and a newer one can."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from audit.cli.show_settings import settings_for
from audit.demo.show import HEAVY_SONG
from audit.folder.walk import walk
from audit.pipeline.load import forecast_show, read_formats
from audit.pipeline.machines import machine_named
from audit.results.load import Fit, Resource


def test_one_song_is_too_much_for_an_old_laptop_and_none_for_a_newer_one(demo_show: Path):
    settings, today = settings_for(demo_show, None), date(2026, 11, 28)
    machines = [machine_named(n, settings, today) for n in ("laptop-dual-disk", "laptop-8core-nvme")]
    show = walk(demo_show, settings=settings)
    old, new = forecast_show(show, read_formats(show), machines, settings).forecasts
    over = [forecast for forecast in old if forecast.fit is Fit.OVER]
    assert [forecast.song.partition(" - ")[2] for forecast in over] == [HEAVY_SONG]
    assert over[0].limiting.resource is Resource.MEMORY
    assert over[0].cures[0].text == "record 1 software instrument as stems instead"
    assert over[0].cures[0].saves > 3.5e9
    assert {forecast.fit for forecast in new} == {Fit.FITS}
