"""compare_keys: a transposed stem is told from a part that keeps to its song, by its semitones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import entropy, pearsonr

from audit.measure.keys import Harmony, _or_above, compare, compare_keys, harmony_of, together, turned_scores
from audit.results import Chroma, KeyFit
from tests.measure.feeding import measure_chroma

RATE_HZ = 22_050
CHORDS = ((9, 0, 4), (5, 9, 0), (0, 4, 7), (7, 11, 2), (2, 5, 9), (4, 7, 11))


def tones(pitches: list[int], seconds: float, seed: int) -> np.ndarray:
    random = np.random.default_rng(seed)
    at_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    wave = np.zeros(len(at_s))
    for pitch in pitches:
        for partial in range(1, 5):
            hz = 440.0 * 2.0 ** ((pitch - 69) / 12) * partial
            wave += 0.05 / partial**1.5 * np.sin(2 * np.pi * hz * at_s + random.uniform(0, 6))
    return wave


def part(kind: str, *, semitones: int = 0, seconds: float = 2.0, times: int = 3) -> Chroma:
    """Chords, their roots, or one chord all along, in six changes that come round."""
    played = []
    for number, chord in enumerate(CHORDS * times):
        pitches = {"chords": [60 + k for k in chord], "roots": [36 + chord[0]], "drone": [48, 55]}[kind]
        played.append(tones([pitch + semitones for pitch in pitches], seconds, number))
    return measure_chroma(np.concatenate(played)[:, None].astype(np.float32), RATE_HZ)


BAND = {"keys": part("chords"), "strings": part("chords", seconds=2.0), "bass": part("roots")}


def fits(**changed: Chroma | None) -> dict[str, KeyFit | None]:
    chromas = {**BAND, **changed}
    found = compare_keys([harmony_of(chroma) for chroma in chromas.values()])
    return dict(zip(chromas, found, strict=True))


def test_a_band_in_one_key():
    for found in fits().values():
        assert found is not None
        assert found.semitones == 0
        assert found.gain == 0.0
        assert found.fit_as_is > 0.4
        assert found.others == 2
        assert found.seconds == pytest.approx(36.0, abs=1.0)


def in_tune() -> KeyFit:
    strings = fits()["strings"]
    assert strings is not None
    return strings


@pytest.mark.parametrize("semitones", [-5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 6])
def test_transposed_chords_are_told_and_nobody_else_is(semitones: int):
    found = fits(keys=part("chords", semitones=semitones))
    assert found["keys"] is not None
    assert found["keys"].semitones == semitones
    assert found["keys"].gain > 0.3
    assert min(found["keys"].first_half_gain, found["keys"].second_half_gain) > 0.2
    assert found["strings"] is not None
    assert found["strings"].semitones == 0
    assert found["strings"].others == 2
    assert found["strings"].fit_as_is == pytest.approx(
        in_tune().fit_as_is, abs=0.02
    )  # the suspect is turned back


@pytest.mark.parametrize("semitones", [-3, 1, 4, 6])
def test_a_transposed_bass(semitones: int):
    found = fits(bass=part("roots", semitones=semitones))
    assert found["bass"] is not None
    assert found["bass"].semitones == semitones
    assert found["bass"].gain > 0.35
    assert found["bass"].voices < 1.7 < found["keys"].voices  # type: ignore[union-attr]


def test_every_other_stem_is_asked_alone():
    found = fits(keys=part("chords", semitones=3), pad=part("chords"))
    assert found["keys"] is not None
    assert (found["keys"].agree, found["keys"].disagree) == (3, 0)
    assert found["keys"].evidence > 2.0
    assert found["pad"] is not None
    assert (found["pad"].agree, found["pad"].evidence) == (0, 0.0)


@pytest.mark.parametrize("semitones", [-1, 2, 3])
def test_who_is_turned_is_told_by_whom_the_others_go_with(semitones: int):
    """The pad sounds with the bass alone, and for half of the time; keys and strings with the bass."""
    found = fits(keys=part("chords"), pad=after(36, part("chords", semitones=semitones, times=2)),
                 strings=None, bass=part("roots", times=5))  # fmt: skip
    assert found["pad"] is not None
    assert found["bass"] is not None
    assert (found["pad"].semitones, found["pad"].agree) == (semitones, 1)
    assert found["pad"].lead > 0.3
    assert found["bass"].semitones == 0


def test_the_one_that_explains_most_is_looked_at_first():
    """A bass two semitones up, under keys and strings, then under a pad alone, which fits it no better."""
    pad = after(36, part("chords", times=2))
    found = fits(pad=pad, bass=part("roots", times=5, semitones=2))
    assert found["bass"] is not None
    assert found["pad"] is not None
    assert (found["bass"].semitones, found["bass"].others) == (2, 3)  # the pad among them
    assert (found["pad"].semitones, found["pad"].others) == (0, 3)


@pytest.mark.parametrize(
    ("semitones", "with_it"),
    [
        (-5, False),  # a line on the fifths: a suspect, but not clearly another key's
        (2, True),
    ],
)
def test_what_fits_clearly_elsewhere_is_turned_back_and_else_left_out(semitones: int, with_it: bool):
    found = fits(bass=part("roots", semitones=semitones))
    assert [fit.others for name, fit in found.items() if fit and name != "bass"] == [1 + with_it] * 2


@pytest.mark.parametrize(
    ("ahead", "with_it"),
    [
        (1, True),  # fits by 0.33 when it is turned
        (2, False),  # by 0.28
    ],
)
def test_what_fits_badly_wherever_it_is_turned_is_left_out(ahead: int, with_it: bool):
    """A line a semitone above the roots, so many chords ahead of them."""
    lead = line([chord[0] + 1 for chord in CHORDS[ahead:] + CHORDS[:ahead]])
    found = fits(lead=lead)
    assert found["lead"] is not None
    assert found["lead"].gain + found["lead"].long_gain > 1.5
    assert [fit.others for name, fit in found.items() if fit and name != "lead"] == [2 + with_it] * 3


def line(classes: list[int]) -> Chroma:
    played = [tones([60 + one], 2.0, number) for number, one in enumerate(classes * 3)]
    return measure_chroma(np.concatenate(played)[:, None].astype(np.float32), RATE_HZ)


def after(seconds: float, chroma: Chroma) -> Chroma:
    hops = round(seconds / chroma.hop_s)
    kind = type(chroma.levels)
    return replace(
        chroma, classes=kind("B", bytes(12 * hops)) + chroma.classes,
        levels=kind("B", bytes(hops)) + chroma.levels,
    )  # fmt: skip


def test_of_two_alone_neither_leads():
    found = fits(strings=None, bass=part("roots", semitones=2))
    assert {name: fit.semitones for name, fit in found.items() if fit} == {"keys": -2, "bass": 2}
    assert all(abs(fit.lead) < 0.01 for fit in found.values() if fit)


def test_of_two_against_two_nobody_leads():
    up = part("chords", semitones=3)
    found = fits(keys=up, pad=up, bass=part("chords"))
    said = [fit for fit in found.values() if fit is not None and fit.semitones]
    assert said
    assert all(fit.lead < 0.1 and fit.disagree >= 1 for fit in said)


@pytest.mark.parametrize("semitones", [-5, 5])
def test_a_fifth_off_the_changes_tell(semitones: int):
    found = fits(keys=part("chords", semitones=semitones))["keys"]
    assert found is not None
    assert found.changes_turned > found.changes_as_is + 0.3
    assert found.thirds > 0.8
    bass = fits(bass=part("roots", semitones=-5))["bass"]
    assert bass is not None
    assert bass.on_fifth > 0.6


def test_eight_seconds_are_a_moving_mean():
    """Against numpy's convolution."""
    one, other = harmony_of(BAND["keys"]), harmony_of(BAND["bass"])
    assert one is not None
    assert other is not None
    mine, theirs = together(one, [other], 17)
    for rows, chroma in ((mine, one), (theirs, other)):
        mean = np.stack([np.convolve(column, np.ones(17), "same") for column in chroma.classes.T], axis=1)
        mean = mean[: len(rows)]
        assert rows[9:-9] == pytest.approx(np.sqrt(mean / mean.sum(axis=1, keepdims=True))[9:-9], abs=1e-6)


def test_a_song_may_change_its_key():
    """The second half three semitones up, in every stem."""
    found = fits_of_two_halves().values()
    assert all(fit is not None and fit.semitones == 0 for fit in found)


def fits_of_two_halves() -> dict[str, KeyFit | None]:
    both = {}
    for name, kind in (("keys", "chords"), ("strings", "chords"), ("bass", "roots")):
        first, second = part(kind), part(kind, semitones=3)
        both[name] = replace(
            first, classes=first.classes + second.classes, levels=first.levels + second.levels
        )
    return fits(**both)


def test_the_order_of_turns_is_numpys():
    """Turning the chroma by hand gives what the columns say, and columns are Pearson's r (scipy)."""
    one = harmony_of(part("chords", semitones=2))
    other = harmony_of(BAND["strings"])
    assert one is not None
    assert other is not None
    scores = turned_scores(one, [other])
    by_hand = replace_classes(one, np.roll(one.classes, 10, axis=1))
    assert turned_scores(by_hand, [other])[:, 0] == pytest.approx(scores[:, 10])
    row = 7
    mine, theirs = (np.sqrt(np.sum(part.classes[row - 1 : row + 2], axis=0) / 3) for part in (by_hand, other))
    assert scores[row, 10] == pytest.approx(pearsonr(mine, theirs).statistic, abs=0.02)


def replace_classes(one: Harmony, classes: np.ndarray) -> Harmony:
    return Harmony(classes, one.sounds)


def test_a_double_of_another_line_is_known_as_such():
    lead = part("roots", semitones=24)
    found = fits(lead=lead, third=part("roots", semitones=28))
    assert found["third"] is not None
    assert found["third"].semitones == 4
    assert found["third"].parallel > 0.9
    assert fits(bass=part("roots", semitones=4))["bass"].parallel < 0.5  # type: ignore[union-attr]


def test_drones_silence_noise_and_moments_say_nothing():
    assert fits(drone=part("drone"))["drone"] is None
    assert harmony_of(None) is None
    assert harmony_of(measure_chroma(np.zeros((RATE_HZ * 20, 1), np.float32), RATE_HZ)) is None
    noise = np.random.default_rng(1).standard_normal((RATE_HZ * 20, 1)).astype(np.float32) * 0.1
    assert harmony_of(measure_chroma(noise, RATE_HZ)) is None
    assert harmony_of(part("chords", seconds=0.9, times=1)) is None
    assert compare_keys([harmony_of(BAND["keys"]), None]) == [None, None]


def test_level_changes_nothing():
    chroma = BAND["keys"]
    louder = replace(
        chroma, levels=type(chroma.levels)("B", [min(255, level + 20) for level in chroma.levels])
    )
    one, other, bass = harmony_of(chroma), harmony_of(louder), harmony_of(BAND["bass"])
    assert one is not None
    assert other is not None
    assert bass is not None
    first, second = compare(one, [bass]), compare(other, [bass])
    assert first is not None
    assert second is not None
    assert first.fit_as_is == pytest.approx(second.fit_as_is, abs=0.01)


@pytest.mark.parametrize(("frames", "asked"), [(11, False), (12, True)])
def test_six_seconds_together_are_asked_for(frames: int, asked: bool):
    one, other = harmony_of(BAND["keys"]), harmony_of(BAND["bass"])
    assert one is not None
    assert other is not None
    sounds = one.sounds & (np.arange(len(one.sounds)) < frames)
    assert (compare(Harmony(one.classes, sounds), [other]) is not None) is asked


def test_how_many_classes_lead_in_turn():
    """Perplexity: e to the entropy of what leads, as scipy has it."""
    leads = [0] * 5 + [4] * 3 + [7] * 2
    one = Harmony(np.eye(12)[leads], np.ones(10, dtype=bool))
    assert one.leading == pytest.approx(np.exp(entropy([0.5, 0.3, 0.2])))
    assert Harmony(one.classes, np.zeros(10, dtype=bool)).leading == 0.0


@pytest.mark.parametrize(
    ("second", "other"),
    [(0.81, 1), (0.79, 0)],  # of what the best turn gains
)
def test_the_next_best_turn_is_named_from_four_fifths_on(second: float, other: int):
    both = np.full(12, -0.5)
    both[0], both[4], both[11], both[7] = 0.1, 1.1, 0.1 + second, 0.5
    assert _or_above(both, 4) == other
    assert _or_above(np.zeros(12), 0) == 0
