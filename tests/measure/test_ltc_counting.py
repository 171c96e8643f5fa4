"""Jumps, runs, rate and flag: what is planted into timecode is found at its place and told for what it is."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from audit.measure.ltc_counting import MOST_JUMPS
from audit.measure.timecode import TimecodeReader
from audit.results import JumpKind, TimecodeJump, TimecodeTrack
from audit.timecode import FPS_25, FPS_29_97, FPS_29_97_DROP, FPS_30, Label, index_of, label_at
from tests import ltc, signals

RATE_HZ = 48_000
NTSC = Fraction(30_000, 1001)
FRAME = 1920  # samples of a frame at 25


def code(seconds: float, start: str = "01:00:00:00", **more: object) -> np.ndarray:
    return np.asarray(signals.timecode(seconds, start=start, **more)[0][:, 0])  # type: ignore[arg-type]


def track(*pieces: np.ndarray, rate_hz: int = RATE_HZ) -> TimecodeTrack:
    reader = TimecodeReader(rate_hz)
    wave = np.concatenate(pieces).astype(np.float32)
    for at in range(0, len(wave), 20_000):
        reader.add(wave[at : at + 20_000])
    reader.end()
    found = reader.track(0)
    assert found is not None
    return found


def only(found: TimecodeTrack) -> TimecodeJump:
    assert found.jump_count == len(found.jumps) == 1, found.jumps
    return found.jumps[0]


@pytest.mark.parametrize("missing", [1, 2, 30])
def test_frames_that_are_gone_while_the_count_goes_on(missing: int):
    wave = code(6.0)
    wave[50 * FRAME : (50 + missing) * FRAME] = 0.0
    jump = only(track(wave))
    assert (jump.kind, jump.frames, jump.silent) == (JumpKind.MISSING, missing, True)
    assert jump.at_s == pytest.approx(2.0, abs=1e-3)
    assert (jump.before, jump.after) == (Label(1, 0, 1, 24), Label(1, 0, 2 + missing // 25, missing % 25))
    assert len(track(wave).runs) == 1


def test_frames_that_are_garbled_are_missing_and_not_silent():
    wave = code(4.0)
    wave[50 * FRAME : 53 * FRAME] = np.random.default_rng(1).normal(0, 0.3, 3 * FRAME)
    jump = only(track(wave))
    assert (jump.kind, jump.silent) == (JumpKind.MISSING, False)
    assert jump.frames in (3, 4)  # the frame before may lose its last edge


def test_a_hole_of_a_millisecond_costs_one_frame():
    wave = code(4.0)
    wave[50 * FRAME + 700 : 50 * FRAME + 748] = 0.0
    jump = only(track(wave))
    assert (jump.kind, jump.frames, jump.before) == (JumpKind.MISSING, 1, Label(1, 0, 1, 24))


@pytest.mark.parametrize("skipped", [1, 2, 25, 1000])
def test_numbers_that_skip(skipped: int):
    after = Label(1, 0, 2 + skipped // 25, skipped % 25)
    found = track(code(2.0), code(2.0, after.text(FPS_25)))
    jump = only(found)
    assert (jump.kind, jump.frames) == (JumpKind.FORWARD, skipped)
    assert (jump.before, jump.after) == (Label(1, 0, 1, 24), after)
    assert jump.at_s == pytest.approx(2.0, abs=1e-4)
    last = label_at(index_of(after, FPS_25) + 49, FPS_25)
    assert [(run.first, run.last) for run in found.runs] == [(Label(1), Label(1, 0, 1, 24)), (after, last)]


def test_a_skip_from_23_to_0_is_no_second_of_24():
    """The count of the whole file tells that 25 numbers belong to a second."""
    wave = code(6.0)
    jump = only(track(np.delete(wave, np.s_[74 * FRAME : 75 * FRAME])))
    assert (jump.kind, jump.frames) == (JumpKind.FORWARD, 1)
    assert (jump.before, jump.after) == (Label(1, 0, 2, 23), Label(1, 0, 3, 0))


@pytest.mark.parametrize("times", [1, 3])
def test_a_frame_that_is_repeated(times: int):
    wave = code(4.0)
    again = np.tile(wave[49 * FRAME : 50 * FRAME], times)
    jump = only(track(wave[: 50 * FRAME], again, wave[50 * FRAME :]))
    assert (jump.kind, jump.frames) == (JumpKind.REPEATED, times)
    assert jump.before == jump.after == Label(1, 0, 1, 24)


def test_a_loop_goes_back():
    jump = only(track(code(2.0), code(2.0)))
    assert (jump.kind, jump.frames, jump.after) == (JumpKind.BACKWARD, 49, Label(1))


def test_a_pause_holds_the_count():
    jump = only(track(code(2.0), np.zeros(RATE_HZ), code(2.0, "01:00:02:00")))
    assert (jump.kind, jump.frames) == (JumpKind.HELD, 25)


def test_a_cut_inside_a_frame_shifts_the_rhythm():
    wave = code(4.0)
    found = track(np.delete(wave, np.s_[50 * FRAME + 200 : 50 * FRAME + 200 + 960]))
    jump = only(found)
    assert jump.kind is JumpKind.SLIPPED
    assert jump.frames == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("share", [0.15, 0.3, 0.45])
def test_a_pause_shorter_than_a_frame_shifts_the_rhythm(share: float):
    wave = code(4.0)
    jump = only(track(wave[: 50 * FRAME], np.zeros(round(share * FRAME)), wave[50 * FRAME :]))
    assert (jump.kind, jump.before, jump.after) == (JumpKind.SLIPPED, Label(1, 0, 1, 24), Label(1, 0, 2, 0))
    assert jump.frames == pytest.approx(-share, abs=0.01)


def test_another_sound_in_its_place_is_not_silence():
    """A tone of 1 kHz has as many edges as a frame of zeros."""
    wave = code(4.0)
    wave[50 * FRAME : 60 * FRAME] = signals.sine(1000, 0.4)[0][:, 0]
    jump = only(track(wave))
    assert (jump.kind, jump.silent) == (JumpKind.MISSING, False)


def test_one_frame_with_another_number_is_one_jump():
    wave = code(4.0)
    wave[50 * FRAME : 51 * FRAME] = code(0.04, "07:00:00:00")[:FRAME]
    jump = only(track(wave))
    assert (jump.kind, jump.before, jump.after) == (JumpKind.STRAY, Label(1, 0, 1, 24), Label(7))


def test_a_tape_that_turns():
    wave = code(2.0)
    found = track(wave, wave[::-1])
    assert found.jumps[0].kind is JumpKind.TURNED
    assert found.jump_count == 1
    assert not found.backward or found.frames == 2 * 50


def test_midnight_is_no_jump():
    found = track(code(4.0, "23:59:58:00"))
    assert found.jump_count == 0
    assert (found.first, found.last) == (Label(23, 59, 58, 0), Label(0, 0, 1, 24))


def test_frames_that_are_gone_at_midnight_are_counted_across_it():
    wave = code(4.0, "23:59:58:00")
    wave[48 * FRAME : 53 * FRAME] = 0.0
    jump = only(track(wave))
    assert (jump.kind, jump.frames, jump.after) == (JumpKind.MISSING, 5, Label(0, 0, 0, 3))


@pytest.mark.parametrize(
    ("start", "drop", "dropped", "plain"),
    [
        ("00:00:58:00", True, 1, 0), ("00:09:58:00", True, 0, 0), ("00:00:58:00", False, 0, 1),
        ("23:59:58:00", True, 0, 0),
    ],
)  # fmt: skip
def test_full_minutes_tell_how_the_numbers_are_counted(start: str, drop: bool, dropped: int, plain: int):
    """IEC 60461:2010, 4: 00:00:59;29 is followed by 00:01:00;02, but 00:09:59;29 by 00:10:00;00."""
    found = track(code(4.0, start, fps=NTSC, drop=drop))
    assert found.jump_count == 0
    assert (found.dropped_minutes, found.plain_minutes) == (dropped, plain)
    assert found.rate == (FPS_29_97_DROP if drop else FPS_29_97)
    assert found.drop_flags == (found.frames if drop else 0)


def mixed(*, counted: bool, flagged: bool) -> np.ndarray:
    """29.97 that counts one way and flags another."""
    addresses = ltc.count_frames("00:00:58:00", 100, fps=30, drop=counted)
    words = [ltc.word(*address, drop=flagged, fps=30) for address in addresses]
    bits = np.array(words).ravel()
    edges = np.sort(np.concatenate([2 * np.arange(len(bits)), 2 * np.flatnonzero(bits) + 1]))
    half = RATE_HZ / float(NTSC) / 160
    places = np.arange(round(len(bits) * 2 * half)) / half
    return np.where(np.searchsorted(edges, places, side="right") % 2, 0.5, -0.5)


@pytest.mark.parametrize("counted", [True, False])
def test_the_counting_decides_the_rate_not_the_flag(counted: bool):
    found = track(mixed(counted=counted, flagged=not counted))
    assert found.rate.drop_frame is counted
    assert (found.drop_flags == 0) is counted
    assert found.jump_count == 0


def test_without_a_full_minute_the_flag_decides():
    assert track(code(3.0, fps=NTSC, drop=True)).rate == FPS_29_97_DROP
    assert track(code(3.0, fps=NTSC)).rate == FPS_29_97
    assert track(code(3.0, fps=30)).rate == FPS_30


@pytest.mark.parametrize(
    ("fps", "text"),
    [(Fraction(24_000, 1001), "23.976"), (24, "24"), (25, "25"), (NTSC, "29.97 NDF"), (30, "30")],
)
def test_less_than_a_second_is_known_by_its_speed(fps: Fraction, text: str):
    found = track(code(0.6, fps=fps, start="10:00:00:02"))
    assert found.rate.text == text
    assert found.off_ppm == pytest.approx(0, abs=40)


def test_more_jumps_than_are_kept_are_counted():
    wave = code(0.08)
    found = track(*[wave] * (MOST_JUMPS + 20))  # two frames, again and again
    assert len(found.jumps) <= MOST_JUMPS
    assert found.jump_count == MOST_JUMPS + 19


def test_a_weak_frame_is_found():
    wave = code(4.0)
    wave[50 * FRAME : 51 * FRAME] *= 0.35
    found = track(wave)
    assert found.jump_count == 0
    assert found.level_dbfs == pytest.approx(-6.1, abs=0.1)
    assert found.lowest_level_dbfs == pytest.approx(-15.1, abs=0.3)
    assert found.lowest_level_at_s == pytest.approx(2.0, abs=0.01)
