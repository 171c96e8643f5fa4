"""The click finder: beats to the sample, from any sound, whatever the tempo map does; faults in their place.

Beats are scored by mir_eval (Raffel et al., ISMIR 2014) at ±5 ms. `evaluate` is not used: it drops the first
five seconds. The lab's clicks are seeded; the wide tables are `python -m tests.benchmarks.clicks`.
"""

from __future__ import annotations

import json
from dataclasses import replace

import mir_eval
import numpy as np
import pytest
import soundfile

from audit.errors import BadSamplesError
from audit.findings import ShowAudit
from audit.measure.click_metre import count_in, music_start
from audit.measure.nature import NatureMeter
from audit.measure.tick_events import TickMeter
from tests import signals
from tests.click_lab import (
    GATED,
    SOUNDS,
    Beat,
    Recipe,
    build,
    doubled,
    even_beats,
    halved,
    missing,
    moved,
    ramped_beats,
    random_recipe,
)
from tests.click_trial import hear, score
from tests.measure.feeding import BLOCK_SIZES, fed
from tests.shared import shared_folder
from tests.shows import OrdinaryShow

RATES = (44_100, 48_000, 96_000)


def heard(recipe: Recipe):
    made = build(recipe)
    click = hear(made.samples, recipe.rate_hz)
    assert click is not None
    return made, click


def clean_score(recipe: Recipe):
    made, click = heard(recipe)
    result = score(made, click)
    assert not click.gaps
    assert not click.extras
    assert result.f_measure == 1.0
    return result, click


# --- beats ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("sound", SOUNDS + GATED)
def test_every_sound_is_placed_to_a_tenth_of_a_millisecond(sound: str, rate_hz: int):
    recipe = Recipe(beats=even_beats(121.3, 5, start_s=0.37), sound=sound, rate_hz=rate_hz)
    result, click = clean_score(recipe)
    assert result.median_error_s < 1e-4
    assert click.bpm == pytest.approx(121.3, rel=1e-4)
    assert click.metre == "4/4"


@pytest.mark.parametrize("peak_db", [0.0, -50.0])
@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("sides", [1, 2])
def test_quiet_or_loud_mono_or_stereo(peak_db: float, bits: int, sides: int):
    recipe = Recipe(beats=even_beats(96, 8), sound="woodblock", peak_db=peak_db, bits=bits, sides=sides)
    result, _ = clean_score(recipe)
    assert result.median_error_s < 1e-4


@pytest.mark.parametrize(("metre", "words"), [
    ("4/4", "4/4"), ("3/4", "3/4"), ("5/4", "5/4"), ("2/4", "2/4"), ("6/8", "6/8"), ("7/8", "7/8"),
])  # fmt: skip
@pytest.mark.parametrize("accents", ["both", "level", "pitch"])
def test_metres_are_told_by_accents_of_any_kind(metre: str, words: str, accents: str):
    recipe = Recipe(beats=even_beats(112, 10, metre), metre=metre, accents=accents, sound="clave")
    _, click = clean_score(recipe)
    assert click.metre == words
    assert [n for n, accent in enumerate(click.accents) if accent] == [
        n for n, beat in enumerate(recipe.beats) if beat.first
    ]


def test_without_accents_there_is_no_metre():
    _, click = clean_score(Recipe(beats=even_beats(112, 10), accents="none"))
    assert click.metre is None
    assert not any(click.accents)


@pytest.mark.parametrize("subdivision", [2, 3, 4])
@pytest.mark.parametrize("swing", [0.0, 0.33])
@pytest.mark.parametrize("shaker", [False, True])
def test_what_lies_between_the_beats_is_no_beat(subdivision: int, swing: float, shaker: bool):
    recipe = Recipe(
        beats=even_beats(88, 8), sound="rim", subdivision=subdivision, swing=swing, shaker=shaker, seed=4
    )
    _, click = clean_score(recipe)
    assert click.bpm == pytest.approx(88, rel=1e-4)
    assert click.subdivision == (1 if shaker else subdivision) or shaker


def test_a_loud_shaker_is_no_beat():
    """Nine decibels below the plain beats; at 65 a minute its eighths would make a likely tempo."""
    recipe = Recipe(
        beats=even_beats(65, 16, "3/4"), metre="3/4", sound="noise tick", accents="level", subdivision=2,
        sub_db=-9.1, shaker=True, seed=521,
    )  # fmt: skip
    _, click = clean_score(recipe)
    assert click.metre == "3/4"


def test_fast_counts_without_subdivision_stay_beats():
    _, click = clean_score(Recipe(beats=even_beats(140, 10, "7/8"), metre="7/8"))
    assert (click.subdivision, click.metre) == (1, "7/8")
    assert click.bpm == pytest.approx(245, rel=1e-4)


def test_a_room_and_a_voice_are_not_in_the_way():
    recipe = Recipe(
        beats=even_beats(112, 10), sound="woodblock", reverb=True, speech_db=-6.0, speech_s=(0.0, 4.5), seed=3
    )
    result, _ = clean_score(recipe)
    assert result.median_error_s < 1e-4


def test_a_turned_down_stretch_is_click():
    clean_score(Recipe(beats=even_beats(112, 14), turned_down=(10.0, 18.0)))
    clean_score(Recipe(beats=even_beats(167, 20, "3/4"), metre="3/4", sound="rim", turned_down=(4.4, 10.4)))
    clean_score(Recipe(beats=even_beats(112, 14), accents="none", turned_down=(10.0, 18.0)))


# --- tempo maps -------------------------------------------------------------------------------------


def test_a_ramp_is_one_run_with_two_tempi():
    _, click = clean_score(Recipe(beats=ramped_beats(90, 130, 16), sound="beep"))
    (run,) = click.runs
    assert not run.steady
    assert run.bpm_first == pytest.approx(90, rel=0.01)
    assert run.bpm_last == pytest.approx(130, rel=0.01)


def test_a_free_section_parts_two_runs_and_is_no_fault():
    first = even_beats(120, 6)
    second = even_beats(92, 6, start_s=first[-1].at_s + 6.3)
    _, click = clean_score(Recipe(beats=(*first, *second)))
    assert [(run.first_beat, run.beats, round(run.bpm_first)) for run in click.runs] == [
        (0, 24, 120), (24, 24, 92),
    ]  # fmt: skip
    (pause,) = click.pauses
    assert (pause.start_s, pause.end_s) == pytest.approx((first[-1].at_s, second[0].at_s), abs=1e-4)


def test_a_held_beat_of_any_length_is_no_gap_where_accents_count():
    """The third beat lasts three beats: the bar holds all its beats, so none is missing."""
    beats = even_beats(120, 8)
    held = tuple(replace(b, at_s=b.at_s + (1.0 if n > 14 else 0.0)) for n, b in enumerate(beats))
    clean_score(Recipe(beats=held))


@pytest.mark.parametrize("ratio", [0.8, 1.25, 1.5])
def test_a_tempo_step_is_music(ratio: float):
    first = even_beats(110, 6)
    second = even_beats(110 * ratio, 6, start_s=first[-1].at_s + 60 / 110)
    _, click = clean_score(Recipe(beats=(*first, *second)))
    assert not click.changes


def test_half_and_double_time_are_told_with_their_place():
    _, click = heard(Recipe(beats=halved(even_beats(120, 16), 32)))
    assert [(c.ratio, round(c.at_s, 2)) for c in click.changes] == [(0.5, 17.0)]
    first = even_beats(70, 5)
    second = even_beats(140, 5, start_s=first[-1].at_s + 60 / 70)
    _, click = heard(Recipe(beats=(*first, *second)))
    assert [c.ratio for c in click.changes] == [2.0]
    assert not click.gaps


# --- faults -----------------------------------------------------------------------------------------

PLAIN = even_beats(120, 10)


@pytest.mark.parametrize("accents", ["both", "none"])
@pytest.mark.parametrize("sound", ["beep", "hi-hat", "cowbell", "fresh noise"])
@pytest.mark.parametrize(("first", "count"), [(13, 1), (16, 1), (13, 3), (16, 4)])
def test_missing_beats(sound: str, accents: str, count: int, first: int):
    _, click = heard(Recipe(beats=missing(PLAIN, first, count), sound=sound, accents=accents))
    assert [(gap.beats, round(gap.at_s, 3)) for gap in click.gaps] == [(count, 1.0 + first / 2)]
    assert not click.extras


def test_a_bar_and_a_beat_is_a_free_section():
    _, click = heard(Recipe(beats=missing(PLAIN, 13, 5)))
    assert not click.gaps
    assert len(click.pauses) == 1


@pytest.mark.parametrize("sound", ["beep", "woodblock", "noise tick"])
@pytest.mark.parametrize("later_s", [0.06, 0.125, 0.25, 0.42])
def test_a_doubled_beat(sound: str, later_s: float):
    _, click = heard(Recipe(beats=doubled(PLAIN, 13, later_s), sound=sound))
    (extra,) = click.extras
    assert extra.at_s == pytest.approx(7.5 + later_s, abs=5e-4)
    assert abs(extra.off_s) == pytest.approx(min(later_s, 0.5 - later_s), abs=5e-4)
    assert (extra.instead, click.gaps) == (False, ())


@pytest.mark.parametrize("by_s", [-0.1, -0.02, 0.0055, 0.012, 0.1])
def test_a_beat_off_the_grid(by_s: float):
    _, click = heard(Recipe(beats=moved(PLAIN, 13, by_s)))
    (extra,) = click.extras
    assert extra.off_s == pytest.approx(by_s, abs=3e-4)
    assert (extra.instead, click.gaps) == (True, ())


@pytest.mark.parametrize("later_s", [0.062, 0.08, 0.1])
def test_a_doubled_beat_inside_the_first_ones_tail(later_s: float):
    """A triangle rings: its second stroke raises the level by less than half."""
    _, click = heard(Recipe(beats=doubled(PLAIN, 13, later_s), sound="triangle"))
    (extra,) = click.extras
    assert extra.at_s == pytest.approx(7.5 + later_s, abs=3e-3)
    assert not click.gaps


def test_a_quiet_sound_just_before_a_tick_does_not_double_it():
    samples = build(Recipe(beats=PLAIN, sound="clave", peak_db=-6.0)).samples.copy()
    for beat in PLAIN[8:12]:
        at = round(beat.at_s * 48_000) - 480
        samples[at : at + 96, 0] += 0.02 * np.sin(np.arange(96)).astype(np.float32)
    click = hear(samples, 48_000)
    assert click is not None
    assert (len(click.beats_s), click.extras, click.gaps) == (40, (), ())


def test_a_beat_within_five_milliseconds_is_on_the_grid():
    _, click = heard(Recipe(beats=moved(PLAIN, 13, 0.0045)))
    assert not click.extras


def test_a_tempo_a_thousandth_off_shows():
    _, click = heard(Recipe(beats=even_beats(120.12, 10)))
    assert click.bpm == pytest.approx(120.12, abs=0.006)


@pytest.mark.parametrize("seed", range(14))
def test_clean_clicks_of_the_lab_raise_no_alarm(seed: int):
    """Seeds of the tuning set, so that a change for the worse shows at once."""
    made = build(random_recipe(seed))
    result = score(made, hear(made.samples, made.recipe.rate_hz))
    assert result.faults == 0
    assert result.f_measure >= (0.99 if made.recipe.speech_db is not None else 1.0)
    assert result.median_error_s < 1e-4


# --- count-in ---------------------------------------------------------------------------------------

BEATS = tuple(1.0 + 0.5 * n for n in range(32))
BARS = tuple(n % 4 == 0 for n in range(32))


@pytest.mark.parametrize(("music_s", "beats"), [
    (5.0, 8), (3.0, 4), (1.0, 0), (0.2, 0),
    (4.98, 8),  # a player is early
    (5.02, 8),
    (4.5, 8),  # a pick-up on the last beat
    (5.5, 8),  # a rest on the first
    (None, None),
])  # fmt: skip
def test_count_in_is_what_comes_before_the_musics_bar(music_s: float | None, beats: int | None):
    assert count_in(BEATS, BARS, music_s) == beats


def test_without_accents_the_count_in_ends_at_the_music():
    assert count_in(BEATS, (False,) * 32, 3.0) == 4
    assert count_in(BEATS, (False,) * 32, 3.9) == 6


def test_a_click_that_only_counts_in():
    assert count_in(BEATS[:4], BARS[:4], 3.0) == 4
    assert count_in(BEATS[:4], BARS[:4], 60.0) == 4


@pytest.mark.parametrize(("sounds_s", "music_s"), [
    ((3.0, 3.01, 5.0), 3.0),
    ((0.0, 3.0, 3.2), 3.0),  # hiss, or an offset, from the first frame on
    ((0.009, 3.0, 3.2), 3.0),
    ((0.011, 3.0, 3.2), 0.011),
    ((0.0, 0.0, 0.0), 0.0),
    ((1.003, 3.0, 5.0), 3.0),  # sticks
    ((1.0, 1.0, 3.0), 1.0),
    ((1.0, 20.0), 1.0),
    ((), None),
])  # fmt: skip
def test_the_music_begins_with_what_is_no_counting(sounds_s: tuple[float, ...], music_s: float | None):
    assert music_start(BEATS, sounds_s) == music_s


# --- what is no click -------------------------------------------------------------------------------


def quiet_noise():
    return signals.noise(5.0, rms=0.05)


@pytest.mark.parametrize("take", [
    signals.silence(3.0), signals.sine(440, 3.0), quiet_noise(), signals.timecode(4.0),
])  # fmt: skip
def test_other_sounds_are_no_click(take):
    assert hear(take[0], 48_000) is None


def counted_in(sound: str, accents: str, bpm: float, beats: int, bars: int) -> Recipe:
    """A click that counts in and falls silent."""
    plan = tuple(Beat(at_s=0.5 + i * 60.0 / bpm, first=i % beats == 0) for i in range(beats * bars))
    return Recipe(beats=plan, sound=sound, accents=accents, rate_hz=44_100)


@pytest.mark.parametrize("bars", [1, 2, 3])
@pytest.mark.parametrize("beats", [3, 4, 5, 6, 7, 8])
@pytest.mark.parametrize(("sound", "accents", "bpm"), [
    ("beep", "both", 120.0), ("woodblock", "both", 76.0), ("hi-hat", "pitch", 168.0), ("rim", "none", 100.0),
])  # fmt: skip
def test_a_count_in_of_few_bars_is_whole(sound: str, accents: str, bpm: float, beats: int, bars: int):
    result, click = clean_score(counted_in(sound, accents, bpm, beats, bars))
    assert len(click.beats_s) == beats * bars
    assert result.f_measure == 1.0
    if bars > 1 and accents != "none":
        assert click.accents == tuple(i % beats == 0 for i in range(beats * bars))


@pytest.mark.parametrize("bars", [2, 3])
def test_a_count_in_of_twos_is_whole(bars: int):
    _, click = clean_score(counted_in("clave", "both", 92.0, 2, bars))
    assert len(click.beats_s) == 2 * bars


@pytest.mark.parametrize(("bars", "row"), [(2, 3), (2, 4), (3, 3), (3, 5), (3, 8)])
@pytest.mark.parametrize("sound", ["beep", "rim"])
def test_a_hole_in_a_count_in_is_a_gap(sound: str, bars: int, row: int):
    recipe = counted_in(sound, "both", 120.0, 4, bars)
    made, click = heard(replace(recipe, beats=missing(recipe.beats, row, 1)))
    assert [(gap.beats, round(gap.at_s, 2)) for gap in click.gaps] == [(1, recipe.beats[row].at_s)]
    assert len(click.beats_s) == len(made.beats_s) == 4 * bars - 1


def test_two_ticks_are_no_click_and_three_are():
    assert hear(build(Recipe(beats=PLAIN[:2])).samples, 48_000) is None
    click = hear(build(Recipe(beats=PLAIN[:3])).samples, 48_000)
    assert click is not None
    assert len(click.beats_s) == 3


@pytest.mark.parametrize("sound", ["beep", "woodblock", "clave", "noise tick"])
def test_what_the_cheap_signature_calls_a_click_is_one_here(sound: str):
    made = build(Recipe(beats=even_beats(112, 8), sound=sound))
    assert fed(NatureMeter(48_000, 1), made.samples).result(0).tick_share >= 0.8
    assert hear(made.samples, 48_000) is not None


# --- the meter --------------------------------------------------------------------------------------


def ticks(samples, size: int = 65_536):
    return fed(TickMeter(48_000, samples.shape[1]), samples, size).result()


def test_any_block_size_gives_the_same_ticks():
    samples = build(Recipe(beats=even_beats(133, 6), sound="hi-hat", sides=2)).samples
    whole = ticks(samples)
    for size in BLOCK_SIZES:
        cut = ticks(samples, size)
        np.testing.assert_array_equal(cut.at_s, whole.at_s)
        np.testing.assert_array_equal(cut.kind, whole.kind)
        np.testing.assert_array_equal(cut.level_db, whole.level_db)


def test_twice_as_loud_is_six_decibels_and_nothing_else():
    samples = build(Recipe(beats=even_beats(133, 6), sound="clave", peak_db=-12.0)).samples
    once, twice = ticks(samples), ticks(samples * np.float32(2.0))
    np.testing.assert_allclose(twice.at_s, once.at_s, atol=1e-6)
    np.testing.assert_allclose(twice.level_db - once.level_db, 6.0206, atol=0.01)


def test_later_is_later():
    samples = build(Recipe(beats=even_beats(133, 6), sound="rim")).samples
    later = np.concatenate([np.zeros((1234, 1), np.float32), samples])
    np.testing.assert_allclose(ticks(later).at_s - ticks(samples).at_s, 1234 / 48_000, atol=1e-6)


def test_a_long_click_keeps_little():
    """What the meter holds of the audio is less than a tenth of a second, whatever came."""
    samples = build(Recipe(beats=even_beats(180, 10))).samples
    meter = TickMeter(48_000, 1)
    for _ in range(20):
        meter.add(samples)
        assert len(meter._held) < 4800
    assert len(meter.result()) == 20 * 40


def test_it_refuses_what_is_no_block():
    meter = TickMeter(48_000, 1)
    with pytest.raises(BadSamplesError):
        meter.add(np.zeros((10, 2), np.float32))
    with pytest.raises(BadSamplesError):
        TickMeter(100, 1)
    assert len(meter.result()) == 0
    with pytest.raises(ValueError, match="already"):
        meter.add(np.zeros((10, 1), np.float32))


# --- whole shows ------------------------------------------------------------------------------------


def test_the_corpus_beats_are_found_to_the_sample():
    corpus = shared_folder("corpus")
    truth = json.loads((corpus / "truth.json").read_text(encoding="utf-8"))
    for song in truth["songs"]:
        file = next(iter(sorted((corpus / song["folder"]).glob("Click.*"))))
        samples, rate = soundfile.read(file, dtype="float32", always_2d=True)
        click = hear(samples, rate)
        assert click is not None
        beats = np.array([beat["sample"] for beat in song["beats"]]) / rate
        f_measure = mir_eval.beat.f_measure(beats, np.array(click.beats_s), f_measure_threshold=0.005)
        assert f_measure == 1.0
        assert np.median(np.abs(np.array(click.beats_s) - beats)) < 1e-4
        assert click.bpm == pytest.approx(song["tempo_map"][0]["bpm"], rel=1e-4)
        assert not click.gaps
        assert not click.extras


def test_the_ordinary_shows_clicks_are_read_as_written(ordinary: OrdinaryShow, ordinary_scan: ShowAudit):
    told = {song.evidence.name: song.evidence.click for song in ordinary_scan.songs}
    compared = 0
    for song in ordinary.songs:
        click = told[song.folder]
        if song.click_file in (None, "Guide.wav"):
            assert click is None  # a click inside the guide is the guide's
            continue
        assert click is not None
        beats = np.array([mark.sample for mark in song.clicks]) / ordinary.rate_hz
        found = np.array(click.beats_s)
        assert mir_eval.beat.f_measure(beats, found, f_measure_threshold=0.005) == 1.0
        assert np.median(np.abs(found - beats)) < 1e-4
        assert click.accents == tuple(mark.accent for mark in song.clicks)
        assert click.metre == song.metre.text
        assert not click.gaps
        assert not click.extras
        music = any(role.audience for stem in song.stems for role in stem.roles)
        assert click.count_in_beats == (song.count_in_beats if music else None)
        compared += 1
    assert compared == 12
