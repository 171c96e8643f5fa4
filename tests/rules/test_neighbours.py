"""What the next song may bring: every short cut against all orders tried one by one."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import combinations, pairwise, permutations, product

import pytest

from audit.evidence import ShowEvidence, SongEvidence
from audit.results.load import Confidence, Range, Resource, ResourceUse, SongForecast
from audit.rules.neighbours import Step, Worst, neighbours, steps_between, worst_step
from audit.rules.timecode_ranges import nearest_of, nearest_of_all, overlaps
from audit.settings.model import Engine, SetEntry, SetList
from audit.settings.order import running_order
from audit.timecode import FPS_24, FPS_25, FPS_29_97_DROP, FPS_30, label_at
from tests.evidence import findings, mix, show, song, stem
from tests.rules.asked import asked, of_song
from tests.rules.timecode_tracks import coded, track


def at(name: str, lufs: float | None = -16.0, rate_hz: int = 48000, **said: float) -> SongEvidence:
    made = song(name, stem("Bass.wav", rate_hz=rate_hz), mix=mix(loudness={"integrated_lufs": lufs}))
    return of_song(made, **said) if said else made


def listed(night: ShowEvidence, *halves: tuple[str, ...]) -> ShowEvidence:
    entries = tuple(tuple(SetEntry(name=name) for name in half) for half in halves)
    named = [(each.name, each.names) for each in night.songs]
    return replace(night, order=running_order(SetList(name="Tonight", halves=entries), named))


def told(night: ShowEvidence) -> tuple[Worst | None, Worst]:
    found = neighbours(night)
    assert found is not None
    return found.in_order, found.any_order


@pytest.mark.parametrize("seed", range(40))
def test_the_worst_step_is_that_of_all_pairs(seed: int):
    """Songs with a wish of their own, songs without, and songs that have no loudness."""
    draw = random.Random(seed)
    share = draw.choice([0.0, 0.5, 1.0])
    songs = []
    for number in range(draw.randint(2, 9)):
        level = draw.choice([None, round(draw.uniform(-30, -6), 1), round(draw.uniform(-30, -6), 1)])
        wish = {"loudness_lufs": round(draw.uniform(-20, -10), 1)} if draw.random() < share else {}
        songs.append(at(f"Song {number}", level, **wish))
    night = asked(*songs)
    every = steps_between(night, list(permutations([each.name for each in songs], 2)))
    worst = worst_step(night)
    if not every:
        assert worst is None
    else:
        assert worst is not None
        assert worst.by_lu == pytest.approx(max(step.by_lu for step in every))
        by_songs = {step.songs: step.by_lu for step in every}
        assert by_songs[worst.songs] == pytest.approx(worst.by_lu)


def test_the_worst_step_is_sought_among_all_songs_not_only_those_of_the_list():
    night = listed(show(at("A", -16.0), at("B", -18.0), at("C", -30.0)), ("A", "B"))
    in_order, any_order = told(night)
    assert in_order == Worst(loudness=Step(("A", "B"), -2.0))
    assert any_order.loudness == Step(("C", "A"), 14.0)


def test_a_song_alone_and_a_part_of_a_show_have_no_neighbours():
    assert neighbours(show(at("A"))) is None
    assert neighbours(replace(show(at("A"), at("B")), partial=True)) is None
    assert told(show(at("A"), at("B")))[0] is None


@pytest.mark.parametrize("rates", list(product((44100, 48000, 96000), repeat=5))[::17])
def test_the_most_clock_changes_are_those_of_the_worst_order(rates: tuple[int, ...]):
    night = show(*(at(f"Song {n}", rate_hz=rate) for n, rate in enumerate(rates)))
    worst = max(sum(a != b for a, b in pairwise(order)) for order in permutations(rates))
    clock = told(night)[1].clock
    assert (0 if clock is None else clock.times) == worst
    if clock is not None:
        first, second = (rates[int(name.split()[1])] for name in clock.songs)
        assert (first, second) == clock.rates_hz
        assert first != second


def test_clock_changes_of_the_list_are_counted_within_its_halves():
    night = show(at("A"), at("B", rate_hz=44100), at("C"), at("D", rate_hz=44100))
    in_order = told(listed(night, ("A", "C", "B"), ("C", "D")))[0]
    assert in_order is not None
    assert in_order.clock is not None
    assert (in_order.clock.songs, in_order.clock.times) == (("C", "B"), 2)
    assert told(listed(night, ("A", "C"), ("B", "D")))[0].clock is None  # type: ignore[union-attr]


def test_a_clock_that_the_settings_fix_does_not_change():
    night = show(at("A"), at("B", rate_hz=44100))
    assert told(night)[1].clock is not None
    fixed = replace(night, settings=replace(night.settings, engine=Engine(rate_hz=48000)))
    assert told(fixed)[1].clock is None


def test_a_song_of_two_rates_is_at_none():
    mixed = song("B", stem("Bass.wav", rate_hz=44100), stem("Keys.wav"))
    assert told(show(at("A"), mixed))[1].clock is None


RATES = (FPS_24, FPS_25, FPS_29_97_DROP, FPS_30)


def drawn(seed: int, songs: int = 7) -> ShowEvidence:
    """Songs' timecode at random within ten minutes around midnight, at four rates."""
    draw = random.Random(seed)
    made = []
    for number in range(songs):
        rate = draw.choice(RATES)
        first = label_at(draw.randint(-6000, 6000), rate)
        made.append(coded(f"Song {number}", track(first.text(rate), draw.uniform(5, 60), rate)))
    return show(*made)


@pytest.mark.parametrize("seed", range(60))
def test_the_nearest_timecode_is_that_of_all_pairs(seed: int):
    night = drawn(seed, songs=2 + seed % 6)
    pairs = list(combinations([each.name for each in night.songs], 2))
    each = [found for pair in pairs if (found := nearest_of(night, [pair])) is not None]
    nearest = nearest_of_all(night)
    assert nearest is not None
    assert nearest.gap_s == pytest.approx(min(found.gap_s for found in each))
    assert (nearest.gap_s < 0) == bool(overlaps(night))


@pytest.mark.parametrize("seed", range(30))
def test_overlaps_are_those_of_all_pairs(seed: int):
    night = drawn(seed)
    names = [each.name for each in night.songs]
    by_hand = {
        pair for pair in combinations(names, 2)
        if (found := nearest_of(night, [pair])) is not None and found.gap_s < 0
    }  # fmt: skip
    assert {found.songs for found in overlaps(night)} == by_hand


@pytest.mark.parametrize(
    ("one", "two", "gap_s", "ends", "begins"),
    [
        ("01:00:00:00", "02:00:00:00", 3540.0, "01:00:59:24", "02:00:00:00"),
        ("01:00:00:00", "01:01:00:00", 0.0, "01:00:59:24", "01:01:00:00"),
        ("01:00:00:00", "01:00:59:24", -0.04, "01:00:59:24", "01:00:59:24"),
        ("23:59:00:00", "00:00:12:00", 12.0, "23:59:59:24", "00:00:12:00"),  # midnight is no border
        ("23:59:30:00", "00:00:20:00", -10.0, "00:00:29:24", "00:00:20:00"),
    ],
)
def test_how_near_by_hand(one: str, two: str, gap_s: float, ends: str, begins: str):
    night = show(coded("A", track(one)), coded("B", track(two)))
    for found in (nearest_of_all(night), nearest_of(night, [("B", "A")])):
        assert found is not None
        assert (round(found.gap_s, 9), found.ends, found.begins) == (gap_s, ends, begins)


def test_versions_of_one_song_may_share_their_numbers():
    from audit.folder.versions import read_mark

    twins = [
        song(name, *coded(name, track()).stems, facts={"title_key": "rain", "title_mark": read_mark(mark)})
        for name, mark in (("Rain", None), ("Rain v2", "v2"))
    ]
    assert nearest_of_all(show(*twins)) is None
    nearest = nearest_of_all(show(*twins, coded("Far", track("02:00:00:00"))))
    assert nearest is not None
    assert nearest.gap_s == 3540.0


def test_all_songs_in_one_hour_are_told_once_and_in_few_words():
    """Nearly 20 000 pairs overlap: the worst 500 are named, all are counted."""
    night = show(*(coded(f"Song {n:03d}") for n in range(200)))
    (found,) = findings("timecode-overlap", night)
    assert found.measured["pair_count"] == 200 * 199 // 2
    assert len(found.measured["pairs"]) == 500  # type: ignore[arg-type]
    assert len(found.songs) == 200


def opening(name: str, **seconds: float) -> SongEvidence:
    """A song that opens in so many seconds on each of these machines."""
    made = []
    for machine, value in seconds.items():
        used = Range(low=value, value=value, high=value)
        use = ResourceUse(resource=Resource.OPENING, used=used, limit=1.0, capacity=1.0, unit="s")
        made.append(
            SongForecast(
                machine=machine, song=name, stems=1, uses=(use,), confidence=Confidence.LOW, why="",
                frames=256, rate_hz=48000, smallest_buffer_frames=64,
            )
        )  # fmt: skip
    return replace(at(name), forecasts=tuple(made))


def test_the_slowest_to_open_on_each_machine():
    night = show(opening("A", FOH=0.9, Spare=0.1), opening("B", FOH=0.2, Spare=0.3), opening("C", FOH=1.4))
    in_order, any_order = told(listed(night, ("A", "B")))
    assert [(one.machine, one.song, one.fits) for one in any_order.openings] == [
        ("FOH", "C", False), ("Spare", "B", True),
    ]  # fmt: skip
    assert in_order is not None
    assert [(one.machine, one.song) for one in in_order.openings] == [("FOH", "B"), ("Spare", "B")]
