"""Machines that the settings name: over their budget, tight, at two clocks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from audit.evidence import ShowEvidence
from audit.load.cures import with_cures
from audit.load.demand import EngineSetup, SongLoad
from audit.load.forecast import forecast_song
from audit.load.profile import Profile
from audit.pipeline.scan import scan_show
from audit.results.load import PastRehearsal, Range, Resource, ResourceUse, SongForecast
from audit.settings.model import Engine, Machine, SetEntry, SetList, ShowSettings
from audit.settings.order import running_order
from tests.cli.folders import write_song
from tests.evidence import show, song, stem
from tests.load.machines import guessed, measured, stems, strong
from tests.load.machines import song as load_of
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

pytestmark = pytest.mark.usefixtures("quick_workers")

SPARE = ShowSettings(
    source="show.toml", machines=(Machine(name="Spare", machine_class="laptop-quad-sata-ssd"),)
)
ENGINE = EngineSetup()


def forecast(load: SongLoad, machine: Profile, **more: PastRehearsal) -> SongForecast:
    return with_cures(forecast_song(load, machine, ENGINE, **more), load, machine, ENGINE)


def forecasting(*forecasts: SongForecast, settings: ShowSettings = SPARE) -> ShowEvidence:
    ferry = replace(song("Night Ferry", stem("Bass.wav")), forecasts=forecasts)
    return replace(show(ferry), settings=settings)


def using(low: float, value: float, high: float) -> SongForecast:
    """A forecast whose decode thread alone is in question; its limit is 0.50 of 1.0."""
    base = forecast_song(load_of(stems(4)), strong("Spare"), ENGINE)
    decode = ResourceUse(
        resource=Resource.DECODE,
        used=Range(low=low, value=value, high=high),
        limit=0.5,
        capacity=1.0,
        unit="",
    )
    return replace(base, uses=(*(u for u in base.uses if u.resource is not Resource.DECODE), decode))


TWENTY = load_of(stems(20))
SLOW_DISK = replace(strong("Spare"), transfer=measured(4e6))
GUESSED_DISK = guessed(replace(strong("Spare"), transfer=measured(6e7)), "latency", 5e-3)
NO_MEMORY = replace(strong("Spare"), memory_available=measured(0.4e9))
FEW_OUTPUTS = (replace(TWENTY, outputs=9), strong("Spare"))
DIRTY = PastRehearsal(song="Night Ferry", clean=False, day="2026-11-20", on_mains=True)
CLEAN = PastRehearsal(song="Night Ferry", clean=True, day="2026-11-20", on_mains=True)

THREE = (
    song("Low Tide", stem("Bass.wav")),
    song("Tin Roof", stem("Bass.wav")),
    song("Night Ferry", stem("Bass.wav", rate_hz=44100)),
)


def in_order(*names: str) -> ShowEvidence:
    """Three songs, one at 44.1 kHz, and a set list of some of them."""
    night = replace(show(*THREE), settings=SPARE)
    tonight = SetList(name="Tonight", halves=(tuple(SetEntry(name=name) for name in names),))
    return replace(night, order=running_order(tonight, [(each.name, each.names) for each in THREE]))


CASES: dict[str, tuple[Case, ...]] = {
    "over-budget": (
        planted(
            "a disk that is too slow",
            forecasting(forecast(TWENTY, SLOW_DISK)),
            Expected(says=("Spare does not carry it", "disk"), advises=("Merge",)),
        ),
        planted(
            "too little memory",
            forecasting(forecast(TWENTY, NO_MEMORY)),
            Expected(says=("the memory needs 0.4 GB, and 0.3 GB",)),
        ),
        planted(
            "nine outputs on a card with eight",
            forecasting(forecast(*FEW_OUTPUTS)),
            Expected(says=("the outputs needs 9, and 8",), value=112.5, within=0.1),
        ),
        planted(
            "a dirty rehearsal beats a forecast that fits",
            forecasting(forecast(TWENTY, strong("Spare"), rehearsed=DIRTY)),
            Expected(says=("2026-11-20", "forecast: fits"), advises=("Believe the rehearsal",)),
        ),
        clean("no machine is named", show(song("Night Ferry", stem("Bass.wav")))),
        clean("it fits, and was rehearsed", forecasting(forecast(TWENTY, strong(), rehearsed=CLEAN))),
        at_limit("all there is at the low end", forecasting(using(1.0, 1.1, 1.2))),
        past_limit(
            "a little more than all there is",
            forecasting(using(1.01, 1.1, 1.2)),
            Expected(value=101.0, within=0.01, says=("reading files ahead needs 110 %, and 50 %",)),
        ),
    ),
    "tight-budget": (
        planted(
            "a disk that nobody measured",
            forecasting(forecast(load_of(stems(32)), GUESSED_DISK)),
            Expected(says=("Spare may not carry it", "a probe of its disk would settle it")),
        ),
        planted(
            "more than half of a core",
            forecasting(using(0.5, 0.55, 0.6)),
            Expected(says=("needs 50 % to 60 %, and 50 %",), value=120.0),
        ),
        clean("no machine is named", show(song("Night Ferry", stem("Bass.wav")))),
        clean("over its budget: the other rule speaks", forecasting(forecast(TWENTY, SLOW_DISK))),
        at_limit("the high end at the limit", forecasting(using(0.3, 0.4, 0.5))),
        past_limit("just past it", forecasting(using(0.3, 0.4, 0.51)), Expected(value=102.0, within=0.01)),
    ),
    "rate-change": (
        planted(
            "one song of three at 44.1 kHz",
            replace(
                show(
                    song("Low Tide", stem("Bass.wav")),
                    song("Tin Roof", stem("Bass.wav")),
                    song("Night Ferry", stem("Bass.wav", rate_hz=44100)),
                ),
                settings=SPARE,
            ),
            Expected(songs=("Night Ferry",), says=("48 kHz in 2 songs", "44.1 kHz in Night Ferry")),
        ),
        planted(
            "three rates",
            replace(
                show(
                    song("Low Tide", stem("Bass.wav")),
                    song("Low Tide again", stem("Bass.wav")),
                    song("Tin Roof", stem("Bass.wav", rate_hz=96000)),
                    song("Night Ferry", stem("Bass.wav", rate_hz=44100)),
                ),
                settings=SPARE,
            ),
            Expected(says=("44.1 kHz in Night Ferry; 96 kHz in Tin Roof",)),
        ),
        planted(
            "in the order of the set list: up, down and up again",
            in_order("Low Tide", "Night Ferry", "Tin Roof", "Night Ferry"),
            Expected(
                songs=("Night Ferry",),
                says=("in the order of the set list 3 times, first from Low Tide to Night Ferry",),
            ),
        ),
        planted(
            "once in that order",
            in_order("Tin Roof", "Low Tide", "Night Ferry"),
            Expected(songs=("Night Ferry",), says=("set list once from Low Tide to Night Ferry",)),
        ),
        planted(
            "not in that order, but in others",
            in_order("Tin Roof", "Low Tide"),
            Expected(songs=("Night Ferry",), says=("; not between neighbours of the set list",)),
        ),
        clean(
            "the player runs at one rate",
            replace(
                show(
                    song("Low Tide", stem("Bass.wav")),
                    song("Night Ferry", stem("Bass.wav", rate_hz=44100)),
                ),
                settings=replace(SPARE, engine=Engine(rate_hz=48000)),
            ),
        ),
        clean(
            "no machine is named",
            show(song("Low Tide", stem("Bass.wav")), song("Ferry", stem("Bass.wav", rate_hz=44100))),
        ),
        at_limit(
            "one stem of a song at another rate is another rule's",
            replace(
                show(
                    song("Low Tide", stem("Bass.wav")),
                    song("Night Ferry", stem("Keys.wav"), stem("Bass.wav", rate_hz=44100)),
                ),
                settings=SPARE,
            ),
        ),
        past_limit(
            "all of its stems",
            replace(
                show(
                    song("Low Tide", stem("Bass.wav"), stem("Keys.wav")),
                    song(
                        "Night Ferry", stem("Keys.wav", rate_hz=44100),
                        stem("Bass.wav", rate_hz=44100),
                    ),
                ),
                settings=SPARE,
            ),
            Expected(says=("the sound card must change its clock",)),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_a_scan_forecasts_for_the_machines_in_the_settings(tmp_path: Path):
    write_song(tmp_path / "Show" / "Night Ferry", seconds=0.5)
    made = scan_show(tmp_path / "Show", jobs=1, settings=SPARE)
    (forecast_made,) = made.songs[0].evidence.forecasts
    assert (forecast_made.machine, forecast_made.fit.value) == ("Spare", "fits")
    assert not [f for f in made.all_findings() if f.rule in CASES]
    assert "over-budget" not in made.not_applicable
    without = scan_show(tmp_path / "Show", jobs=1)
    assert without.not_applicable["over-budget"] == 1
