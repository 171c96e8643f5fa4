"""A leak planted in noise and music is found with its gain and delay; what only looks like one is not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, fftconvolve, sosfilt

from audit.measure import leak as method
from audit.measure.leak import LEAD_S, Found, find_leak
from audit.measure.leak_search import LeakSource, click_places, search, steady_places
from audit.measure.leak_spectra import PIECE_S, spectra, usual
from audit.measure.quiet_places import quiet_places, rests
from audit.units import to_db

RATE_HZ = 48_000
BEATS_S = np.arange(2.0, 40.0, 0.5)
FRAMES = 41 * RATE_HZ
FAINT = 0.02


def ticks(rate_hz: int = RATE_HZ, beats_s: np.ndarray = BEATS_S, accent: float = 1.4) -> np.ndarray:
    """A click, one channel: 30 ms of 1320 Hz, 1760 Hz on every fourth beat."""
    wave = np.zeros(round(FRAMES / RATE_HZ * rate_hz), dtype=np.float32)
    time_s = np.arange(round(0.03 * rate_hz)) / rate_hz
    for number, beat in enumerate(beats_s):
        first = number % 4 == 0
        tone = np.sin(2 * np.pi * (1760 if first else 1320) * time_s) * np.exp(-time_s / 0.01)
        at = round(beat * rate_hz)
        wave[at : at + len(tone)] += (0.3 * (accent if first else 1.0) * tone).astype(np.float32)
    return wave


def noise(seed: int = 1, level: float = 0.05, rate_hz: int = RATE_HZ) -> np.ndarray:
    frames = round(FRAMES / RATE_HZ * rate_hz)
    return (level * np.random.default_rng(seed).normal(size=frames)).astype(np.float32)


def cut(wave: np.ndarray, places_s: np.ndarray, rate_hz: int = RATE_HZ) -> np.ndarray:
    frames = round(PIECE_S * rate_hz)
    starts = np.round(places_s * rate_hz).astype(int)
    return np.stack([wave[start : start + frames] for start in starts])


def look(stem: np.ndarray, click: np.ndarray, stem_rate_hz: int = RATE_HZ) -> Found:
    places_s = BEATS_S - LEAD_S
    found = find_leak(cut(stem, places_s, stem_rate_hz), spectra(cut(click, places_s)), ticks=True)
    assert found is not None
    return found


def moved(wave: np.ndarray, frames: int) -> np.ndarray:
    return np.concatenate([np.zeros(frames, dtype=np.float32), wave[: len(wave) - frames]])


@pytest.mark.parametrize("gain_db", [0.0, -20.0, -30.0])
@pytest.mark.parametrize("late", [0, 14, 96, 336])
def test_a_planted_copy(gain_db: float, late: int):
    found = look(noise() + np.float32(10 ** (gain_db / 20)) * moved(ticks(), late), ticks())
    assert found.there
    assert to_db(found.gain) == pytest.approx(gain_db, abs=0.7)
    assert found.delay_s == pytest.approx(late / RATE_HZ, abs=30e-6)
    assert found.absent == 0


@pytest.mark.parametrize("seed", range(8))
def test_noise_holds_none(seed: int):
    assert not look(noise(seed), ticks()).there


def test_the_gain_is_that_of_least_squares():
    """In white noise every frequency counts alike, so a plain projection onto the click is the best
    estimate."""
    click, gain = ticks(accent=1.0), 10 ** (-25 / 20)
    stem = noise(3) + np.float32(gain) * click
    pieces, sources = cut(stem, BEATS_S), cut(click, BEATS_S)
    projected = np.sum(pieces * sources) / np.sum(sources * sources)
    assert look(stem, click).gain == pytest.approx(projected, rel=0.1)


def test_twice_the_leak_is_six_decibels_more():
    stem = noise(level=0.01)
    one, two = (look(stem + np.float32(gain) * ticks(), ticks()).gain for gain in (0.05, 0.1))
    assert to_db(two / one) == pytest.approx(6.02, abs=0.3)


def test_the_stem_may_be_louder_as_a_whole():
    quiet = noise() + np.float32(0.1) * ticks()
    one, two = look(quiet, ticks()), look(np.float32(4.0) * quiet, ticks())
    assert two.gain == pytest.approx(4.0 * one.gain, rel=1e-3)
    assert two.surety == pytest.approx(one.surety, rel=1e-2)


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000])
def test_other_rates(rate_hz: int):
    stem = noise(level=0.01, rate_hz=rate_hz) + np.float32(0.05) * ticks(rate_hz)
    found = look(stem, ticks(), rate_hz)
    assert found.there
    assert to_db(found.gain) == pytest.approx(to_db(0.05), abs=0.5)
    assert abs(found.delay_s) < 60e-6


def test_a_dull_leak_is_found_in_its_band():
    hits = noise(9, level=1.0) * (np.abs(ticks()) > 0)  # ticks of noise: the whole spectrum
    dull = sosfilt(butter(4, 2000, fs=RATE_HZ, output="sos"), hits).astype(np.float32)
    found = look(noise(level=0.003) + np.float32(0.1) * dull, hits.astype(np.float32))
    assert found.there
    assert found.high_hz < 16_000
    assert to_db(found.gain) == pytest.approx(-20.0, abs=3.0)


def beeps() -> np.ndarray:
    """A click of one tone that begins within 5 ms: few delays can be told apart."""
    wave = np.zeros(FRAMES, dtype=np.float32)
    time_s = np.arange(round(0.12 * RATE_HZ)) / RATE_HZ
    tone = 0.3 * np.sin(2 * np.pi * 1000 * time_s) * np.minimum(1, time_s / 0.005) * np.exp(-time_s / 0.03)
    for beat in BEATS_S:
        at = round(beat * RATE_HZ)
        wave[at : at + len(tone)] += tone.astype(np.float32)
    return wave


def in_a_room(wave: np.ndarray, seed: int = 4) -> np.ndarray:
    """1 ms late, and a tail of 0.3 s with four times its energy."""
    time_s = np.arange(round(0.3 * RATE_HZ)) / RATE_HZ
    tail = np.random.default_rng(seed).normal(size=len(time_s)) * np.exp(-time_s / 0.045)
    tail[: round(0.004 * RATE_HZ)] = 0.0
    room = tail * np.sqrt(4.0 / np.sum(tail**2))
    room[round(0.001 * RATE_HZ)] = 1.0
    return fftconvolve(wave, room)[: len(wave)].astype(np.float32)


def test_the_tail_of_a_room_is_no_chance(monkeypatch):
    """It fills all delays after the leak's, in every piece alike; before it there is none."""
    wet = noise(level=0.003) + np.float32(0.1) * in_a_room(beeps())
    assert look(wet, beeps()).there
    monkeypatch.setattr(method, "TAIL", 1e9)  # both sides alike
    assert not look(wet, beeps()).there


def paused(*rests: int) -> np.ndarray:
    """A tenth of the click, without some of its beats."""
    played = np.float32(0.1) * ticks()
    for number in rests:
        at = round(BEATS_S[number] * RATE_HZ)
        played[at : at + 4800] = 0
    return played


def test_one_that_pauses_is_none():
    """It rests at two of eight beats, or at two only: whatever plays that is no leak."""
    many = [number for number in range(len(BEATS_S)) if number % 8 >= 6]
    assert not look(noise(level=1e-4) + paused(*many), ticks()).there
    few = look(noise(level=1e-3) + paused(9, 42), ticks())
    assert not few.there
    assert few.absent == 2
    assert look(noise(level=1e-3) + paused(), ticks()).there


def test_beats_that_the_stem_strikes_are_left_out():
    time_s = np.arange(round(0.05 * RATE_HZ)) / RATE_HZ
    hat = (np.random.default_rng(5).normal(size=len(time_s)) * np.exp(-time_s / 0.01)).astype(np.float32)
    drums = noise(level=0.001)
    for number, beat in enumerate(BEATS_S):
        if number % 3:
            at = round(beat * RATE_HZ)
            drums[at : at + len(hat)] += 0.3 * hat
    found = look(drums, ticks())
    assert not found.there
    assert found.struck > 40
    assert look(drums + np.float32(0.01) * ticks(), ticks()).there


def test_nothing_can_be_told_of_silence():
    silence = np.zeros((10, 9600), dtype=np.float32)
    source = spectra(cut(ticks(), BEATS_S[:10]))
    assert find_leak(silence, source, ticks=True) is None
    assert find_leak(silence[:0], source[:0], ticks=True) is None


# Where to look, and what is made of it.


def read_from(wave: np.ndarray):
    def read(places_s: np.ndarray) -> np.ndarray:
        return cut(wave, places_s)[:, None]

    return read


def powers(wave: np.ndarray) -> np.ndarray:
    return np.square(wave[: len(wave) // 4800 * 4800]).reshape(-1, 4800).mean(axis=1)


def click_source(lufs: float | None = -30.0) -> LeakSource:
    places_s, between_s = click_places(BEATS_S, 1)
    return LeakSource(
        places_s=places_s,
        between_s=between_s,
        spectra_of=spectra(cut(ticks(), places_s)).__getitem__,
        lufs=lufs,
        level_dbfs=-8.0,
    )


def test_a_search_tells_level_and_place():
    stem = noise(level=0.02) + np.float32(0.1) * ticks()
    stem[20 * RATE_HZ : 23 * RATE_HZ] *= np.float32(1e-3)
    stem[20 * RATE_HZ : 23 * RATE_HZ] += np.float32(0.1) * ticks()[20 * RATE_HZ : 23 * RATE_HZ]
    leak = search(click_source(), read_from(stem), powers(stem), lufs=-20.0, channels=1)
    assert leak is not None
    assert leak.level_dbfs == pytest.approx(-28.0, abs=0.5)
    assert leak.relative_db == pytest.approx(-30.0, abs=0.5)
    assert 20.0 <= leak.best_at_s <= 23.0
    assert leak.in_rest
    two_sided = search(click_source(), read_from(stem), powers(stem), lufs=-20.0, channels=2)
    assert two_sided is not None
    assert two_sided.relative_db == pytest.approx(leak.relative_db + 3.01, abs=0.01)


def asked_of(stem: np.ndarray) -> list[int]:
    """How many places a search reads, one reading after another."""
    asked: list[int] = []
    read = read_from(stem)

    def counted(places_s: np.ndarray) -> np.ndarray:
        asked.append(len(places_s))
        return read(places_s)

    search(click_source(), counted, powers(stem), lufs=-20.0, channels=1)
    return asked


def test_a_part_without_a_leak_is_read_at_few_places():
    assert len(BEATS_S) == 76
    assert asked_of(noise(level=0.02)) == [40]
    assert asked_of(noise(level=0.02) + np.float32(0.1) * ticks()) == [40, 76, 76]  # the third: between beats
    assert asked_of(np.zeros(FRAMES, dtype=np.float32)) == []


def test_those_places_are_the_quietest():
    stem = noise(level=0.3)
    stem[20 * RATE_HZ :] *= np.float32(0.1)  # 40 places and a few that the loud half reaches into
    places_s = click_source().places_s[click_source().asked_first(powers(stem))]
    assert len(places_s) == 40
    assert (np.diff(places_s) > 0.0).all()
    assert places_s[0] >= 19.9


def test_a_leak_in_the_difference_of_the_sides_alone():
    """The first look suspects the second row only."""
    stem, click = noise(level=0.02), np.float32(0.05) * ticks()

    def read(places_s: np.ndarray) -> np.ndarray:
        return np.stack([cut(stem, places_s), cut(noise(5, 0.001) + click, places_s)], axis=1)

    leak = search(click_source(), read, powers(stem), lufs=-20.0, channels=2)
    assert leak is not None
    assert leak.level_dbfs == pytest.approx(-8.0 - 26.0, abs=0.5)


def test_without_loudness_there_is_none_to_compare():
    stem = noise() + np.float32(0.1) * ticks()
    leak = search(click_source(None), read_from(stem), powers(stem), lufs=-20.0, channels=1)
    assert leak is not None
    assert leak.relative_db is None


def test_the_same_sound_between_the_beats_is_music():
    eighths = ticks(accent=1.0) + ticks(beats_s=BEATS_S + 0.25, accent=1.0)
    stem = noise(level=1e-4) + np.float32(0.1) * eighths
    assert search(click_source(), read_from(stem), powers(stem), lufs=-20.0, channels=1) is None


def test_the_same_sound_louder_and_softer_is_music():
    random = np.random.default_rng(8)
    played = np.zeros(FRAMES, dtype=np.float32)
    for beat in BEATS_S:
        at = round(beat * RATE_HZ)
        played[at : at + 4800] = np.float32(random.uniform(0.05, 0.2)) * ticks()[at : at + 4800]
    stem = noise(level=1e-4) + played
    assert search(click_source(), read_from(stem), powers(stem), lufs=-20.0, channels=1) is None


@pytest.mark.parametrize("level", [0.0, 1.4e-5])
@pytest.mark.parametrize("ringing", [False, True])
def test_the_same_sound_that_rests_at_some_beats_is_music(level: float, ringing: bool):
    """A part that plays the click's own sound and rests in the count-in, over nothing or a dither's noise.

    A ringing tick's tail hides how much of each piece is the click's, so its loudness decides."""
    other = noise(3, level=0.004) if ringing else np.zeros(FRAMES, dtype=np.float32)
    other[: round(BEATS_S[4] * RATE_HZ) - 2400] = 0
    stem = noise(level=level) + np.float32(10.0) * paused(0, 1, 2, 3) + other
    assert look(stem, ticks()).there
    assert search(click_source(), read_from(stem), powers(stem), lufs=-30.0, channels=1) is None
    quiet = search(click_source(), read_from(stem), powers(stem), lufs=0.0, channels=1)
    assert (quiet is not None) == ringing  # far under a stem that is cut in its rests it may be a leak


def notes(pitch_hz: float, decay_s: float) -> np.ndarray:
    """A sine on every beat, the count-in too."""
    time_s = np.arange(round(0.12 * RATE_HZ)) / RATE_HZ
    tone = (0.3 * np.sin(2 * np.pi * pitch_hz * time_s) * np.exp(-time_s / decay_s)).astype(np.float32)
    wave = np.zeros(FRAMES, dtype=np.float32)
    for beat in BEATS_S:
        at = round(beat * RATE_HZ)
        wave[at : at + len(tone)] += tone
    return wave


@pytest.mark.parametrize("decay_s", [0.03, 0.05])
def test_notes_of_the_clicks_pitch_on_every_beat_are_music(decay_s: float):
    """They die away more slowly than the click: some of them is the click's shape, and not all."""
    stem = noise(level=1e-4) + notes(1320.0, decay_s)
    found = look(stem, ticks())
    assert found.there
    assert search(click_source(), read_from(stem), powers(stem), lufs=-28.0, channels=1) is None


def test_the_click_itself_is_none_of_that():
    """In a part of nothing else, dull or plain; and in music that sounds between the beats too."""
    dull = sosfilt(butter(2, 2500, fs=RATE_HZ, output="sos"), ticks()).astype(np.float32)
    for stem in (
        noise(level=1e-4) + ticks(),
        noise(level=1e-4) + dull,
        noise(level=0.01) + notes(1320.0, 0.03),
    ):
        assert search(click_source(), read_from(stem), powers(stem), lufs=-28.0, channels=1) is not None


def test_a_steady_source():
    code = np.sign(noise(31)).repeat(12)[:FRAMES].astype(np.float32) * np.float32(0.25)
    places_s = steady_places(1.0, 40.0)
    assert len(places_s) == pytest.approx((40.0 - 1.0 - PIECE_S) / 0.25, abs=1)
    source = LeakSource(
        places_s=places_s,
        between_s=np.zeros(0),
        spectra_of=spectra(cut(code, places_s)).__getitem__,
        lufs=-15.0,
        level_dbfs=-12.0,
    )
    stem = noise(level=0.05) + np.float32(0.01) * moved(code, 48)
    assert len(source.asked_first(powers(stem))) == 20
    leak = search(source, read_from(stem), powers(stem), lufs=-20.0, channels=1)
    assert leak is not None
    assert leak.places == 96
    assert leak.level_dbfs == pytest.approx(-52.0, abs=0.7)
    assert leak.delay_ms == pytest.approx(1.0, abs=0.03)
    assert search(source, read_from(noise()), powers(noise()), lufs=-20.0, channels=1) is None


def test_many_places_are_thinned():
    assert len(steady_places(0.0, 3600.0)) == 400
    places_s, between_s = click_places(np.arange(2000) * 0.5, 2)
    assert len(places_s) == len(between_s) == 400
    assert places_s[0] == pytest.approx(-LEAD_S)
    assert between_s[0] - places_s[0] == pytest.approx(0.125)


def test_quiet_places_are_the_quietest_that_sound():
    levels = np.full(100, 1e-2)
    levels[20:26], levels[40:46], levels[60:66] = 1e-4, 0.0, 1e-6
    rows, silent = quiet_places(np.arange(0.0, 9.0, 0.1), levels, length_s=0.2, most=8)
    assert rows.tolist() == [20, 21, 22, 23, 60, 61, 62, 63]
    assert silent == 4
    assert quiet_places(np.zeros(0), levels, length_s=0.2, most=8)[0].tolist() == []
    assert quiet_places(np.array([0.0, 99.0]), np.zeros(0), length_s=0.2, most=8)[1] == 2


@pytest.mark.parametrize(
    ("steps", "level", "rest"), [(20, 1e-6, True), (19, 1e-6, False), (30, 1e-12, False)]
)
def test_rests(steps: int, level: float, rest: bool):
    levels = np.full(100, 1e-2)
    levels[40 : 40 + steps] = level
    assert rests(levels, 1e-5, 0.0, 10.0) is rest
    assert not rests(levels, 1e-7, 0.0, 10.0)
    assert not rests(levels, 1e-5, 0.0, 5.0) or steps <= 10


def test_a_notes_end_in_silence_is_no_rest_with_ticks():
    """The last of a note is quiet and alone for 100 ms of 2 s; ticks are there in both halves."""
    levels = np.full(100, 1e-2)
    levels[40:70] = 0.0
    levels[40:43] = 1e-7
    assert not rests(levels, 1e-5, 0.0, 10.0)
    levels[[46, 51, 56, 61, 66]] = 1e-7
    assert rests(levels, 1e-5, 0.0, 10.0)


@pytest.mark.parametrize(("silent_beats", "told"), [(0, True), (3, True), (4, False), (20, False)])
def test_a_faint_leak_is_in_the_rests_too(silent_beats: int, told: bool):
    """Where the part is nothing at some beats, what looks like a faint click at the others is music."""
    stem = noise() + np.float32(FAINT) * ticks()
    stem[: round((BEATS_S[0] + 0.5 * silent_beats - 0.1) * RATE_HZ) if silent_beats else 0] = 0
    leak = search(click_source(), read_from(stem), powers(stem), lufs=-20.0, channels=1)
    assert (leak is not None) is told
    loud = noise() + np.float32(5.0 * FAINT) * ticks()
    loud[stem == 0] = 0
    leak = search(click_source(), read_from(loud), powers(loud), lufs=-20.0, channels=1)
    assert leak is not None  # of a surer one the rests were cut
    assert leak.surety > 40.0


@pytest.mark.parametrize("count", [4, 7])
def test_the_usual_power_is_the_median(count: int):
    powers = np.random.default_rng(count).random((count, 50)).astype(np.float32)
    np.testing.assert_allclose(usual(powers), np.median(powers, axis=0), rtol=1e-6)
