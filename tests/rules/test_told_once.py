"""One fault is told once: what follows from it is no second one with a cause of its own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.results import Reading, SameAudio, Scrambled, TimecodeTrack
from audit.timecode import FPS_25, FPS_29_97, FPS_29_97_DROP
from tests.evidence import find_rule, findings, mix, show, song, stem
from tests.rules.test_balance import at, odd, the_show
from tests.rules.test_level_loudness import BAND, STEADY, mixed, set_of
from tests.rules.test_patch import BAND as BAND_LINE
from tests.rules.test_patch import patched, summed
from tests.rules.timecode_tracks import ltc, track


def scrambled(one: StemEvidence, readable: int = 97) -> StemEvidence:
    """The stem as noise: so many of its hundred windows make sense in another order of bytes alone."""
    found = Scrambled(
        windows=100, reading=Reading.REVERSED, readable=readable, even=0, first_at_frame=0, roughness=1.9,
        roughness_read=0.01,
    )  # fmt: skip
    assert one.audio is not None
    return replace(one, audio=replace(one.audio, scrambled=found))


def with_noise(one: SongEvidence, file: str, readable: int = 97) -> SongEvidence:
    stems = tuple(scrambled(each, readable) if each.name == file else each for each in one.stems)
    return replace(one, stems=stems)


@pytest.mark.parametrize(("readable", "told"), [(97, False), (5, True)])
def test_noise_is_not_over_between_samples_too(readable: int, told: bool):
    loud = scrambled(stem("Keys.wav", peaks={"true_dbtp": 5.9}), readable)
    whole = show(song("Night Ferry", loud, stem("Bass.wav")))
    assert bool(findings("full-scale-noise", whole)) is not told
    assert bool(findings("true-peak-over", whole)) is told


@pytest.mark.parametrize(("file", "told"), [("Keys.wav", False), ("Click.wav", True)])
def test_a_song_in_which_a_stem_is_noise_is_not_told_to_be_loud(file: str, told: bool):
    """Noise that is not in the mix makes no mix loud."""
    whole = set_of(*STEADY, last=with_noise(mixed("Loud", 1.3), file))
    assert [one.songs for one in findings("song-loudness-outlier", whole)] == [("Loud",)] * told


def test_nor_are_the_others_quiet_beside_such_songs():
    noisy = [with_noise(mixed(f"Noise {n}", 1.3), "Keys.wav") for n in range(8)]
    assert not findings("song-loudness-outlier", show(*set_of(*STEADY).songs, *noisy))


def test_the_settings_say_what_noise_is():
    limit = find_rule("full-scale-noise").limit
    assert limit is not None
    wide = {"full-scale-noise": replace(limit, value=99.0)}
    whole = set_of(*STEADY, last=with_noise(mixed("Loud", 1.3), "Keys.wav"))
    assert findings("song-loudness-outlier", whole, limits=wide)


def cancelling(**more: Any) -> ShowEvidence:
    """The last song is far too quiet, and its keys are its drums upside down."""
    whole = set_of(*STEADY, last=mixed("Quiet", -40.8))
    values: dict[str, Any] = {
        "lag_frames": 0, "lag_s": 0.0, "level_db": 0.0, "likeness": 0.999, "share": 1.0, "opposed": True,
    }  # fmt: skip
    copy = SameAudio(
        first_song="Quiet", first=BAND[0], second_song="Quiet", second=BAND[2], **{**values, **more}
    )
    return replace(whole, copies=(copy,))


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({}, False),
        ({"level_db": -5.9}, False),
        ({"level_db": -6.1}, True),  # little cancels
        ({"lag_s": 0.0009}, False),
        ({"lag_s": -0.0011}, True),
        ({"opposed": False}, True),
        ({"share": 0.5}, True),  # no copy by its limit
    ],
)
def test_a_song_of_which_two_stems_cancel_is_not_told_to_be_quiet(more: dict[str, Any], told: bool):
    assert bool(findings("song-loudness-outlier", cancelling(**more))) is told


@pytest.mark.parametrize(("readable", "told"), [(97, False), (5, True)])
def test_noise_is_no_role_that_is_too_loud(readable: int, told: bool):
    bass, *others = odd(-6.0)
    assert bool(findings("role-level-outlier", the_show(scrambled(bass, readable), *others))) is told


def test_songs_with_noise_are_nothing_to_compare_a_role_with():
    noisy = []
    for n in range(6):
        stems = (scrambled(at("Bass.wav", 0.0)), at("Drums.wav", -17.0), at("Keys.wav", -22.0))
        noisy.append(song(f"Noise {n}", *stems, mix=mix(from_stems=tuple(one.name for one in stems))))
    assert not findings("role-level-outlier", show(*the_show(*odd(-20.0)).songs, *noisy))


@pytest.mark.parametrize(("file", "told"), [("Bass.wav", False), ("LTC.wav", True)])
def test_noise_on_an_output_is_no_overload(file: str, told: bool):
    night = with_noise(summed(5.8), file)
    assert bool(findings("output-overload", patched(BAND_LINE, songs=(night,)))) is told


@pytest.mark.parametrize(("rate_hz", "told"), [(44_100, False), (48_000, True)])
def test_what_plays_too_slowly_says_no_timecode_ends_too_early(rate_hz: int, told: bool):
    """Keys of as many frames as the others, under another rate in their header, sound for 5 s longer."""
    frames = 2_880_000
    others = [stem(file, frames=frames) for file in ("Drums.wav", "Bass.wav", "Guitar.wav")]
    keys = stem(
        "Keys.wav", frames=frames + (0 if rate_hz != 48_000 else 5 * 48_000), rate_hz=rate_hz,
        activity={"last_sound_frame": frames if rate_hz != 48_000 else frames + 5 * 48_000},
    )  # fmt: skip
    whole = show(song("Night Ferry", ltc(track(seconds=60.0)), *others, keys))
    assert bool(findings("wrong-rate-header", whole)) is not told
    assert bool(findings("timecode-late", whole)) is told


def codes(odd: StemEvidence, others: int = 4) -> ShowEvidence:
    """The stem beside songs whose timecode lies at −12 dBFS and can be read."""
    usual = [song(f"Song {n}", code(track(f"{n + 2:02d}:00:00:00"), -12.0)) for n in range(others)]
    return show(*usual, song("Odd", odd))


def code(found: TimecodeTrack | None, rms_dbfs: float) -> StemEvidence:
    return ltc(found, levels={"active_rms_dbfs": rms_dbfs})


@pytest.mark.parametrize(("found", "told"), [(None, False), (track(seconds=20.0), False), (track(), True)])
def test_what_is_no_timecode_is_not_told_to_be_too_quiet_for_it(found: TimecodeTrack | None, told: bool):
    """Nothing of it can be read, or a third."""
    whole = codes(code(found, -20.0))
    assert bool(findings("timecode-unreadable", whole)) is not told
    assert bool(findings("crew-level-jump", whole)) is told


def test_what_is_no_timecode_is_nothing_to_compare_with():
    whole = show(*codes(code(None, -30.0), 2).songs, song("Odd 2", code(None, -30.0)))
    assert not findings("crew-level-jump", whole)
    assert findings("crew-level-jump", codes(code(track(), -30.0), 2))


DROP, NO_DROP = FPS_29_97_DROP, FPS_29_97


@pytest.mark.parametrize(
    ("odd", "rules"),
    [
        ({"rate": NO_DROP, "plain_minutes": 1, "drop_flags": 1798}, ["timecode-flag"]),
        ({"rate": NO_DROP, "plain_minutes": 1, "drop_flags": 0}, ["timecode-rate"]),
        ({"rate": FPS_25, "drop_flags": 1500}, ["timecode-flag", "timecode-rate"]),  # another speed
    ],
)
def test_timecode_that_is_counted_against_its_flag_is_told_once(odd: dict[str, Any], rules: list[str]):
    usual = [song(f"Song {n}", ltc(track(f"{n + 2:02d}:00:00:00", rate=DROP))) for n in range(3)]
    rate = odd.pop("rate")
    whole = show(*usual, song("Odd", ltc(track(rate=rate, **odd))))
    said = [one.rule for rule in ("timecode-flag", "timecode-rate") for one in findings(rule, whole)]
    assert said == rules
