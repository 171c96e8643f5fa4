"""The timecode reader: bit for bit what libltc's encoder writes, and what libltc's decoder cannot read."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

from audit.errors import BadSamplesError
from audit.measure.timecode import TimecodeMeter, TimecodeReader, read_frames
from audit.results import TimecodeTrack
from audit.timecode import FPS_25, FPS_29_97, FPS_29_97_DROP, FPS_30, FrameRate, Label, word_bits
from tests import ltc, signals
from tests.measure import libltc

NTSC = Fraction(30_000, 1001)
FILM = Fraction(24_000, 1001)
RATES = [(FILM, False), (Fraction(24), False), (Fraction(25), False), (NTSC, False), (NTSC, True)]
RATES += [(Fraction(30), False)]
SAMPLE_RATES = (22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 192_000)


def texts(frames: np.ndarray) -> list[str]:
    return [
        "{:02d}:{:02d}:{:02d}{}{:02d}".format(
            *(int(f[k]) for k in ("hours", "minutes", "seconds")), ";" if f["drop"] else ":", int(f["frames"])
        )
        for f in frames
    ]


def track(wave: np.ndarray, rate_hz: int, block: int = 65_536) -> TimecodeTrack | None:
    reader = TimecodeReader(rate_hz)
    wave = np.asarray(wave, dtype=np.float32)
    for start in range(0, len(wave), block):
        reader.add(wave[start : start + block])
    reader.end()
    return reader.track(0)


def low_passed(wave: np.ndarray, freq_hz: float, rate_hz: int, order: int = 4) -> np.ndarray:
    return np.asarray(sosfilt(butter(order, freq_hz, fs=rate_hz, output="sos"), wave))


def noisy(wave: np.ndarray, snr_db: float, seed: int = 3) -> np.ndarray:
    rms = np.sqrt(np.mean(wave.astype(float) ** 2))
    return wave + np.random.default_rng(seed).normal(0.0, rms * 10 ** (-snr_db / 20), len(wave))


@pytest.mark.parametrize("rate_hz", SAMPLE_RATES)
@pytest.mark.parametrize(("fps", "drop"), RATES, ids=lambda v: str(v))
def test_every_bit_and_place_of_libltcs_encoder(rate_hz: int, fps: Fraction, drop: bool):
    """Second implementation: libltc's encoder, across a minute that drop-frame counting shortens."""
    code = libltc.encode((23, 8, 58, 20), 90, rate_hz=rate_hz, fps=float(fps), drop=drop, user=0x89ABCDEF)
    frames = read_frames(code.samples, rate_hz)
    assert [int(word).to_bytes(8, "little") for word in frames["word"]] == [w[:8] for w in code.words]
    assert not frames["backward"].any()
    assert (frames["user"] == 0x89ABCDEF).all()
    half_bit = rate_hz / float(fps) / 80 / 2
    assert np.abs(frames["start"] - code.starts).max() < min(half_bit, 1.5)
    found = track(code.samples, rate_hz)
    assert found is not None
    assert (found.rate.frames_per_s, found.rate.drop_frame) == (fps, drop)
    assert found.jump_count == 0
    assert (found.dropped_minutes, found.plain_minutes) == ((1, 0) if drop else (0, int(fps > 29)))
    # Its encoder rounds each half-cell to whole samples and carries the rest on: no more than half a sample.
    assert abs(found.off_ppm) < 40


# Standards page, section 5.2: measured with libltc 1.3.2, parity checked by hand.
WORKED = [
    (FPS_25, "00 00 08 05 09 05 00 00"), (FPS_30, "00 00 08 05 09 05 00 00"),
    (FPS_29_97, "00 00 08 05 09 05 00 00"), (FPS_29_97_DROP, "00 04 08 0D 09 05 00 00"),
]  # fmt: skip


@pytest.mark.parametrize(("rate", "word"), WORKED, ids=str)
def test_the_worked_encodings_are_read(rate: FrameRate, word: str):
    samples, _ = signals.timecode(
        0.2, fps=rate.frames_per_s, start="00:59:58:00", drop=rate.drop_frame, rate_hz=48_000
    )
    first = read_frames(samples[:, 0], 48_000)[0]
    assert int(first["word"]).to_bytes(8, "little") == bytes.fromhex(word)
    bits = word_bits(Label(0, 59, 58, 0), rate)
    assert sum(bit << place for place, bit in enumerate(bits[:64])) == int(first["word"])


# What is done to code of peak 1.0 at 48 kHz, and whether libltc's decoder reads it as well (None: that hangs
# by the noise; it works in 8 bits, and loses code somewhere below −40 dBFS).
CHANGES = {
    "as it is": (lambda w: w, True),
    "−20 dBFS": (lambda w: 0.1 * w, True),
    "−60 dBFS": (lambda w: 1e-3 * w, False),
    "−60 dBFS in dithered 16 bit": (
        lambda w: np.round(32.768 * w + np.random.default_rng(1).triangular(-1, 0, 1, len(w))) / 32768, False,
    ),
    "inverted": (lambda w: -0.5 * w, True),
    "DC of 0.3": (lambda w: 0.3 * w + 0.3, False),
    "DC of 0.9 under −26 dBFS": (lambda w: 0.05 * w + 0.9, False),
    "noise 20 dB under it": (lambda w: noisy(0.5 * w, 20), True),
    "noise 12 dB under it": (lambda w: noisy(0.5 * w, 12), True),
    "noise 10 dB under it": (lambda w: noisy(0.5 * w, 10), None),
    "noise 20 dB under −40 dBFS": (lambda w: noisy(0.01 * w, 20), None),
    "noise 20 dB under −60 dBFS": (lambda w: noisy(0.001 * w, 20), False),
    "low-passed at 5 kHz": (lambda w: low_passed(0.5 * w, 5000, 48_000), True),
    "low-passed at 2.5 kHz": (lambda w: low_passed(0.5 * w, 2500, 48_000), True),
    "low-passed at 5 kHz, noise 20 dB under": (lambda w: noisy(low_passed(0.5 * w, 5e3, 48_000), 20), True),
    "no lows": (lambda w: sosfilt(butter(2, 200, "high", fs=48_000, output="sos"), 0.5 * w), True),
    "hum 10 dB under it": (lambda w: 0.5 * w + 0.16 * np.sin(np.arange(len(w)) * 2 * np.pi / 960), True),
    "DC that wanders": (lambda w: 0.3 * (w + np.sin(np.arange(len(w)) * 2 * np.pi / 6000)), False),
    "clipped by 20 dB": (lambda w: np.clip(10 * w, -1, 1), True),
    "dull, then clipped off centre": (lambda w: np.clip(10 * low_passed(w, 3e3, 48_000) + 3, -1, 1), True),
    "worse": (lambda w: np.clip(10 * low_passed(w, 3e3, 48_000) + 6, -1, 1), True),
    "8 bit": (lambda w: np.round(60 * w) / 128, True),
    "faded in over 10 s": (lambda w: w * np.linspace(0.002, 1, len(w)), False),
}  # fmt: skip


@pytest.mark.parametrize("name", CHANGES)
def test_every_frame_is_read_whatever_was_done_to_it(name: str):
    change, theirs_too = CHANGES[name]
    samples, truth = signals.timecode(10.0, start="23:59:55:00", peak=1.0)
    wave = np.asarray(change(samples[:, 0]), dtype=np.float32)
    frames = read_frames(wave, 48_000)
    assert texts(frames) == list(truth.text)
    # A filter delays it by up to 0.2 ms; half a bit cell is 0.25 ms.
    assert np.abs(frames["start"] - truth.at_frames).max() < 12
    if theirs_too is not None:
        theirs = libltc.decode(wave[:, None], frame_samples=1920)
        assert (len(theirs) >= len(truth.text) - 2) is theirs_too, len(theirs)


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000, 192_000])
@pytest.mark.parametrize("speed", [0.5, 0.77, 1.3, 2.0])
@pytest.mark.parametrize("fps", [FILM, Fraction(30)], ids=str)
def test_every_frame_is_read_at_half_to_double_speed_and_backwards(rate_hz: int, speed: float, fps: Fraction):
    samples, truth = signals.timecode(3.0, rate_hz=rate_hz, fps=fps, speed=speed, start="02:59:59:00")
    wave = samples[:, 0]
    assert texts(read_frames(wave, rate_hz)) == list(truth.text)
    backwards = read_frames(wave[::-1].copy(), rate_hz)
    assert texts(backwards) == list(truth.text)[::-1]
    assert backwards["backward"].all()
    found = track(wave, rate_hz)
    assert found is not None
    assert found.frames_per_s == pytest.approx(float(fps) * speed, rel=5e-6)
    assert found.jump_count == 0
    turned = track(wave[::-1].copy(), rate_hz)
    assert turned is not None
    assert turned.backward
    assert turned.jump_count == 0
    assert (turned.first, turned.last) == (found.last, found.first)
    assert turned.frames_per_s == pytest.approx(found.frames_per_s, rel=1e-5)


def test_a_tape_that_changes_its_speed_is_followed():
    """From full to half speed and back over ten seconds, frame by frame."""
    wave, truth = signals.timecode(10.0, rate_hz=96_000, speed=1.0)
    place = np.cumsum(0.75 + 0.25 * np.cos(np.arange(12 * 96_000) * 2 * np.pi / (12 * 96_000)))
    place = place[place < len(wave) - 1]
    bent = np.interp(place, np.arange(len(wave)), wave[:, 0]).astype(np.float32)
    frames = read_frames(bent, 96_000)
    assert texts(frames) == list(truth.text)[: len(frames)]
    assert len(frames) > 200
    found = track(bent, 96_000)
    assert found is not None
    assert found.jump_count == 0


def test_what_libltc_reads_is_read_here():
    """Forty random ways to be bad, seeded; wherever libltc's decoder reads a frame, so does this one."""
    random = np.random.default_rng(20)
    more = 0
    for number in range(40):
        rate_hz = int(random.choice([32_000, 44_100, 48_000, 96_000]))
        fps, drop = RATES[number % len(RATES)]
        start = f"{random.integers(24):02d}:{random.integers(60):02d}:{random.integers(58):02d}:05"
        samples, _ = signals.timecode(
            2.0, rate_hz=rate_hz, fps=fps, drop=drop, start=start, peak=1.0, user=int(random.integers(2**32)),
            speed=float(random.uniform(0.6, 1.7)),
        )  # fmt: skip
        wave = low_passed(samples[:, 0], float(random.uniform(4000, 14_000)), rate_hz, 2)
        wave = noisy(wave, float(random.uniform(9, 30)), number) * 10 ** float(random.uniform(-2, 0.3))
        wave = np.clip(wave + float(random.uniform(-0.1, 0.1)), -1, 1).astype(np.float32)
        theirs = libltc.decode(wave[:, None], frame_samples=round(rate_hz / fps))
        ours = set(texts(read_frames(wave, rate_hz)))
        # It needs a frame to lock and may then report one that it misread: those nobody else knows.
        written = set(texts(read_frames(samples[:, 0], rate_hz)))
        missed = {frame.text for frame in theirs} & written - ours
        assert not missed, (number, missed)
        more += len(ours & written) - len({frame.text for frame in theirs} & written)
    assert more > 100


def test_any_block_size_gives_the_same_track():
    samples, _ = signals.timecode(4.0, rate_hz=44_100, fps=NTSC, drop=True, start="00:08:58:00")
    wave = noisy(samples[:, 0], 25).astype(np.float32)
    wave[60_000:75_000] = 0.0
    whole = track(wave, 44_100, len(wave))
    assert whole is not None
    assert whole.jump_count == 1
    for block in (1, 97, 4410, 100_000):
        short = wave if block > 1 else wave[:30_000]
        cut, uncut = track(short, 44_100, block), track(short, 44_100, len(short))
        assert cut is not None
        assert uncut is not None
        # Sums over all frames are made block by block: their last digits differ.
        assert cut.off_ppm == pytest.approx(uncut.off_ppm, abs=1e-6)
        assert (cut.level_dbfs, cut.edge_error) == pytest.approx((uncut.level_dbfs, uncut.edge_error))
        same = ("frames_per_s", "off_ppm", "level_dbfs", "edge_error")
        blank = dict.fromkeys(same, 0.0)
        assert replace(cut, **blank) == replace(uncut, **blank), block


def test_twice_the_level_is_six_db_and_a_second_before_it_moves_it_by_a_second():
    samples, truth = signals.timecode(2.0, peak=0.25)
    wave = samples[:, 0]
    found, louder = track(wave, 48_000), track(2 * wave, 48_000)
    later = track(np.concatenate([np.zeros(48_000), wave]), 48_000)
    assert found is not None
    assert louder is not None
    assert later is not None
    assert found.level_dbfs == pytest.approx(-12.04, abs=0.01)
    assert louder.level_dbfs - found.level_dbfs == pytest.approx(6.02, abs=0.001)
    assert later.start_s - found.start_s == pytest.approx(1.0, abs=2e-5)
    assert later.end_s - found.end_s == pytest.approx(1.0, abs=2e-5)
    assert found.end_s == pytest.approx(len(truth.text) / 25, abs=2e-5)
    assert (later.frames, later.first, later.rate) == (found.frames, found.first, found.rate)


@pytest.mark.parametrize("off_ppm", [-300, -100, 40, 300])
@pytest.mark.parametrize(("fps", "drop"), [(FILM, False), (Fraction(25), False), (NTSC, True)], ids=str)
def test_the_clock_is_measured_to_a_part_in_a_million(off_ppm: int, fps: Fraction, drop: bool):
    samples, _ = signals.timecode(6.0, fps=fps, drop=drop, speed=1 + off_ppm * 1e-6, rate_hz=44_100)
    found = track(noisy(samples[:, 0], 30).astype(np.float32), 44_100)
    assert found is not None
    assert found.off_ppm == pytest.approx(off_ppm, abs=1.0)
    assert found.rate.frames_per_s == fps


@pytest.mark.parametrize("ratio", [Fraction(160, 147), Fraction(147, 160), Fraction(320, 147)], ids=str)
def test_a_mislabelled_sample_rate_shows_as_speed(ratio: Fraction):
    """Standards page, section 8: 44.1 and 48 kHz taken for each other, 44.1 for 96. The count tells 25."""
    samples, _ = signals.timecode(3.0, fps=25, speed=float(ratio), rate_hz=96_000)
    found = track(samples[:, 0], 96_000)
    assert found is not None
    assert found.rate == FPS_25
    assert found.off_ppm == pytest.approx(1e6 * (float(ratio) - 1), abs=1)


def test_words_that_no_clock_shows_are_left_out():
    """61 seconds, 25 hours, a digit of ten: misread, or no timecode at all."""
    good = ltc.word(1, 2, 3, 4, drop=False, fps=25)
    for first, value in ((16, 11), (24, 6), (56, 3), (0, 12)):
        bits = list(good)
        bits[first : first + 2] = [value & 1, value >> 1 & 1]
        bits[first + 2 : first + 4] = [value >> 2 & 1, value >> 3 & 1]
        for words, read in (((good, good), 2), ((good, bits), 1)):
            assert len(read_frames(drawn(words), 48_000)) == read, (first, value)


def drawn(words: tuple[list[int], ...]) -> np.ndarray:
    """Square wave of these words at 25 frames, 48 kHz."""
    bits = np.array(words).ravel()
    edges = np.sort(np.concatenate([24 * np.arange(len(bits)), 24 * np.flatnonzero(bits) + 12]))
    side = np.searchsorted(edges, np.arange(24 * len(bits)), side="right") % 2
    return np.where(side, 0.5, -0.5).astype(np.float32)


def test_user_bits_and_their_change_are_told():
    same, _ = signals.timecode(1.0, user=0x87654321)
    other, _ = signals.timecode(1.0, user=0x87654320, start="01:00:01:00")
    found = track(same[:, 0], 48_000)
    assert found is not None
    assert (found.user_bits, found.user_bits_change) == ((1, 2, 3, 4, 5, 6, 7, 8), False)
    changing = track(np.concatenate([same, other])[:, 0], 48_000)
    assert changing is not None
    assert changing.user_bits_change
    assert changing.jump_count == 0


def test_cells_deform_where_the_wave_is_cut_off_centre():
    samples, _ = signals.timecode(2.0, peak=1.0)
    clean = track(samples[:, 0], 48_000)
    cut = track(np.clip(20 * samples[:, 0], -1, 1), 48_000)
    assert clean is not None
    assert cut is not None
    # A square wave survives being cut off; IEC 60461:2010, 8.6.4 allows 0.5 % of a cell for these edges.
    assert clean.edge_error < 0.005
    assert cut.edge_error < 0.01
    dull = low_passed(samples[:, 0], 3000, 48_000)
    errors = [track(np.clip(10 * dull + dc, -1, 1), 48_000) for dc in (0.0, 3.0, 6.0)]
    assert all(errors)
    amounts = [found.edge_error for found in errors if found is not None]
    assert amounts[0] < 0.03 < 0.05 < amounts[1] < 0.1 < 0.12 < amounts[2]


@pytest.mark.parametrize(
    "samples",
    [
        signals.music_bed(2.0)[0], signals.speech(2.0)[0], signals.drums(2.0)[0], signals.noise(1.0)[0],
        signals.square(1200, 1.0)[0], signals.sine(2400, 1.0)[0], signals.silence(0.5)[0],
        signals.clicks(2.0)[0], signals.beeps(1.0, low_hz=1000, high_hz=2000)[0],
    ],
    ids=["music", "speech", "drums", "noise", "square", "sine", "silence", "clicks", "two tones"],
)  # fmt: skip
def test_nothing_else_reads_as_timecode(samples: np.ndarray):
    assert len(read_frames(np.ascontiguousarray(samples[:, 0]), 48_000)) == 0


@pytest.mark.parametrize("frames", [0, 1, 239, 240, 241, 1800])
def test_less_than_a_frame_is_nothing(frames: int):
    samples, _ = signals.timecode(1.0)
    assert track(samples[:frames, 0], 48_000) is None


def test_a_wrong_rate_and_a_wrong_shape_are_refused():
    with pytest.raises(BadSamplesError, match="outside 8"):
        TimecodeReader(4000)
    meter = TimecodeMeter(48_000, 2)
    with pytest.raises(BadSamplesError, match="1 channels"):
        meter.add(np.zeros((10, 1), dtype=np.float32))


# A stem whose name does not say timecode: read from where it was seen.


@pytest.mark.parametrize("block", [2400, 12_000, 65_536, 400_000])
@pytest.mark.parametrize("lead", [0, 48_123, 100_001])
def test_unannounced_timecode_loses_no_frame(block: int, lead: int):
    """`met` comes at the end of the 0.25 s window that shows it, or of the next one."""
    code, truth = signals.timecode(3.0)
    bed = signals.music_bed(lead / 48_000 + 4.0)[0][:, 0]
    side = np.zeros(lead + len(code), dtype=np.float32)
    side[lead:] = code[:, 0]
    both = np.stack([bed[: len(side)], side], axis=1)
    frames: dict[int, list[np.ndarray]] = {}
    meter = TimecodeMeter(48_000, 2, on_frames=lambda c, found: frames.setdefault(c, []).append(found))
    seen = lead // 12_000 * 12_000 + 24_000
    for start in range(0, len(both), block):
        end = min(start + block, len(both))
        meter.add(np.asfortranarray(both[start:end]), (False, end >= seen))
    assert meter.result((0,)) is None
    found = meter.result((0, 1))
    assert found is not None
    assert found.channel == 1
    assert texts(np.concatenate(frames[1])) == list(truth.text)
    assert found.start_s == pytest.approx(lead / 48_000, abs=1e-4)
    assert set(frames) == {1}


def test_of_two_channels_the_one_that_reads_better_counts():
    code, truth = signals.timecode(3.0)
    bad = code[:, 0].copy()
    bad[20_000:90_000] = 0.0
    meter = TimecodeMeter(48_000, 2, expected=True)
    meter.add(np.stack([bad, code[:, 0]], axis=1).astype(np.float32))
    found = meter.result((0, 1))
    assert found is not None
    assert (found.channel, found.frames) == (1, len(truth.text))


def test_memory_does_not_grow_with_the_stem():
    import tracemalloc

    code, _ = signals.timecode(20.0, start="00:00:00:00")
    reader = TimecodeReader(48_000)
    reader.add(code[:, 0])
    tracemalloc.start()
    for _ in itertools.repeat(None, 9):
        reader.add(code[:, 0])  # each time a jump back
    grown = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    assert grown < 150_000
    reader.end()
    found = reader.track(0)
    assert found is not None
    assert found.jump_count == 9
