"""DamageMeter: planted holes, repeated blocks and clicks are found in their places; clean sound is silent."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from audit.measure import repeats, splices
from audit.measure.damage import MOST_PLACES, DamageMeter, _first
from audit.measure.splices import SpliceFinder
from audit.results import Damage, SpliceClick
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, fed
from tests.provoking import PROVOKING, Provoking
from tests.provoking.kit import chord, time
from tests.waves import Samples

RATE_HZ = 48_000
AT = 187_345
STAIR = 48 * 3903


def damage(
    samples: Samples, *, bits: int | None = 24, is_float: bool = False, rate_hz: int = RATE_HZ,
    size: int = 65_536, part: tuple[int, ...] | None = None,
) -> Damage:  # fmt: skip
    meter = DamageMeter(rate_hz, samples.shape[1], bits=bits, is_float=is_float)
    return fed(meter, samples, size).result(part)


@pytest.fixture(scope="module")
def bed() -> Samples:
    return signals.quantise(signals.music_bed(8.0, seed=61)[0], 24)


@pytest.fixture(scope="module")
def held() -> Samples:
    """A held chord with a little noise, mono."""
    wave = 0.05 * chord((45, 52, 57, 61), time()) + 0.0005 * np.random.default_rng(62).standard_normal(
        384_000
    )
    return signals.quantise(wave[:, None].astype(np.float32), 24)


# --- dropouts ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("milliseconds", [2, 5, 20, 50])
def test_a_hole_is_found_at_its_sample(bed, milliseconds):
    frames = 48 * milliseconds
    found = damage(signals.dropout(bed, AT, frames)[0])
    assert [(hole.at_frame, hole.frames, hole.value, hole.channels) for hole in found.holes] == [
        (AT, frames, 0.0, (0, 1))
    ]
    assert (found.hole_count, found.longest_hole_frames) == (1, frames)
    assert found.holes[0].level_dbfs == pytest.approx(
        20 * np.log10(np.sqrt(np.mean(bed[AT - 960 : AT, 0].astype(float) ** 2))), abs=0.01
    )


def test_a_hole_of_100_ms_in_a_held_chord(held):
    (hole,) = damage(signals.dropout(held, AT, 4800)[0]).holes
    assert (hole.at_frame, hole.frames) == (AT, 4800)


@pytest.mark.parametrize("fade", [4, 16, 32])
def test_a_hole_with_short_fades(bed, fade):
    holed = bed.copy()
    gain = np.zeros(240)
    gain[:fade] = np.linspace(1, 0, fade, endpoint=False)
    gain[240 - fade :] = gain[:fade][::-1]
    holed[AT : AT + 240] *= gain[:, None].astype(np.float32)
    (hole,) = damage(signals.quantise(holed, 24)).holes
    assert AT <= hole.at_frame <= AT + fade
    assert 240 - 2 * fade <= hole.frames <= 240


def test_a_hole_on_one_channel(bed):
    holed = bed.copy()
    holed[AT : AT + 240, 1] = 0.0
    (hole,) = damage(holed).holes
    assert hole.channels == (1,)
    assert damage(holed, part=(0,)) == Damage()


@pytest.mark.parametrize("value", ["held", 0.05])
def test_a_held_value_is_a_hole(held, value):
    holed = held.copy()
    holed[AT : AT + 480] = holed[AT] if value == "held" else np.float32(value)
    (hole,) = damage(holed).holes
    assert AT <= hole.at_frame <= AT + 1
    assert hole.value == pytest.approx(float(holed[AT + 100, 0]))


@pytest.mark.parametrize(
    ("bits", "is_float", "dither"), [(16, False, False), (16, False, True), (None, True, False)]
)
def test_holes_in_other_formats(bed, bits, is_float, dither):
    """Dither of 16 bits leaves silence within one code; a hole of it is one all the same."""
    holed = signals.dropout(bed, AT, 480)[0]
    samples = signals.quantise(holed, bits, dither=dither) if bits else holed
    found = damage(samples, bits=bits, is_float=is_float)
    assert found.hole_count == 1
    assert abs(found.holes[0].at_frame - AT) <= 2


@pytest.mark.parametrize(
    ("level_dbfs", "within", "told"),
    [(-57.0, "codes", True), (-60.0, "codes", False), (-57.0, "zeros", True), (-60.0, "zeros", True)],
)
def test_the_quietest_holes_of_16_bits_are_told_where_they_are_zeros_throughout(
    held, level_dbfs, within, told
):
    """Codes of 0, 1 and −1 for 5 ms in a voice at −60 dBFS may be its own wave between two pulses."""
    level = np.sqrt(np.mean(held[AT - 960 : AT].astype(float) ** 2))
    quiet = (held[AT - 48_000 : AT + 48_000] * 10 ** (level_dbfs / 20) / level).astype(np.float32)
    quiet[48_000:48_240] = 0.0
    codes = signals.quantise(quiet, 16, dither=True, seed=3)
    codes[48_000 : 48_240 if within == "zeros" else 48_001] = 0.0
    assert bool(damage(codes, bits=16).hole_count) is told


def test_a_fade_into_a_rest_and_an_attack_after_it_are_none(held):
    """Both edges have to be cuts: 6 ms of fade at both ends are a player's."""
    gain = np.ones(len(held))
    gain[AT : AT + 4800] = 0.0
    gain[AT - 288 : AT] = np.linspace(1, 0, 288)
    gain[AT + 4800 : AT + 5088] = np.linspace(0, 1, 288)
    assert damage(held * gain[:, None].astype(np.float32)).hole_count == 0


def test_many_holes_are_the_sound(held):
    """The same hole eight times a second is a tremolo; once it is a fault."""
    gated = held.copy()
    for at in range(30_000, 380_000, 6000):
        gated[at : at + 2000] = 0.0
    assert damage(gated).hole_count == 0
    assert damage(signals.dropout(held, 30_000, 2000)[0]).hole_count == 1


def test_many_holes_at_odd_places_are_the_sound_too(held):
    chopped = held.copy()
    for at in 100_000 + np.array([0, 9_100, 15_300, 27_900, 34_000, 47_300]):
        chopped[at : at + 2000] = 0.0
    assert damage(chopped).hole_count == 0


def test_a_held_value_among_stairs_is_one_stair_more(held):
    """Few bits, played low: it stands still for a millisecond between its steps, nearly."""
    wobble = 1e-5 * np.random.default_rng(3).standard_normal(held.shape).astype(np.float32)
    stairs = np.repeat(np.round(40.0 * held[::48]) / 40.0, 48, axis=0)[: len(held)] + wobble
    assert damage(signals.dropout(held, STAIR, 96)[0]).hole_count == 1
    assert damage(signals.dropout(stairs, STAIR, 96)[0]).hole_count == 0


@pytest.mark.parametrize(("dither", "bits"), [(True, 16), (False, 16), (False, 24)])
@pytest.mark.parametrize("crushed", [True, False])
def test_the_middle_stair_of_crushed_sound_is_no_hole(crushed: bool, dither: bool, bits: int):
    """Samples are held for four and lie on steps of 160 codes of 16 bits, so that a quarter of them moves.
    Where they are not held the same silence is a hole."""
    rng, at = np.random.default_rng(8), 70_000
    held_for = 4 if crushed else 1
    stairs = np.repeat(rng.integers(-4, 5, 3 * RATE_HZ // held_for), held_for) * 160 / 2**15
    stairs[at : at + 110] = 0.0
    coded = np.round(stairs * 2.0 ** (bits - 1) + (rng.integers(-1, 2, len(stairs)) if dither else 0.0))
    wave = (coded / 2.0 ** (bits - 1)).astype(np.float32)[:, None]
    assert damage(wave, bits=bits).hole_count == (0 if crushed else 1)


def test_a_short_rest_between_two_fades_is_none(held):
    """8 ms of silence, but 5 ms of fade before and after it: a gate, however short."""
    gain = np.ones(len(held))
    gain[AT : AT + 384] = 0.0
    gain[AT - 240 : AT] = np.linspace(1, 0, 240)
    gain[AT + 384 : AT + 624] = np.linspace(0, 1, 240)
    assert damage(held * gain[:, None].astype(np.float32)).hole_count == 0


# --- repeated blocks --------------------------------------------------------------------------------


def inserted(samples: Samples, at: int, frames: int, times: int = 1) -> Samples:
    block = samples[at : at + frames]
    return np.concatenate([samples[: at + frames], *[block] * times, samples[at + frames :]])


def overwritten(samples: Samples, at: int, frames: int) -> Samples:
    copy = samples.copy()
    copy[at + frames : at + 2 * frames] = samples[at : at + frames]
    return copy


@pytest.mark.parametrize("frames", [64, 256, 480, 1024, 4096])
@pytest.mark.parametrize("plant", [inserted, overwritten])
def test_a_block_played_twice(bed, frames, plant):
    (found,) = damage(plant(bed, AT, frames)).repeats
    assert abs(found.at_frame - (AT + frames)) <= repeats.SLACK
    assert abs(found.frames - frames) <= repeats.SLACK
    assert (found.lag_frames, found.times, found.channels) == (frames, 1, (0, 1))


def test_a_block_played_four_times_and_one_that_comes_back_after_the_next(bed):
    (found,) = damage(inserted(bed, AT, 512, 3)).repeats
    assert (found.times, found.lag_frames) == (3, 512)
    again = bed.copy()
    again[AT + 1024 : AT + 1536] = bed[AT : AT + 512]
    (found,) = damage(again).repeats
    assert found.lag_frames == 1024
    assert abs(found.frames - 512) <= repeats.SLACK


def test_a_block_past_the_largest_buffer_and_one_below_the_smallest_are_none(bed):
    assert damage(overwritten(bed, AT, 4200)).repeat_count == 0
    assert damage(overwritten(bed, AT, 48)).repeat_count == 0


def test_a_sample_triggered_twice_is_none():
    """It begins with an attack both times; a buffer begins anywhere."""
    random = np.random.default_rng(66)
    tone = 0.02 * np.sin(2 * np.pi * 330 * np.arange(96_000) / RATE_HZ)
    hit = 0.4 * random.standard_normal(4000) * np.exp(-np.arange(4000) / 900)
    tone[48_000:49_286] = tone[49_286:50_572] = hit[:1286]
    tone[50_572:54_572] = 0.4 * random.standard_normal(4000) * np.exp(-np.arange(4000) / 400)
    assert damage(signals.quantise(tone[:, None].astype(np.float32), 24)).repeat_count == 0


def test_noise_has_no_seam_and_is_found_by_equality_alone():
    hiss = signals.quantise(signals.noise(4.0, seed=63)[0], 24)
    (found,) = damage(inserted(hiss, 90_000, 256)).repeats
    assert found.at_frame == 90_256


# --- clicks -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [0.3, 0.1, 0.03])
def test_a_wrong_sample_in_a_held_chord(held, size):
    broken = held.copy()
    broken[AT] += np.float32(size)
    (found,) = damage(broken).clicks
    assert abs(found.at_frame - AT) <= 2
    assert found.size_dbfs == pytest.approx(20 * np.log10(size), abs=1.0)


def test_a_jump_and_missing_samples(held):
    jump = held.copy()
    jump[AT:] += np.float32(0.05)
    assert [abs(click.at_frame - AT) <= 2 for click in damage(jump).clicks] == [True]
    joined = np.concatenate((held[:AT], held[AT + 331 :]))
    assert [abs(click.at_frame - AT) <= 2 for click in damage(joined).clicks] == [True]


@pytest.mark.parametrize("size", [0.1, 0.3, 0.6])
def test_a_jump_that_dies_away_however_loud_the_sound_is(held, size):
    """As a cut leaves it behind a high-pass: the level that it moves to is no new sound."""
    broken = held.copy()
    count = round(0.05 * RATE_HZ)
    broken[AT : AT + count, 0] += (size * np.exp(-np.arange(count) / (0.012 * RATE_HZ))).astype(np.float32)
    (found,) = damage(broken).clicks
    assert abs(found.at_frame - AT) <= 2
    assert found.size_dbfs == pytest.approx(20 * np.log10(size), abs=1.0)


@pytest.mark.parametrize("hz", [55.0, 82.4, 220.0])
def test_a_loud_note_that_begins_with_a_step_is_no_click(held, hz):
    """20 dB above what sounded before, at its highest point from the first sample on."""
    struck = held.copy()
    after = np.arange(len(held) - AT) / RATE_HZ
    struck[AT:, 0] += (0.6 * np.cos(2 * np.pi * hz * after) * np.exp(-4 * after)).astype(np.float32)
    assert damage(struck).clicks == ()


def test_a_click_on_one_side(bed):
    broken = bed.copy()
    broken[AT, 1] += np.float32(0.2)
    (found,) = damage(broken).clicks
    assert found.channels == (1,)


@pytest.mark.parametrize("bits", [24, 16])
def test_a_click_at_full_scale_is_marked_as_such(held, bits):
    """The corners that clipping leaves; of the file's own bits, or of 16 in a larger one."""
    broken = signals.quantise(held, bits)
    broken[AT] += np.float32(0.3)
    broken[2 * AT - 70_000] = 1.0 - 2.0 ** -(bits - 1)
    inside, at_full = damage(broken).clicks
    assert (inside.at_full_scale, at_full.at_full_scale) == (False, True)


@pytest.mark.parametrize(("away_ms", "near"), [(-4.9, True), (4.9, True), (-7.6, False), (7.6, False)])
def test_near_full_scale_is_within_some_five_milliseconds(away_ms: float, near: bool):
    finder = SpliceFinder(RATE_HZ, bits=24, is_float=False)
    wave = np.full(1 << 16, 1e-3, dtype=np.float32)
    wave[40_000] = -1.0
    finder.look(wave, 1 << 14, (1 << 14) + (1 << 15), first_frame=480_000)
    branch = finder.branch()
    assert finder.is_at_full_scale(520_000 + round(away_ms * 48)) is near
    assert branch.is_at_full_scale(520_000)
    assert not branch.is_at_full_scale(480_000)
    assert not branch.is_at_full_scale(10_000_000)


def test_twice_as_large_is_six_decibels_more(held):
    levels = []
    for size in (0.1, 0.2):
        broken = held.copy()
        broken[AT] += np.float32(size)
        levels.append(damage(broken).clicks[0].size_dbfs)
    assert levels[1] - levels[0] == pytest.approx(6.02, abs=0.1)


def test_clicks_by_the_dozen_or_at_even_distances_are_the_sound(held):
    crackle = held.copy()
    crackle[np.random.default_rng(64).integers(20_000, 370_000, 40)] += np.float32(0.2)
    assert damage(crackle).click_count == 0
    even = held.copy()
    even[[60_000, 156_000, 252_000]] += np.float32(0.2)
    assert damage(even).click_count == 0
    uneven = held.copy()
    uneven[[60_000, 157_000, 252_000]] += np.float32(0.2)
    assert damage(uneven).click_count == 3
    assert splices.NEARBY >= 3


# --- clean ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stem", PROVOKING, ids=lambda stem: stem.name)
def test_provoking_stems_are_silent(stem: Provoking):
    assert damage(stem.make()) == Damage(), stem.reason


def test_there_are_enough_of_them_and_each_says_why():
    assert len(PROVOKING) >= 40
    assert len({stem.name for stem in PROVOKING}) == len(PROVOKING)
    assert all(len(stem.reason.split()) >= 4 for stem in PROVOKING)


@pytest.mark.parametrize(
    "take",
    [signals.silence(1.0)[0], signals.silence(0.0)[0], np.full((60_000, 1), 0.5, np.float32)],
    ids=["silence", "nothing", "a constant"],
)
def test_nothing_is_not_damaged(take):
    assert damage(take) == Damage()


# --- relations --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def all_three(bed) -> Samples:
    broken = inserted(signals.dropout(bed, 60_000, 480)[0], 250_000, 256)
    broken[150_000] += np.float32(0.3)
    return np.ascontiguousarray(broken)


def test_all_three_at_once(all_three):
    found = damage(all_three)
    assert (found.hole_count, found.repeat_count, found.click_count) == (1, 1, 1)


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_block_size_makes_no_difference(all_three, size):
    assert damage(all_three, size=size) == damage(all_three, size=len(all_three))


def test_half_as_loud_is_damaged_in_the_same_places(all_three):
    loud, soft = damage(all_three), damage(all_three * np.float32(0.5))
    for kind in ("holes", "repeats", "clicks"):
        assert [place.at_frame for place in getattr(loud, kind)] == [
            place.at_frame for place in getattr(soft, kind)
        ]


def test_silence_before_moves_the_places(all_three):
    ahead = 40_001
    moved = damage(np.concatenate((np.zeros((ahead, 2), np.float32), all_three)))
    found = damage(all_three)
    for kind in ("holes", "repeats", "clicks"):
        assert [place.at_frame for place in getattr(moved, kind)] == [
            place.at_frame + ahead for place in getattr(found, kind)
        ]


def test_a_result_may_be_asked_for_before_the_end(all_three):
    meter = DamageMeter(RATE_HZ, 2, bits=24, is_float=False)
    meter.add(all_three[:100_000])
    assert meter.result().hole_count == 1
    meter.add(all_three[100_000:])
    assert meter.result() == damage(all_three)


@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 96_000, 192_000])
def test_other_rates(rate_hz):
    bed = signals.quantise(signals.music_bed(4.0, rate_hz=rate_hz, seed=65)[0], 24)
    at = 2 * rate_hz + 77
    (hole,) = damage(signals.dropout(bed, at, rate_hz // 100)[0], rate_hz=rate_hz).holes
    assert (hole.at_frame, hole.frames) == (at, rate_hz // 100)
    (copy,) = damage(inserted(bed, at, 512), rate_hz=rate_hz).repeats
    assert abs(copy.at_frame - at - 512) <= repeats.SLACK


def test_a_click_in_dying_sound_is_found():
    """A drum's tail falls by 8 dB over 20 ms: less sound after the click is no sign of an end."""
    random, t = np.random.default_rng(71), np.arange(96_000) / RATE_HZ
    sound = 0.4 * random.standard_normal(96_000) + 20 * np.sin(2 * np.pi * 90 * t)
    tail = sound * np.exp(-46.0 * (t % 0.5))
    wave = (0.5 * tail / np.abs(tail).max()).astype(np.float32)[:, None]
    wave[50_400] += np.float32(0.13)
    assert [click.at_frame for click in damage(signals.quantise(wave, 24)).clicks] == [50_400]


def test_corners_of_clipped_tops_leave_room_for_another_click():
    clipped = [
        SpliceClick(at_frame=1000 * k, size_dbfs=-10.0, above_db=30.0, at_full_scale=True) for k in range(40)
    ]
    cut = SpliceClick(at_frame=90_000, size_dbfs=-10.0, above_db=30.0)
    kept = _first([*clipped, cut])
    assert len(kept) == MOST_PLACES
    assert kept[-1] is cut
    assert kept[:-1] == tuple(clipped[: MOST_PLACES - 1])


@pytest.mark.parametrize(("share", "told"), [(0.075, False), (0.09, True), (0.15, True)])
def test_a_wrong_sample_far_below_the_steps_of_the_sound_itself_is_its_own(share: float, told: bool):
    """Noise up to 3 kHz, which foretells itself well, as a beater's knock does."""
    band = scipy.signal.butter(10, 3000, fs=RATE_HZ, output="sos")
    wave = scipy.signal.sosfilt(band, np.random.default_rng(8).normal(size=3 * RATE_HZ))
    wave *= 0.1 / wave.std()
    at = 2 * RATE_HZ
    wave[at] += share * np.abs(np.diff(wave[at - 96 : at + 96])).max()
    take = signals.quantise(wave.astype(np.float32)[:, None], 24)
    assert [click.at_frame for click in damage(take).clicks] == ([at] if told else [])
