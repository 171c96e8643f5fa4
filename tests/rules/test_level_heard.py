"""The level rules on sound: planted signals through the real meters, not on numbers written by hand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from audit.evidence import PartEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.measure.stem import StemMeter
from tests import signals
from tests.evidence import findings, role_of, show, song, stem
from tests.shared import shared_folder
from tests.signals import Samples

RATE_HZ = 48_000
RULES = (
    "sample-clipping", "flattened-peaks", "true-peak-over", "silent-stem", "silent-channel", "dual-mono",
    "opposite-polarity", "channel-imbalance", "dc-offset",
)  # fmt: skip


def heard(
    file: str, samples: Samples, *, bits: int | None = 24, split: tuple[Role, ...] = ()
) -> StemEvidence:
    """A stem with what the meters say of these samples. split: one role a channel; else one part."""
    channels = samples.shape[1]
    is_float = bits == 32
    if bits is not None and not is_float:
        samples = signals.quantise(samples, bits)
    meter = StemMeter(RATE_HZ, channels, bits=bits, is_float=is_float)
    for start in range(0, len(samples), 65_536):
        meter.add(np.ascontiguousarray(samples[start : start + 65_536]))
    groups = tuple((channel,) for channel in range(channels)) if split else (tuple(range(channels)),)
    roles = split or (role_of(file),)
    measured = meter.result(groups, frames=len(samples), md5_checked=None)
    parts = [
        PartEvidence(role=role, role_is_guess=False, audience=role.audience, measures=measures)
        for role, measures in zip(roles, measured.parts, strict=True)
    ]
    return stem(file, channels=channels, frames=len(samples), bits=bits, parts=parts)


def said_of(*stems: StemEvidence) -> dict[str, str]:
    """Which rules speak of these stems, and how gravely."""
    evidence = show(song("Night Ferry", *stems))
    return {rule: found[0].severity.value for rule in RULES if (found := findings(rule, evidence))}


@pytest.fixture(scope="module")
def bed() -> Samples:
    return signals.music_bed(12.0)[0]


def sides(left: Samples, right: Samples) -> Samples:
    return np.ascontiguousarray(np.column_stack((left[:, 0], right[:, 0])))


def test_a_healthy_band_is_not_spoken_of(bed: Samples):
    assert said_of(heard("Keys.wav", bed), heard("Bass.wav", signals.staccato_bass(8.0)[0])) == {}


def test_the_crew_at_its_usual_levels_is_not_spoken_of():
    stems = (
        heard("Click.wav", signals.clicks(8.0, peak=0.9)[0]),
        heard("Guide.wav", signals.speech(8.0, peak=0.8)[0]),
        heard("LTC.wav", np.float32(0.7) * signals.square(1200.0, 8.0, peak=1.0)[0]),
    )
    assert said_of(*stems) == {}


@pytest.mark.parametrize("over_db", [3.0, 9.0])
def test_clipped_music_is_an_error_and_nothing_else(bed: Samples, over_db: float):
    samples, truth = signals.clip(bed, over_db)
    found = findings("sample-clipping", show(song("Night Ferry", heard("Keys.wav", samples))))
    assert [f.severity.value for f in found] == ["error"]
    assert found[0].at_s == pytest.approx(truth.at_frames[0] / RATE_HZ, abs=1e-4)
    assert said_of(heard("Keys.wav", samples)) == {"sample-clipping": "error"}


@pytest.mark.parametrize("down_db", [-0.3, -1.0, -6.0, -12.0])
def test_clipped_and_turned_down_is_found_at_every_level(bed: Samples, down_db: float):
    samples = signals.turn(signals.clip(bed, 6.0)[0], down_db)
    said = said_of(heard("Keys.wav", samples))
    assert said.pop("flattened-peaks") == "warning"
    assert set(said) <= {"true-peak-over"}  # just below full scale the flat tops overshoot as well


def test_a_square_synth_and_a_healthy_bass_are_not_flattened():
    square = heard("Synth.wav", signals.square(110.0, 8.0, peak=0.5)[0])
    bass = heard("Bass.wav", signals.sine(55.0, 8.0)[0], bits=16)
    assert said_of(square, bass) == {}


def test_a_peak_between_samples():
    """Tech 3341 case 15 and its like: a tone at a quarter of the rate, 45 degrees off, reads 3.01 dB low."""
    n = np.arange(8 * RATE_HZ)
    tone = np.sin(2 * np.pi * n / 4 + np.pi / 4)[:, None] * 10 ** (0.4 / 20)
    tone *= np.clip(np.minimum(n, n[::-1]) / 4800, 0, 1)[:, None]
    (found,) = findings(
        "true-peak-over", show(song("Night Ferry", heard("Synth.wav", tone.astype(np.float32))))
    )
    assert found.value == pytest.approx(0.4, abs=0.05)
    assert found.measured["sample_dbfs"] == pytest.approx(0.4 - 3.01, abs=0.01)


def test_a_float_file_above_full_scale_says_by_how_much(bed: Samples):
    loud = signals.turn(bed, 6.02 + 4.0)
    (found,) = findings("sample-clipping", show(song("Night Ferry", heard("Keys.wav", loud, bits=32))))
    assert found.severity.value == "warning"
    assert 3.9 <= float(str(found.measured["over_db"])) <= 4.2
    assert set(said_of(heard("Keys.wav", loud, bits=32))) == {"sample-clipping"}


def test_silence_with_dither_is_silent_and_nothing_else():
    noise = signals.quantise(signals.silence(6.0, channels=2)[0], 16, dither=True)
    stems = (heard("Pad.wav", noise), heard("Keys.wav", signals.music_bed(6.0)[0]))
    assert said_of(*stems) == {"silent-stem": "warning"}
    assert said_of(heard("Click.wav", noise), stems[1]) == {"silent-stem": "error"}


def test_the_sides_of_a_pair(bed: Samples):
    mono = signals.fade(signals.sines((220.0, 277.2, 329.6), 8.0)[0], 0.5)
    silence = np.zeros_like(mono)
    assert said_of(heard("Keys.wav", sides(mono, mono))) == {"dual-mono": "note"}
    assert said_of(heard("Keys.wav", sides(mono, -mono))) == {"opposite-polarity": "error"}
    assert said_of(heard("Keys.wav", sides(mono, silence))) == {"silent-channel": "warning"}
    assert said_of(heard("Keys.wav", sides(mono, signals.turn(mono, -20.0)))) == {"channel-imbalance": "note"}
    # An echo upside down that is far quieter takes nothing away in mono.
    assert said_of(heard("Keys.wav", sides(mono, -signals.turn(mono, -20.0)))) == {
        "channel-imbalance": "note"
    }
    assert said_of(heard("Click.wav", sides(mono, mono))) == {}


def test_click_left_and_timecode_right_are_no_pair():
    click = signals.clicks(8.0, peak=0.5)[0]
    square = signals.square(1200.0, 8.0, peak=1.0)[0]
    both = heard("Click+LTC.wav", sides(click, square), split=(Role.CLICK, Role.TIMECODE))
    assert said_of(both) == {}


@pytest.mark.parametrize("bpm", [60.0, 118.0, 240.0])
@pytest.mark.parametrize("offset", [0.02, -0.005])
def test_an_offset_under_a_click_is_found(bpm: float, offset: float):
    samples = signals.clicks(20.0, bpm=bpm, peak=0.3)[0]
    found = findings("dc-offset", show(song("Night Ferry", heard("Click.wav", samples + np.float32(offset)))))
    assert [round(float(str(one.measured["percent"])), 1) for one in found] == [round(100 * offset, 1)]
    assert said_of(heard("Click.wav", samples)) == {}


@pytest.mark.parametrize("bpm", [40.0, 60.0, 120.0, 240.0, 480.0, 900.0])
@pytest.mark.parametrize("decay_s", [0.002, 0.02, 0.05])
@pytest.mark.parametrize("noise_dbfs", [-200.0, -90.0, -60.0])
def test_one_sided_ticks_are_no_offset(bpm: float, decay_s: float, noise_dbfs: float):
    """Pulses that only go up: their mean reaches −14 dBFS, and comes with them."""
    time_s = np.arange(20 * RATE_HZ) / RATE_HZ
    wave = 0.5 * np.exp(-(time_s % (60.0 / bpm)) / decay_s)
    wave += 10 ** (noise_dbfs / 20) * np.random.default_rng(1).normal(size=len(wave))
    for samples in (wave, wave - 0.5 * np.exp(-time_s / 2.0)):  # the second swings back as a coupling does
        click = heard("Click.wav", samples[:, None].astype(np.float32))
        assert findings("dc-offset", show(song("Night Ferry", click))) == []


@pytest.mark.parametrize("offset", [0.004, -0.05])
def test_an_offset_is_found_under_music(bed: Samples, offset: float):
    samples = signals.dc(bed, offset)[0]
    (found,) = findings("dc-offset", show(song("Night Ferry", heard("Keys.wav", samples))))
    assert found.value == pytest.approx(20 * np.log10(abs(offset)), abs=0.3)
    assert found.measured["percent"] == pytest.approx(100 * offset, abs=0.02)


@pytest.mark.parametrize("side", [0, 1])
def test_an_offset_of_one_side(bed: Samples, side: int):
    samples = bed.copy()
    samples[:, side] += np.float32(0.01)
    assert said_of(heard("Keys.wav", samples)) == {"dc-offset": "warning"}


def test_an_offset_under_drums_that_fades_with_them():
    """The drums rise and fall by more than 12 dB, so the measure tells offset from drums without the ends."""
    samples = signals.fade(signals.dc(signals.drums(20.0)[0], 0.01)[0], 0.5)
    assert said_of(heard("Drums.wav", samples)) == {"dc-offset": "warning"}


def test_an_offset_that_wanders_is_found_where_it_is_worst():
    drums = signals.drums(60.0)[0]
    slow = 0.02 * np.sin(2 * np.pi * np.arange(len(drums)) / len(drums))
    samples = (drums + slow[:, None]).astype(np.float32)
    (found,) = findings("dc-offset", show(song("Night Ferry", heard("Drums.wav", samples))))
    assert "wanders" in found.message
    assert found.value == pytest.approx(20 * np.log10(0.02 * 0.955), abs=1.0)  # 3/π of the top over 10 s
    assert min(abs((found.at_s or 0.0) - 10.0), abs((found.at_s or 0.0) - 40.0)) <= 2.0


def test_an_offset_of_three_seconds_in_a_rest_is_told_with_its_place():
    voice = signals.join(signals.speech(8.0)[0], signals.silence(4.0)[0], signals.speech(6.0)[0])
    voice += signals.turn(signals.noise(18.0)[0], -60.0)
    voice[round(8.5 * RATE_HZ) : round(11.5 * RATE_HZ)] += np.float32(0.01)
    (found,) = findings("dc-offset", show(song("Night Ferry", heard("Lead Vocal.wav", voice))))
    assert "comes and goes" in found.message
    assert (found.value, found.at_s) == (pytest.approx(-40.0, abs=0.1), pytest.approx(8.5, abs=0.11))


def test_waves_that_lean_to_one_side_are_no_offset():
    """Pulse waves of 10 % duty: each note has a mean, and takes it along when it dies away."""
    pulse = signals.square(110.0, 1.0, peak=0.3, duty=0.1)[0]
    decay = np.exp(-np.arange(RATE_HZ) / RATE_HZ / 0.08)[:, None]
    attack = np.clip(np.arange(RATE_HZ) / 240, 0, 1)[:, None]
    note = (pulse * decay * attack).astype(np.float32)
    rest = np.zeros((RATE_HZ // 2, 1), np.float32)
    line = np.concatenate((rest, *([note] * 12), rest))
    assert abs(line.mean()) > 10 ** (-50 / 20)
    assert said_of(heard("Synth.wav", line)) == {}


@pytest.mark.parametrize("where", ["Brass Umbrella/Bass", "Marble Staircase/Bass", "Slow Escalator/Lead"])
def test_sampled_instruments_whose_waves_have_a_mean(where: str):
    """From ../shared/corpus, which is clean: their means reach −43 dBFS without any offset."""
    path: Path = shared_folder("corpus") / f"{where}.flac"
    samples, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
    assert rate_hz == RATE_HZ
    line = heard(path.name.replace("Lead", "Lead Vocal"), samples)
    assert abs(samples.mean(axis=0)).max() > 0.002
    assert {rule for rule, severity in said_of(line).items() if severity != "note"} == set()


def a_click(number: int, *, peak: float = 0.5, **how: Any) -> SongEvidence:
    return song(f"Song {number}", heard("Click.wav", signals.clicks(8.0, peak=peak, **how)[0]))


CLICKS = (
    {"bpm": 60.0}, {"bpm": 92.0, "beats_a_bar": 3}, {"bpm": 120.0, "subdivision": 2}, {"bpm": 184.0},
    {"bpm": 140.0, "subdivision": 4}, {"bpm": 100.0, "end_bpm": 150.0}, {"bpm": 110.0, "accents": False},
)  # fmt: skip


@pytest.mark.parametrize("sound", ["beep", "woodblock", "cowbell", "noise"])
def test_tempo_metre_and_subdivision_are_no_level_jump(sound: str):
    songs = [a_click(n, sound=sound, **how) for n, how in enumerate(CLICKS)]
    assert findings("crew-level-jump", show(*songs)) == []


@pytest.mark.parametrize("odd", ["beep", "noise"])
def test_another_click_sound_of_the_same_peak_is_no_level_jump(odd: str):
    songs = [a_click(n, sound="woodblock", **how) for n, how in enumerate(CLICKS)]
    assert findings("crew-level-jump", show(*songs, a_click(9, sound=odd))) == []


@pytest.mark.parametrize("gain_db", [-12.0, -7.0, 5.9, 7.0])
def test_a_click_turned_up_or_down(gain_db: float):
    songs = [a_click(n, sound="woodblock", bpm=120.0) for n in range(4)]
    changed = a_click(9, sound="woodblock", bpm=120.0, peak=0.5 * 10 ** (gain_db / 20))
    found = findings("crew-level-jump", show(*songs, changed))
    assert [(f.songs, round(f.value or 0.0, 1)) for f in found] == (
        [] if abs(gain_db) < 6 else [(("Song 9",), gain_db)]
    )
