"""key-mismatch: a stem in another key than its song."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.results import Alignment, Chroma, Elsewhere, KeyFit, Pulse, WrongRate
from tests.evidence import audit_with, findings, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

AT_HOME = KeyFit(
    semitones=0, fit_as_is=0.8, fit_turned=0.8, first_half_gain=0.0, second_half_gain=0.0, first_half_fit=0.8,
    second_half_fit=0.8, seconds=60.0, voices=3.0, others=3, agree=3, thirds=0.9, lead=0.9,
)  # fmt: skip


def fit(semitones: int, as_is: float, turned: float, **odd: Any) -> KeyFit:
    gain = turned - as_is
    return replace(
        AT_HOME,
        **{
            "semitones": semitones, "fit_as_is": as_is, "fit_turned": turned, "first_half_gain": gain,
            "second_half_gain": gain, "first_half_fit": as_is, "second_half_fit": as_is,
            "changes_as_is": 0.0, "changes_turned": 0.8 * turned, **odd,
        },
    )  # fmt: skip


def chroma(cents: float | None) -> Chroma:
    from array import array

    return Chroma(
        hop_s=0.1, classes=array("B"), levels=array("B"), tonal=0.9, tuning_cents=cents, tuning_agreed=0.9
    )


def tuned(file: str, cents: float | None, key: KeyFit | None = AT_HOME) -> StemEvidence:
    made = stem(file)
    part = replace(made.parts[0], measures=replace(made.parts[0].measures, chroma=chroma(cents)))
    return replace(made, parts=(part,), key=key)


def keys(own: KeyFit | None, **odd: Any) -> ShowEvidence:
    """Three stems in one key, and keys that fit them as said."""
    others = [replace(stem(name), key=AT_HOME) for name in ("Bass.wav", "Guitar.wav", "Pad.wav")]
    return show(song("Night Ferry", *others, replace(stem("Keys.wav"), key=own, **odd)))


def riff(changes: float) -> ShowEvidence:
    own = fit(-3, 0.19, 0.71, long_gain=0.79, changes_as_is=-0.06, changes_turned=changes, thirds=0.61)
    return keys(replace(own, voices=1.9))


def bass(own: KeyFit) -> ShowEvidence:
    others = [replace(stem(name), key=AT_HOME) for name in ("Guitar.wav", "Pad.wav")]
    return show(song("Night Ferry", *others, replace(stem("Bass 2.wav"), key=own)))


def semitone(as_is: float = -0.3, turned: float = 0.22, **odd: Any) -> ShowEvidence:
    """Chords of no thirds that fit faintly after the turn: 0.86 by chords and scale together."""
    said = {"long_gain": 0.34, "thirds": 0.1, "changes_turned": 0.11, **odd}
    return keys(fit(1, as_is, turned, **said))


def tone(as_is: float = 0.21, turned: float = 0.61, semitones: int = 2, **odd: Any) -> ShowEvidence:
    """1.04 in all."""
    said = {"long_gain": 0.16, "changes_turned": 0.48, "thirds": 0.1, **odd}
    return keys(fit(semitones, as_is, turned, **said))


def tuned_drums(own: KeyFit) -> ShowEvidence:
    others = [replace(stem(name), key=AT_HOME) for name in ("Bass.wav", "Guitar.wav", "Pad.wav")]
    return show(song("Night Ferry", *others, replace(stem("Percussion.wav"), key=own)))


def two(own: KeyFit, first: str = "Guitar.wav") -> ShowEvidence:
    fits = replace(own, others=1, lead=0.0)  # neither explains more than the other
    return show(song("S", replace(stem(first), key=fits), replace(stem("Keys.wav"), key=fits)))


def at_rate(ratio: float, onsets: int) -> Alignment:
    wrong = WrongRate(ratio=ratio, fit=0.6, fit_as_is=0.2, onsets=onsets)
    return Alignment(phase=None, drift=None, wrong_rate=wrong)


def at_tempo(ratio: float) -> Alignment:
    own = Pulse(per_beat=ratio, fit=0.9, on_click=0.1, onsets=200, turns=(0.1, 0.3))
    return Alignment(phase=None, drift=None, wrong_rate=None, own_pulse=own)


FOREIGN = Elsewhere(song="Other", key=fit(0, 0.9, 0.9), rhythm=None)
LINE = {"voices": 1.2}
KEYS = "Keys.wav"

CASES: dict[str, tuple[Case, ...]] = {
    "key-mismatch": (
        planted(
            "keys three semitones up",
            keys(fit(3, -0.1, 0.8)),
            Expected(
                stem="Keys.wav",
                value=0.9,
                says=("3 semitones above", "80 % alike", "as it is 0 %"),
                advises=("3 semitones down",),
                facts={"semitones": 3},
            ),
        ),
        planted(
            "one semitone down",
            keys(fit(-1, -0.3, 0.7)),
            Expected(stem="Keys.wav", says=("1 semitone below",), advises=("1 semitone up",)),
        ),
        planted("a bass, six semitones", bass(fit(6, -0.2, 0.5, **LINE)), Expected(stem="Bass 2.wav")),
        planted("chords a fourth below", keys(fit(-5, 0.5, 0.85)), Expected(stem="Keys.wav", value=1.03)),
        planted("a bass a fourth above", bass(fit(5, 0.3, 0.5, **LINE)), Expected(stem="Bass 2.wav")),
        planted("beside three others, which it fits badly as it is",
                bass(fit(5, 0.44, 0.65, others=3, **LINE)), Expected(stem="Bass 2.wav")),
        clean("beside three others, well as it is", bass(fit(5, 0.46, 0.65, others=3, **LINE))),
        planted("beside four", bass(fit(5, 0.46, 0.65, others=4, **LINE)), Expected(stem="Bass 2.wav")),
        clean("a bass and one other a whole tone apart: rootless ninths",
              two(fit(2, 0.0, 0.7, long_gain=0.6), "Bass.wav")),
        planted("three semitones apart", two(fit(3, 0.0, 0.7, long_gain=0.6), "Bass.wav"),
                Expected(stem=None, says=("Bass.wav and Keys.wav", "3 semitones apart"))),
        planted(
            "a bass on fifths and ninths",
            bass(fit(-5, 0.44, 0.5, on_fifth=0.6, on_ninth=0.2, **LINE)),
            Expected(stem="Bass 2.wav"),
        ),
        planted("fifths a fourth above", keys(fit(5, 0.3, 0.8, thirds=0.2, voices=2.0, long_gain=0.4)),
                Expected(stem="Keys.wav")),
        planted("a tune, by its scale", keys(fit(3, -0.1, 0.5, long_gain=0.5, **LINE)), Expected(stem=KEYS)),
        planted(
            "weak chords, all signs together", keys(fit(3, 0.2, 0.5, long_gain=0.5)), Expected(stem=KEYS)
        ),
        clean("the same without their thirds", keys(fit(3, 0.2, 0.5, long_gain=0.4, thirds=0.3))),
        clean("a riff of fifths in another mode, which follows no chord", riff(0.15)),
        planted("one that follows the chords", riff(0.16), Expected(stem="Keys.wav", value=0.52)),
        clean("one shape on the fifth of every chord", keys(fit(-5, 0.27, 0.7, thirds=0.2, voices=3.0))),
        clean("fifths without ninths", keys(fit(-5, 0.3, 0.8, thirds=0.2, voices=2.0, long_gain=0.4))),
        clean("a fifth off by the scale alone", keys(fit(5, 0.2, 0.6, changes_turned=0.2, long_gain=0.4))),
        clean("sevenths over other chords of the scale", keys(fit(
            -3, 0.17, 0.62, long_gain=0.7, changes_as_is=0.42, changes_turned=0.34, thirds=0.0, voices=3.8))),
        planted("the same, whose changes follow", keys(fit(
            -3, 0.17, 0.62, long_gain=0.7, changes_as_is=0.42, changes_turned=0.43, thirds=0.0, voices=3.8)),
            Expected(stem=KEYS)),
        clean("a line doubled in fourths", keys(fit(5, 0.45, 0.8, thirds=0.9, voices=2.2, parallel=0.7))),
        planted(
            "the same, a line that is less alike",
            keys(fit(5, 0.45, 0.8, thirds=0.9, voices=2.2, parallel=0.69)),
            Expected(stem=KEYS),
        ),
        clean("two parts, which are third and fifth", keys(fit(5, 0.45, 0.8, thirds=0.9, voices=2.14))),
        planted(
            "chords of few tones",
            keys(fit(5, 0.45, 0.8, thirds=0.9, voices=2.16)),
            Expected(stem="Keys.wav"),
        ),
        clean("a fourth above in one half", keys(fit(5, 0.2, 0.6, second_half_gain=-0.1))),
        clean("a bass on the fifths alone", bass(fit(-5, 0.5, 0.55, on_fifth=0.8, on_ninth=0.05, **LINE))),
        clean("a bass on the fifths, which says little", bass(
            fit(-5, 0.5, 0.52, on_fifth=0.6, on_ninth=0.2, changes_turned=0.1, **LINE))),
        clean("a tune", keys(fit(3, 0.0, 0.6, **LINE))),
        clean("a hook that comes round over every chord", keys(
            fit(3, -0.1, 0.5, long_gain=0.5, changes_turned=0.14, **LINE))),
        planted("a tune that moves with them", keys(
            fit(3, -0.1, 0.5, long_gain=0.5, changes_turned=0.16, **LINE)), Expected(stem=KEYS, value=1.1)),
        clean("a tune that moves with them as it is", keys(
            fit(3, -0.1, 0.5, long_gain=0.5, changes_as_is=0.3, changes_turned=0.44, **LINE))),
        clean("a hook that fits the scale better", keys(
            fit(3, -0.3, 0.5, long_gain=0.69, changes_turned=0.0, **LINE))),
        planted("far better", keys(fit(3, -0.3, 0.5, long_gain=0.71, changes_turned=0.0, **LINE)),
                Expected(stem=KEYS, value=1.51)),
        clean("far better, a whole tone off", keys(
            fit(2, -0.3, 0.5, long_gain=1.0, changes_turned=0.14, **LINE))),
        planted("a tune a whole tone off, that moves with the chords", keys(
            fit(2, -0.05, 0.5, long_gain=0.46, changes_turned=0.16, **LINE)),
            Expected(stem=KEYS, value=1.01)),
        clean("less clearly", keys(fit(2, -0.05, 0.5, long_gain=0.44, **LINE))),
        planted("a hook a semitone off", keys(
            fit(1, -0.3, 0.4, long_gain=0.35, changes_turned=0.0, **LINE)), Expected(stem=KEYS)),
        clean("a bass a whole tone off, by its scale alone", bass(
            fit(2, 0.1, 0.35, long_gain=1.2, changes_turned=0.05, **LINE))),
        clean("a tune a fifth off", keys(fit(5, -0.1, 0.7, long_gain=0.9, **LINE))),
        clean("a tune a whole tone off, less clearly", keys(fit(2, 0.25, 0.5, long_gain=0.6, **LINE))),
        clean("a wrong rate", keys(fit(-1, -0.3, 0.7), alignment=at_rate(160 / 147, onsets=30))),
        clean("another tempo", keys(fit(-1, -0.3, 0.7), alignment=at_tempo(1.02))),
        planted(
            "a tempo hardly another one", keys(fit(-1, -0.3, 0.7), alignment=at_tempo(1.002)),
            Expected(stem="Keys.wav"),
        ),
        planted(
            "a rate told by too few", keys(fit(-1, -0.3, 0.7), alignment=at_rate(160 / 147, onsets=29)),
            Expected(stem="Keys.wav"),
        ),
        clean("the others do not agree", keys(fit(3, -0.1, 0.8, agree=2, disagree=3))),
        planted("one witness of three", keys(fit(3, -0.1, 0.8, agree=1)), Expected(stem=KEYS)),
        clean("no witness of three", keys(fit(3, -0.1, 0.8, agree=0))),
        clean("as well explained by another stem", keys(fit(3, -0.1, 0.8, lead=0.14))),
        planted("not so well", keys(fit(3, -0.1, 0.8, lead=0.16)), Expected(stem=KEYS)),
        clean("a fifth off, one for and one against", keys(fit(-5, 0.5, 0.85, agree=1, disagree=1))),
        planted("two for and one against", keys(fit(-5, 0.5, 0.85, agree=2, disagree=1)),
                Expected(stem=KEYS)),
        planted("three semitones, one for and one against", keys(fit(3, -0.1, 0.8, agree=1, disagree=1)),
                Expected(stem=KEYS)),
        clean("one witness alone", keys(fit(3, -0.1, 0.8, others=1, agree=1))),
        clean("tones that follow nothing, by three semitones", keys(fit(3, -0.2, 0.41, thirds=0.1))),
        planted("a semitone, faintly", semitone(), Expected(stem=KEYS)),
        clean("too faintly", semitone(as_is=-0.29, turned=0.19)),
        clean("whose scale says too little", semitone(long_gain=0.32)),
        clean("in one half", semitone(second_half_gain=0.09)),
        planted("in both halves", semitone(second_half_gain=0.11), Expected(stem=KEYS)),
        clean("speech, which does not move with the chords", semitone(changes_turned=0.09)),
        clean("speech, that moved with them as it is", semitone(changes_as_is=0.1, changes_turned=0.19)),
        planted("what fits well need not", semitone(as_is=-0.05, turned=0.46, changes_turned=0.0),
                Expected(stem=KEYS)),
        clean("less well", semitone(as_is=-0.05, turned=0.44, changes_turned=0.0)),
        planted("a line a semitone off, doubled by chance", keys(
            fit(1, -0.3, 0.5, long_gain=0.3, parallel=0.9, **LINE)), Expected(stem=KEYS)),
        planted("a line six off, doubled by chance", keys(
            fit(6, -0.3, 0.5, long_gain=0.3, parallel=0.9, **LINE)), Expected(stem=KEYS)),
        planted("a whole tone, bad as it is", tone(), Expected(stem=KEYS)),
        planted("a semitone in a few bars", semitone(seconds=6.0), Expected(stem=KEYS)),
        clean("a few bars that fit well, but move with nothing",
              semitone(as_is=-0.05, turned=0.46, changes_turned=0.0, seconds=7.9)),
        planted("more of them", semitone(as_is=-0.05, turned=0.46, changes_turned=0.0, seconds=8.0),
                Expected(stem=KEYS)),
        clean("three semitones in a few bars, which lie anywhere", keys(fit(3, -0.1, 0.8, seconds=7.9))),
        planted("three semitones in more", keys(fit(3, -0.1, 0.8, seconds=8.0)), Expected(stem=KEYS)),
        planted("bells a semitone off", tuned_drums(fit(1, -0.3, 0.6, long_gain=0.3)),
                Expected(stem="Percussion.wav")),
        clean("tuned drums a semitone off, faintly", tuned_drums(
            fit(1, -0.3, 0.44, long_gain=0.3, changes_turned=0.3))),
        planted("a tune a semitone off, in a few bars", keys(
            fit(1, -0.3, 0.5, long_gain=0.3, seconds=10.0, **LINE)), Expected(stem=KEYS)),
        clean("a few bars of a tune that move with nothing", keys(
            fit(1, -0.3, 0.5, long_gain=0.3, changes_turned=0.0, seconds=19.9, **LINE))),
        planted("more of it", keys(
            fit(1, -0.3, 0.5, long_gain=0.3, changes_turned=0.0, seconds=20.0, **LINE)),
            Expected(stem=KEYS)),
        clean("a few bars of a tune in its key, which fit a tone higher as well", keys(
            fit(2, 0.13, 0.63, long_gain=0.42, changes_as_is=-0.18, changes_turned=0.08, seconds=10.0,
                **LINE))),
        clean("a whole tune that fits so", keys(
            fit(2, 0.13, 0.63, long_gain=0.42, changes_as_is=-0.18, changes_turned=0.5, **LINE))),
        planted("a bass that fits so", bass(
            fit(2, 0.13, 0.63, long_gain=0.42, changes_as_is=-0.18, changes_turned=0.5, **LINE)),
            Expected(stem="Bass 2.wav", value=1.6)),
        clean("three semitones in a few bars of a tune", keys(
            fit(3, -0.1, 0.5, long_gain=0.5, seconds=19.9, **LINE))),
        planted("as many of a bass", bass(fit(3, -0.1, 0.6, long_gain=0.5, seconds=8.0, **LINE)),
                Expected(stem="Bass 2.wav")),
        clean("too faintly, wherever it was", semitone(as_is=-0.7, turned=0.19)),
        clean("a semitone, whose changes were against it and are no more",
              semitone(changes_as_is=-0.2, changes_turned=0.05)),
        clean("a second voice in strict fourths", bass(
            fit(-5, 0.2, 0.7, parallel=0.9, on_ninth=0.1, **LINE))),
        planted("that is no strict double", bass(fit(-5, 0.2, 0.7, parallel=0.6, on_ninth=0.1, **LINE)),
                Expected(stem="Bass 2.wav")),
        planted("a semitone says what told it", semitone(), Expected(stem=KEYS, value=0.86)),
        planted("so does a whole tone", tone(as_is=0.22, turned=0.5, long_gain=0.3, changes_turned=0.5),
                Expected(stem=KEYS, value=1.08)),
        clean("tuned drums, three semitones off", tuned_drums(fit(3, -0.1, 0.8))),
        clean("tuned drums that follow no chord", tuned_drums(fit(1, -0.3, 0.6, changes_turned=0.05))),
        clean("not bad as it is", tone(as_is=0.23, turned=0.63)),
        clean("a whole tone, which follows no chord", tone(changes_turned=0.14, long_gain=0.6)),
        planted("which follows them", tone(changes_turned=0.16, long_gain=0.6), Expected(stem=KEYS)),
        clean("less in all", tone(long_gain=0.11)),
        planted("chords that fit less", tone(turned=0.41, long_gain=0.36), Expected(stem=KEYS)),
        clean("three semitones say less", tone(turned=0.41, long_gain=0.36, semitones=3)),
        clean("half of the stems", show(song("S", *[
            replace(stem(name), key=fit(3, -0.1, 0.8) if "2" in name else AT_HOME)
            for name in ("Bass.wav", "Pad.wav", "Keys 2.wav", "Gtr 2.wav")]))),
        planted(
            "two stems alone: neither is to blame",
            two(fit(2, 0.0, 0.7, long_gain=0.6)),
            Expected(stem=None, says=("Guitar.wav and Keys.wav", "2 semitones apart")),
        ),
        planted(
            "and the tuning beside it",
            show(
                song(
                    "S", tuned("Bass.wav", 5.0), tuned("Pad.wav", 3.0),
                    tuned("Keys.wav", 34.0, fit(3, 0.0, 0.8)),
                )
            ),
            Expected(stem="Keys.wav", says=("3 semitones above", "30 cents sharp")),
        ),
        clean("all in one key", keys(AT_HOME)),
        clean("a tune that says little", keys(fit(2, 0.13, 0.24, **LINE))),
        clean("a tune on the fifths", keys(fit(-5, 0.1, 0.7, **LINE))),
        clean("a second voice in strict thirds", keys(
            fit(4, -0.2, 0.7, long_gain=0.2, parallel=0.9, **LINE))),
        planted("one that is less strict", keys(fit(4, -0.2, 0.7, long_gain=0.2, parallel=0.69, **LINE)),
                Expected(stem=KEYS)),
        planted("a bass, which nobody doubles in thirds", bass(fit(4, -0.2, 0.7, parallel=0.9, **LINE)),
                Expected(stem="Bass 2.wav")),
        clean("one half only", keys(fit(3, 0.1, 0.6, first_half_gain=0.95, second_half_gain=0.1))),
        clean("stacked fourths", keys(fit(-2, 0.38, 0.73))),
        clean("stacked fourths, clearer", keys(fit(-2, 0.3, 0.77, long_gain=0.44, changes_as_is=0.12))),
        clean("triads on the fifth", keys(fit(-5, 0.28, 0.67, thirds=0.19))),
        clean("another song's stem: told as such", keys(
            fit(3, -0.1, 0.5), elsewhere=(FOREIGN,))),
        clean("no harmony in it", keys(None)),
        at_limit("a gain of 0.34", keys(fit(3, 0.2, 0.54))),
        past_limit("a gain of 0.36", keys(fit(3, 0.2, 0.56)), Expected(stem="Keys.wav", value=0.36)),
        at_limit("a whole tone, 1.59 in all", keys(fit(2, 0.23, 0.6, long_gain=0.74))),
        past_limit("1.61 in all", keys(fit(2, 0.23, 0.6, long_gain=0.76)), Expected(stem=KEYS, value=0.37)),
        at_limit("bad after the turn too", keys(fit(3, -0.2, 0.41))),
        past_limit("good after the turn", keys(fit(3, -0.2, 0.43)), Expected(stem="Keys.wav", value=0.63)),
        at_limit("not bad as it is", keys(fit(3, 0.46, 0.9))),
        past_limit("bad as it is", keys(fit(3, 0.44, 0.9)), Expected(stem="Keys.wav", value=0.46)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_a_song_without_harmony_is_not_asked():
    audit = audit_with("key-mismatch", show(song("S", stem("Drums.wav"), stem("Click.wav"))))
    assert audit.not_applicable == {"key-mismatch": 1}
    assert findings("key-mismatch", show(song("S", stem("Drums.wav")))) == []


@pytest.mark.parametrize(
    ("semitones", "cents", "rates"),
    [
        (1, 47.0, "44.1 kHz audio under a 48 kHz header"),  # 1200 log2(160/147) = 146.7 cents
        (2, 47.0, "44.1 kHz audio under a 48 kHz header"),  # half-way between two semitones
        (1, -47.0, "44.1 kHz audio under a 48 kHz header"),
        (1, -38.0, None),
        (-1, -47.0, "48 kHz audio under a 44.1 kHz header"),
        (-2, -50.0, "48 kHz audio under a 44.1 kHz header"),
        (1, 36.0, "44.1 kHz audio under a 48 kHz header"),
        (1, 34.0, None),
        (1, 2.0, None),
        (3, 47.0, None),
    ],
)
def test_a_key_and_a_tuning_that_a_wrong_rate_explains(semitones: int, cents: float, rates: str | None):
    one = tuned("Keys.wav", cents, fit(semitones, -0.2, 0.8, long_gain=1.0))
    (found,) = findings("key-mismatch", show(song("S", tuned("Bass.wav", 0.0), tuned("Pad.wav", 0.0), one)))
    assert ("sample rate" in found.advice) is (rates is not None)
    assert rates is None or rates in found.advice
    assert "transpose" in found.advice


@pytest.mark.parametrize(
    ("other", "says", "advises"),
    [
        (
            1,
            "1 semitone above or 4 below the song's",
            "1 semitone down or 4 up (it fits about as well; listen)",
        ),
        (
            -2,
            "4 semitones below or 2 below the song's",
            "4 semitones up or 2 up (it fits about as well; listen)",
        ),
        (
            3,
            "4 semitones below or 3 above the song's",
            "4 semitones up or 3 down (it fits about as well; listen)",
        ),
        (0, "4 semitones below the song's", "4 semitones up, and bounce"),
    ],
)
def test_a_place_that_fits_nearly_as_well_is_named(other: int, says: str, advises: str):
    """Chords of sevenths without their roots fit at several; a semitone is named first (common
    practice: capos, tunings, singers)."""
    (found,) = findings("key-mismatch", keys(fit(-4, 0.0, 0.65, or_semitones=other)))
    assert says in found.message
    assert advises in found.advice
    assert found.again.startswith(f"transposed {advises.split(' (')[0].split(', ')[0]}")
    # Where it is not sure by how much, and no semitone is one of them, it may not be transposed at all.
    assert found.severity.value == ("warning" if abs(other) > 1 else "error")


@pytest.mark.parametrize(("rate_hz", "told"), [(48_000, ["key-mismatch"]), (44_100, ["wrong-rate-header"])])
def test_a_wrong_rate_told_by_the_number_of_frames_is_told_once(rate_hz: int, told: list[str]):
    """Voices of few strokes tell no speed; as many frames under another rate do."""
    others = [
        replace(stem(name, frames=2_880_000), key=AT_HOME) for name in ("Bass.wav", "Gtr.wav", "Pad.wav")
    ]
    voices = replace(stem("BVs.wav", frames=2_880_000, rate_hz=rate_hz), key=fit(-1, -0.3, 0.7))
    whole = show(song("Night Ferry", *others, voices))
    found = [rule for rule in ("key-mismatch", "wrong-rate-header") for _ in findings(rule, whole)]
    assert found == told
