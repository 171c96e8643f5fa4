"""The demo's instruments: in tune, on time, full range; no DC, steps or clipping; always the same."""

from __future__ import annotations

import numpy as np
import pytest

from audit.demo import crew, drumkit, plucked, sustained, voices
from audit.demo.band import PLAYERS, click_track, perform
from audit.demo.desk import rough_loudness, song_gain, summed
from audit.demo.rhythm_parts import click
from audit.demo.score import Composition, Section
from audit.demo.sound import pitch_hz

RATES = (44_100, 48_000)
SONG = Composition(
    title="Rehearsal",
    key="A minor",
    bpm=120,
    ring_s=3.0,
    sections=(
        Section(name="verse", bars=2, chords=("Am", "F"), energy=0.5),
        Section(name="chorus", bars=2, chords=("C", "G"), energy=0.9),
        Section(name="end", bars=1, chords=("Am",), energy=0.8),
    ),
)


def mono(sound: np.ndarray) -> np.ndarray:
    return sound if sound.ndim == 1 else sound[:, 0]


def pitch_of(sound: np.ndarray, rate_hz: int, near_hz: float) -> float:
    """The strongest partial within a semitone of a frequency, by a finely interpolated spectrum."""
    window = sound[: rate_hz * 2] * np.hanning(min(len(sound), rate_hz * 2))
    spectrum = np.abs(np.fft.rfft(window, 2**19))
    freqs = np.fft.rfftfreq(2**19, 1 / rate_hz)
    inside = (freqs > near_hz * 0.944) & (freqs < near_hz * 1.059)
    return float(freqs[inside][spectrum[inside].argmax()])


PITCHED = {
    "bass": lambda pitch, rate: plucked.bass(pitch, 1.5, 0.8, rate),
    "guitar": lambda pitch, rate: plucked.guitar_string(pitch, 1.5, 0.8, 0, rate),
    "electric piano": lambda pitch, rate: plucked.electric_piano(pitch, 1.5, 0.8, rate),
    "piano": lambda pitch, rate: plucked.piano(pitch, 1.5, 0.8, rate),
    "organ": lambda pitch, rate: plucked.organ(pitch, 1.5, rate),
    "pad": lambda pitch, rate: sustained.pad(pitch, 1.5, rate),
    "strings": lambda pitch, rate: sustained.strings(pitch, 1.5, 0.8, rate),
    "brass": lambda pitch, rate: sustained.brass(pitch, 1.5, 0.8, rate),
    "lead synth": lambda pitch, rate: sustained.lead_synth(pitch, 1.5, 0.8, rate),
    "singer": lambda pitch, rate: voices.singer(pitch, 1.5, 0.8, ("ah", "ah"), "", rate),
    "choir": lambda pitch, rate: voices.voices(pitch, 1.5, 0.8, "ah", 4, rate),
}


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("name", PITCHED)
@pytest.mark.parametrize("pitch", [45, 64])
def test_instruments_play_in_tune(name: str, pitch: int, rate_hz: int):
    """Equal temperament at A4 = 440 Hz (ISO 16), within 15 cents; sections are detuned a little."""
    found = pitch_of(mono(PITCHED[name](pitch, rate_hz)), rate_hz, pitch_hz(pitch))
    assert abs(1200 * np.log2(found / pitch_hz(pitch))) < (
        30 if name in ("strings", "brass", "choir", "pad") else 15
    )


@pytest.mark.parametrize("name", PITCHED)
def test_notes_begin_and_end_without_a_step(name: str):
    sound = mono(PITCHED[name](57, 48_000))
    assert abs(sound[0]) < 0.02
    assert abs(sound[-1]) < 1e-3
    assert np.isfinite(sound).all()


@pytest.mark.parametrize("drum", ["hat", "open hat", "ride", "crash", "tambourine"])
def test_cymbals_reach_twenty_kilohertz(drum: str):
    sound = drumkit.hit(drum, 0.9, 0, 48_000)[:, 0]
    power = np.abs(np.fft.rfft(sound)) ** 2
    freqs = np.fft.rfftfreq(len(sound), 1 / 48_000)

    def level(low: float, high: float) -> float:
        return float(10 * np.log10(power[(freqs > low) & (freqs < high)].mean()))

    assert level(18_000, 20_000) > level(8_000, 10_000) - 15


def test_harder_hits_are_louder_and_takes_differ():
    levels = [np.abs(drumkit.hit("snare", velocity, 0, 48_000)).max() for velocity in (0.25, 0.5, 0.75, 1.0)]
    assert levels == sorted(levels)
    assert levels[-1] > 3 * levels[0]
    assert not np.array_equal(drumkit.hit("snare", 0.8, 0, 48_000), drumkit.hit("snare", 0.8, 1, 48_000))


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("role", PLAYERS, ids=lambda role: role.value)
def test_every_part_is_sound_audio(role, rate_hz: int):
    samples = perform(SONG, PLAYERS[role], rate_hz).samples
    assert samples.dtype == np.float32
    assert samples.shape == (round(SONG.end_s * rate_hz), PLAYERS[role].channels)
    assert np.isfinite(samples).all()
    assert 0.05 < np.abs(samples).max() < 1.5
    assert np.abs(samples.mean(axis=0)).max() < 1e-3  # far below −50 dBFS, the limit for DC
    assert not samples[-rate_hz // 5 :].any()  # rung out
    if role.audience:
        assert not samples[
            : round((SONG.grid.first_beat_s - 0.05) * rate_hz)
        ].any()  # nothing in the count-in


@pytest.mark.parametrize(
    "role", [role for role in PLAYERS if PLAYERS[role].channels == 2], ids=lambda r: r.value
)
def test_pairs_are_stereo_and_survive_mono(role):
    left, right = perform(SONG, PLAYERS[role], 48_000).samples.T.astype(float)
    difference = np.sum((left - right) ** 2) / np.sum(left**2 + right**2)
    assert difference > 1e-4  # dual mono begins at −90 dB
    assert np.sum(left * right) / np.sqrt(np.sum(left**2) * np.sum(right**2)) > -0.2
    assert abs(10 * np.log10(np.sum(left**2) / np.sum(right**2))) < 6


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("sound", crew.CLICK_LEVELS_DB)
def test_clicks_begin_on_their_frames(sound: str, rate_hz: int):
    from dataclasses import replace

    song = replace(SONG, click_sound=sound)
    track = click_track(song, rate_hz)
    wanted = [song.grid.frame(note.beat, rate_hz) for note in click(song)]
    assert list(track.onsets) == wanted
    assert len(wanted) == 4 + 4 * 4 + 1
    for frame in wanted:
        heard = np.flatnonzero(np.abs(track.samples[frame - 200 : frame + 400, 0]) > 1e-3)[0] - 200
        assert 0 <= heard <= 0.001 * rate_hz


def test_clicks_are_equally_loud_whatever_their_sound():
    from dataclasses import replace

    levels = [
        rough_loudness(click_track(replace(SONG, click_sound=sound), 48_000).samples, 48_000)
        for sound in crew.CLICK_LEVELS_DB
    ]
    assert max(levels) - min(levels) < 3


def test_the_same_song_is_the_same_audio():
    role = next(iter(PLAYERS))
    first = perform(SONG, PLAYERS[role], 48_000).samples
    for cache in (drumkit._hit,):
        cache.cache_clear()
    assert np.array_equal(first, perform(SONG, PLAYERS[role], 48_000).samples)


def test_a_laid_back_part_lies_back():
    role = next(role for role in PLAYERS if role.value == "bass")
    on_time = perform(SONG, PLAYERS[role], 48_000, jitter_s=0.0)
    late = perform(SONG, PLAYERS[role], 48_000, jitter_s=0.0, late_s=0.015)
    assert set(np.subtract(late.onsets, on_time.onsets)) == {720}


def test_the_desk_agrees_with_a_reference_meter():
    """Second implementation: pyebur128 (libebur128), within the 0.5 LU that setting a fader needs."""
    pyebur128 = pytest.importorskip("pyebur128")
    mix = summed([perform(SONG, player, 48_000).samples for role, player in PLAYERS.items() if role.audience])
    mix = (mix * 0.1).astype(np.float64)
    meter = pyebur128.R128State(2, 48_000, int(pyebur128.MeasurementMode.MODE_I))
    meter.add_frames(mix.reshape(-1), len(mix))
    assert rough_loudness(mix, 48_000) == pytest.approx(pyebur128.get_loudness_global(meter), abs=0.5)


def test_the_songs_gain_keeps_peaks_in_bounds():
    stems = [perform(SONG, PLAYERS[role], 48_000).samples for role in list(PLAYERS)[:5]]
    gain = song_gain(stems, 48_000, lufs=-5.0)  # louder than the peaks allow
    assert np.abs(summed(stems) * gain).max() <= 10 ** (-1 / 20) + 1e-6
    quiet = song_gain(stems, 48_000, lufs=-30.0)
    assert rough_loudness(summed(stems) * np.float32(quiet), 48_000) == pytest.approx(-30.0, abs=0.3)
    with pytest.raises(ValueError, match="nothing to sum"):
        summed([])


def test_the_guide_has_a_word_for_every_beat_and_section():
    for word in voices.WORDS:
        sound = voices.spoken(word, 48_000)
        assert 0.15 < len(sound) / 48_000 < 0.8
        assert 0.2 < np.abs(sound).max() <= 1.0


def test_the_tuning_note_is_440_hertz():
    """ISO 16: A4 = 440 Hz; and a semitone is a twelfth of an octave."""
    assert pitch_hz(69) == 440.0
    assert pitch_hz(57) == 220.0
    assert pitch_hz(70) / pitch_hz(69) == pytest.approx(2 ** (1 / 12))
