"""shifted-by-beats, stale-arrangement: what is asked before a stem is said to be beats or bars off."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.results import Against, Alignment, Beats, ClickRun, ClickTrack, OneBar, Phase, Rearranged
from audit.rules.arrangement import stale_arrangement
from audit.rules.bars import bar_at, bars_of, in_bars
from audit.rules.camps import Place, two_camps
from audit.rules.shifted import shifted_by_beats
from tests.evidence import audit_with, findings, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted

OTHERS = ("Bass.wav", "Guitar.wav", "Keys.wav")


def click(*, bpm: float = 120.0, metre: str | None = "4/4", beats: int = 129) -> ClickTrack:
    """Four beats of count-in, then bars from 0:02 on."""
    return ClickTrack(
        beats_s=tuple(60.0 / bpm * k for k in range(beats)), accents=tuple(k % 4 == 0 for k in range(beats)),
        runs=(ClickRun(first_beat=0, beats=beats, bpm_first=bpm, bpm_last=bpm, steady=True),), bpm=bpm,
        metre=metre, count_in_beats=4, first_beat_s=0.0,
    )  # fmt: skip


def shifted(file: str, beats: float, *, phase_ms: float | None = None, **more: Any) -> StemEvidence:
    """A stem whose harmony fits everybody else's at that lag, surely."""
    found = Beats(
        shift_beats=beats, at_best=0.4, at_best_without_loudest=0.38, at_zero=0.1, half_late=0.05,
        half_early=0.05, gain_by_changes=0.25,
        gain_by_state=0.5, second_beats=-12.0,
        at_second=0.2, sure=5.0, sure_without_loudest=4.0, usual=0.4, backbeat=0.5, on_turns=1.0,
        saying_so=OTHERS, against=(),
    )  # fmt: skip
    phase = None
    if phase_ms is not None:
        others = tuple(Against(stem=other, lag_ms=phase_ms, meetings=60) for other in OTHERS)
        phase = Phase(
            offset_ms=phase_ms, from_others_ms=phase_ms, iqr_ms=3.0, onsets=80, share=1.0, confidence=1.0,
            against=others,
        )  # fmt: skip
    place = Alignment(phase=phase, drift=None, wrong_rate=None, beats=replace(found, **more))
    return replace(stem(file), alignment=place)


def faint_bar(beats: float = 4.0, *, file: str = "Guitar 2.wav", **odd: Any) -> StemEvidence:
    """A stem that plays little and fits best somewhere by chance; a bar off it fits nearly as well, and as it
    stands with nobody."""
    of_beats = {key: odd.pop(key) for key in ("usual", "at_zero", "at_best") if key in odd}
    bar = OneBar(
        shift_beats=beats, fit=0.1, without_loudest=0.08, loudest=0.2, gain_by_changes=0.1, gain_by_state=0.2,
        sure=2.5, sure_without_loudest=2.0, saying_so=OTHERS, against=(),
    )  # fmt: skip
    by_chance = {"at_best": 0.12, "at_best_without_loudest": 0.02, "at_zero": 0.03, "usual": 0.2, **of_beats}
    return shifted(file, -19.0, a_bar=replace(bar, **odd), **by_chance)


def changed(file: str, beats: float, *, seconds: float = 60.0, **more: Any) -> StemEvidence:
    """A stem that fits up to 0:34 (bar 17) and from there on only at that lag."""
    found = Rearranged(
        at_s=34.0, shift_beats=beats, sure_before=4.0, sure_after=4.0, sure_without_loudest=3.5, at_best=0.4,
        at_zero=0.2, while_playing=0.8, saying_so=OTHERS, against=(),
    )  # fmt: skip
    whole = shifted(file, 4.0, at_zero=0.4)
    assert whole.alignment is not None
    place = replace(whole.alignment, rearranged=replace(found, **more))
    return replace(stem(file, seconds=seconds), alignment=place)


def band(*odd: StemEvidence, track: ClickTrack | None = None) -> ShowEvidence:
    """The stems among others that fit as they are."""
    fitting = [shifted(file, 4.0, at_zero=0.4) for file in OTHERS]
    return show(song("Night Ferry", *fitting, *odd, click=track or click()))


def camps(make: Any, beats: float, *, late: int = 2, **more: Any) -> ShowEvidence:
    """Stems of two camps: each names the other camp's as those that say so."""
    first, second = ("Bass.wav", "Guitar.wav", "Pad.wav")[:late], ("Keys.wav", "Strings.wav")
    stems = [make(file, beats, saying_so=second, against=first[:1], **more) for file in first]
    stems += [make(file, -beats, saying_so=first, against=second[:1], **more) for file in second]
    return show(song("Night Ferry", *stems, click=click()))


CASES = {
    "shifted-by-beats": (
        planted(
            "strings a bar late",
            band(shifted("Strings.wav", 4.0)),
            Expected(
                stem="Strings.wav", value=4.0,
                says=("late by 1 bar (2.000 s, 96\u00a0000 samples)", "(40 % alike)",
                      "Bass.wav, Guitar.wav, Keys.wav"),
                advises=("96\u00a0000 samples (1 bar) earlier", "bar 1"),
            ),
        ),
        planted(
            "a piano two beats early",
            band(shifted("Piano.wav", -2.0)),
            Expected(stem="Piano.wav", value=-2.0, says=("early by 2 beats (1.000 s",), advises=("later",)),
        ),
        planted(
            "a beat late and 21 ms more, told once",
            band(shifted("Piano.wav", 1.0, phase_ms=21.0)),
            Expected(
                stem="Piano.wav", value=1.0, says=("late by 1 beat (0.521 s", "within the beat 21 ms late")
            ),
        ),
        planted(
            "a beat late and 19 ms more, as it may play",
            band(shifted("Piano.wav", 1.0, phase_ms=19.0)),
            Expected(stem="Piano.wav", value=1.0, says=("late by 1 beat (0.500 s",)),
        ),
        planted(
            "a loop's length more fits as well",
            band(shifted("Piano.wav", 4.0, at_second=0.39)),
            Expected(stem="Piano.wav", value=4.0, says=("or 3 bars early, which fits as well",)),
        ),
        planted(
            "accents tell no metre: beats",
            band(shifted("Piano.wav", 4.0), track=click(metre=None)),
            Expected(stem="Piano.wav", value=4.0, says=("late by 4 beats",)),
        ),
        planted(
            "two camps a bar apart",
            camps(shifted, 4.0, sure_without_loudest=0.4),
            Expected(severity="warning", value=4.0, says=("two camps, 1 bar apart: Bass.wav, Guitar.wav play "
                     "after Keys.wav, Strings.wav",), advises=("Bass.wav with Keys.wav",)),
        ),
        clean("camps, not surely", camps(shifted, 4.0, sure_without_loudest=0.4, sure=1.9)),
        clean("camps by what begins alone",
              camps(shifted, 4.0, sure_without_loudest=0.4, gain_by_state=-0.1)),
        clean("camps of three and two", camps(shifted, 4.0, late=3, sure_without_loudest=0.4)),
        clean("a band that fits", band(shifted("Strings.wav", 4.0, at_zero=0.41))),
        clean("a canon: one leader says it, the rest does not",
              band(shifted("Strings.wav", 2.0, at_best_without_loudest=0.1))),
        clean("chords off the beat: what begins fits there, what sounds does not",
              band(shifted("Keys 2.wav", 2.0, gain_by_state=-0.1))),
        clean("a pad that rings on: what sounds fits there, what begins does not",
              band(shifted("Pad.wav", 1.0, gain_by_changes=-0.05))),
        clean("one witness", band(shifted("Strings.wav", 2.0, saying_so=("Bass.wav",)))),
        clean("witnesses against it", band(shifted("Strings.wav", 2.0, saying_so=OTHERS[:2],
              against=("Keys.wav",)))),
        clean("a tune that hardly fits anything", band(shifted("Lead Vocal.wav", -3.0, at_best=0.15,
              at_best_without_loudest=0.14, at_zero=0.08))),
        clean("few bars say so", band(shifted("Strings.wav", 4.0, at_zero=0.25, sure=1.9))),
        clean("few bars say so, clear as it is", band(shifted("Strings.wav", 4.0, sure=1.3))),
        clean("five beats late: an odd lag needs more bars",
              band(shifted("Strings.wav", 5.0, at_zero=0.25, sure=2.3))),
        clean("without the loudest witness few bars say so",
              band(shifted("Strings.wav", 4.0, at_zero=0.25, sure_without_loudest=1.2))),
        clean("a canon whose leader takes half of the fit with him",
              band(shifted("Strings.wav", 4.0, at_best_without_loudest=0.24, usual=0.3))),
        clean("a pad that swells, a beat late", band(shifted("Pad.wav", 1.0, at_zero=0.3))),
        clean("a beat of a third of a second",
              band(shifted("Piano.wav", 1.0, at_zero=0.31), track=click(bpm=180.0))),
        clean("a faint fit that what sounds hardly confirms",
              band(shifted("Piano.wav", 1.0, at_best=0.19, at_best_without_loudest=0.18, at_zero=0.05,
                           gain_by_state=0.03))),
        clean("a figure on a few beats that fits faintly",
              band(shifted("Guitar 2.wav", 1.0, at_best=0.135, at_best_without_loudest=0.13, at_zero=0.04,
                           usual=0.1))),
        clean("three beats late, not clearly",
              band(shifted("Piano.wav", 3.0, at_best=0.29, at_best_without_loudest=0.28))),
        clean("chops on two and four", band(shifted("Piano.wav", 1.0, backbeat=2.01))),
        clean("a figure that waits a beat",
              band(shifted("Guitar 2.wav", 1.0, on_turns=0.32, gain_by_state=0.11))),
        planted("held chords, a beat late: the old ones sound on",
                band(shifted("Guitar 2.wav", 1.0, on_turns=0.0, gain_by_state=0.12)),
                Expected(stem="Guitar 2.wav", value=1.0)),
        planted("a bar late, faintly, and with nobody as it is", band(faint_bar()),
                Expected(severity="warning", stem="Guitar 2.wav", value=4.0,
                         says=("late by 1 bar", "(10 % alike)", "(or 19 beats early, which fits better)"))),
        planted("a bar late, where another lag fits nearly alike", band(faint_bar(at_best=0.105)),
                Expected(severity="warning", stem="Guitar 2.wav", says=("which fits as well",))),
        planted("a bar early, at the least of everything", band(faint_bar(-4.0, fit=0.05, at_zero=0.01,
                usual=0.12, sure=2.0, gain_by_changes=0.05, gain_by_state=0.1, without_loudest=0.0,
                loudest=0.59, saying_so=OTHERS[:2])),
                Expected(severity="warning", stem="Guitar 2.wav", value=-4.0)),
        planted("a beat late, hardly by what sounds", band(shifted("Guitar 2.wav", 1.0, gain_by_state=0.079)),
                Expected(severity="warning", stem="Guitar 2.wav", value=1.0)),
        planted("a beat early, by what sounds too", band(shifted("Guitar 2.wav", -1.0, gain_by_state=0.08)),
                Expected(severity="error", stem="Guitar 2.wav", value=-1.0)),
        planted("a bar by the word of three against one",
                band(faint_bar(against=("Pad.wav",))),
                Expected(severity="warning", stem="Guitar 2.wav", value=4.0)),
        clean("a faint bar, fainter", band(faint_bar(fit=0.049, at_zero=0.0, usual=0.05))),
        clean("a faint bar, where the others fit one another better", band(faint_bar(fit=0.08, usual=0.21))),
        clean("a faint bar that fits 51 % as well as it is", band(faint_bar(at_zero=0.051))),
        clean("a faint bar by what sounds alone", band(faint_bar(gain_by_changes=0.049))),
        clean("a faint bar by what begins alone", band(faint_bar(gain_by_state=0.099))),
        clean("a canon: it follows one stem", band(faint_bar(loudest=0.6, without_loudest=0.061))),
        planted("it goes closely with one, and with the rest too",
                band(faint_bar(loudest=0.6, without_loudest=0.062)),
                Expected(severity="warning", stem="Guitar 2.wav", value=4.0)),
        clean("a faint bar, not surely", band(faint_bar(sure=1.99))),
        clean("a faint bar by the word of one", band(faint_bar(saying_so=OTHERS[:1]))),
        clean("a faint bar, three for it and two against", band(faint_bar(against=("Pad.wav", "Organ.wav")))),
        clean("a bar that was not looked at", band(faint_bar(1.0))),
        clean("four faint beats in a song of three to the bar",
              band(faint_bar(), track=replace(click(), accents=tuple(k % 3 == 0 for k in range(129)),
                                              metre="3/4"))),
        clean("an answer, two bars after", band(shifted("Guitar 2.wav", 8.0, at_best=0.19,
                                                        at_best_without_loudest=0.18, at_zero=0.05))),
        planted("a beat late, and hardly more strokes after the turns than on them",
                band(shifted("Guitar 2.wav", 1.0, on_turns=0.34, gain_by_state=0.07)),
                Expected(severity="warning", stem="Guitar 2.wav", value=1.0)),
        planted("two beats late: no figure waits so long",
                band(shifted("Guitar 2.wav", 2.0, on_turns=0.1)), Expected(stem="Guitar 2.wav", value=2.0)),
        planted("keys two beats late", band(shifted("Piano.wav", 2.0, at_zero=0.26)),
                Expected(stem="Piano.wav", value=2.0)),
        clean("keys that come round every two beats", band(shifted("Piano.wav", 2.0, at_zero=0.27))),
        clean("a guitar that answers half a bar after: 89 % of the others' fit",
              band(shifted("Guitar 2.wav", 2.0, at_best=0.356, at_best_without_loudest=0.35))),
        clean("a guitar half a bar ahead: 69 % of it",
              band(shifted("Guitar 2.wav", -2.0, at_best=0.276, at_best_without_loudest=0.27))),
        planted("a guitar half a bar ahead: 71 % of it",
                band(shifted("Guitar 2.wav", -2.0, at_best=0.284, at_best_without_loudest=0.28,
                             at_zero=0.08)),
                Expected(stem="Guitar 2.wav", value=-2.0)),
        clean("a guitar that answers one stem above all",
              band(shifted("Guitar 2.wav", 2.0, sure_without_loudest=1.99))),
        planted("keys two beats late by the same fit",
                band(shifted("Piano.wav", 2.0, at_best=0.276, at_best_without_loudest=0.27, at_zero=0.08)),
                Expected(stem="Piano.wav", value=2.0)),
        planted("a beat early, on two and four",
                band(shifted("Piano.wav", -1.0, backbeat=2.01)), Expected(stem="Piano.wav", value=-1.0)),
        planted("without the loudest as much as the others have is left",
                band(shifted("Organ.wav", 4.0, at_best_without_loudest=0.24, usual=0.2)),
                Expected(stem="Organ.wav", value=4.0)),
        planted("a short song: few bars, all of them clear",
                band(shifted("Piano.wav", 1.0, sure=1.5, sure_without_loudest=1.25)),
                Expected(stem="Piano.wav", value=1.0)),
        clean("no click", show(song("Night Ferry", stem("Bass.wav"), stem("Keys.wav")))),
        at_limit("fits 85 % as well as it is", band(shifted("Piano.wav", 1.0, at_zero=0.3401))),
        at_limit("a tune's bars outweigh the others 2.59 times",
                 band(shifted("Lead Vocal.wav", 8.0, sure=2.59))),
        at_limit("1.59 times without the loudest",
                 band(shifted("Lead Vocal.wav", 8.0, sure_without_loudest=1.59))),
        past_limit("2.6 and 1.6 times",
                   band(shifted("Lead Vocal.wav", 8.0, sure=2.6, sure_without_loudest=1.6)),
                   Expected(stem="Lead Vocal.wav", value=8.0)),
        past_limit(
            "fits less than 85 % as well as it is",
            band(shifted("Piano.wav", 1.0, at_zero=0.3399)),
            Expected(stem="Piano.wav", value=1.0),
        ),
    ),
    "stale-arrangement": (
        planted(
            "a bar cut from the others, not from this one",
            band(changed("Strings.wav", 4.0)),
            Expected(
                stem="Strings.wav", value=1.0, at_s=34.0, says=("from bar 17 (0:34) on", "1 bar more than "
                "Bass.wav, Guitar.wav, Keys.wav"), advises=("current version",), facts={"bar": 17},
            ),
        ),
        planted(
            "two bars fewer",
            band(changed("Strings.wav", -8.0)),
            Expected(stem="Strings.wav", value=-2.0, says=("2 bars fewer than",)),
        ),
        planted(
            "the file's length says so too: less is asked of the harmony",
            band(changed("Strings.wav", 4.0, seconds=62.0, sure_before=1.4, sure_after=1.7,
                         sure_without_loudest=1.2)),
            Expected(stem="Strings.wav", value=1.0, says=("its file is 1 bar longer too",)),
        ),
        planted(
            "two camps from some bar on",
            camps(changed, 8.0, sure_without_loudest=0.4),
            Expected(severity="warning", value=2.0, says=("Bass.wav, Guitar.wav have 2 bars more than "
                     "Keys.wav, Strings.wav",)),
        ),
        clean("camps, not surely", camps(changed, 8.0, sure_without_loudest=0.4, sure_before=1.9)),
        clean("a band that fits", band(shifted("Strings.wav", 4.0, at_zero=0.4))),
        clean("it fits no better before", band(changed("Strings.wav", 4.0, sure_before=1.9))),
        clean("one witness", band(changed("Strings.wav", 4.0, saying_so=("Bass.wav",)))),
        clean("eight bars, not surely", band(changed("Strings.wav", 32.0, sure_without_loudest=2.9))),
        clean("it hardly fits anything, changed or not",
              band(changed("Piano.wav", -16.0, at_best=0.07, at_zero=-0.05))),
        at_limit("24 % of the gain where both play: its rests say the others",
                 band(changed("Strings.wav", 4.0, while_playing=0.24))),
        past_limit("25 %", band(changed("Strings.wav", 4.0, while_playing=0.25)),
                   Expected(stem="Strings.wav", value=1.0)),
        planted("the file's length says so, its rests too",
                band(changed("Strings.wav", 4.0, seconds=62.0, while_playing=0.0)),
                Expected(stem="Strings.wav", value=1.0, says=("its file is 1 bar longer too",))),
        at_limit("a tune's bars before outweigh their spread 2.99 times",
                 band(changed("Lead Vocal.wav", 4.0, sure_before=2.99))),
        past_limit("3 times", band(changed("Lead Vocal.wav", 4.0, sure_before=3.0)),
                   Expected(stem="Lead Vocal.wav", value=1.0)),
        clean("little is gained", band(changed("Strings.wav", 4.0, at_best=0.24))),
        clean("a length off by 25 ms says nothing",
              band(changed("Strings.wav", 4.0, seconds=62.025, sure_after=1.7))),
        at_limit("the bars after it outweigh their spread 2.49 times",
                 band(changed("Strings.wav", 4.0, sure_after=2.49))),
        past_limit("2.5 times", band(changed("Strings.wav", 4.0, sure_after=2.5)),
                   Expected(stem="Strings.wav", value=1.0)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


def test_a_tune_is_a_bar_off_only_by_the_word_of_three():
    """Chops of a five-note scale fitted two of three stems a bar off by chance."""

    def told(file: str, saying_so: tuple[str, ...]) -> int:
        return len(findings("shifted-by-beats", band(faint_bar(file=file, saying_so=saying_so))))

    assert told("Lead Vocal.wav", OTHERS) == 1
    assert told("Lead Vocal.wav", OTHERS[:2]) == 0
    assert told("Guitar 2.wav", OTHERS[:2]) == 1


@pytest.mark.parametrize(("sure", "confidence"), [(2.0, 0.5), (5.0, 1.0)])
def test_how_sure_a_faint_bar_is_is_its_own_matter(sure: float, confidence: float):
    """Not that of the lag that fits best (4.0)."""
    (found,) = findings("shifted-by-beats", band(faint_bar(sure_without_loudest=sure)))
    assert found.confidence == confidence


def test_who_is_off_the_other_way_by_the_word_of_a_surer_one_is_not_told():
    """Keys a beat late make the bass look early, by the word of the keys and one more."""
    late = shifted("Keys 2.wav", 1.0)
    victim = shifted("Organ.wav", -1.0, at_zero=0.2, saying_so=("Keys 2.wav", "Guitar.wav"))
    assert [one.stem for one in all_of(band(victim, late))] == ["Keys 2.wav"]
    of_its_own = shifted("Organ.wav", -1.0, at_zero=0.2, saying_so=("Keys 2.wav", *OTHERS))
    assert {one.stem for one in all_of(band(of_its_own, late))} == {"Keys 2.wav", "Organ.wav"}
    with_it = shifted("Organ.wav", 1.0, at_zero=0.2, saying_so=("Keys 2.wav", "Guitar.wav"))
    assert {one.stem for one in all_of(band(with_it, late))} == {"Keys 2.wav", "Organ.wav"}


def test_camps_name_only_each_other():
    late = [Place(stem=name, beats=4.0, saying_so=("c", "d")) for name in "ab"]
    early = [Place(stem=name, beats=-4.0, saying_so=("a", "b")) for name in "cd"]
    assert two_camps([*late, *early]) == (("a", "b"), ("c", "d"), 4.0)
    stranger = Place(stem="b", beats=4.0, saying_so=("c", "d", "e"))
    assert two_camps([late[0], stranger, *early]) is None
    assert two_camps([*late, early[0], Place(stem="d", beats=-4.0, saying_so=("a",))]) is None
    assert two_camps([*late, early[0], Place(stem="d", beats=-8.0, saying_so=("a", "b"))]) is None
    assert two_camps([late[0], early[0]]) is None


def test_one_cause_is_told_once():
    """A stem that is off by whole beats is no offset, and one that leaves the arrangement no shift."""
    whole = band(shifted("Piano.wav", 1.0, phase_ms=120.0))
    assert [one.rule for one in all_of(whole)] == ["shifted-by-beats"]
    stale = band(changed("Strings.wav", 4.0))
    odd = stale.songs[0].stems[-1]
    assert odd.alignment is not None
    both = replace(odd.alignment, beats=shifted("Strings.wav", 4.0).alignment.beats)  # type: ignore[union-attr]
    stale = band(replace(odd, alignment=both))
    assert [one.rule for one in all_of(stale)] == ["stale-arrangement"]


def all_of(whole: ShowEvidence) -> list[Any]:
    rules = ("offset-from-click", "shifted-by-beats", "stale-arrangement")
    return [one for rule in rules for one in findings(rule, whole)]


@pytest.mark.parametrize("beats", [-32.0, -3.0, 1.0, 8.0])
def test_the_cure_undoes_the_shift(beats: float):
    (found,) = findings("shifted-by-beats", band(shifted("Piano.wav", beats)))
    assert found.measured["samples"] == abs(beats) * 24_000
    assert ("earlier" in found.advice) == (beats > 0)
    assert found.message.startswith("late" if beats > 0 else "early")


def test_songs_that_cannot_be_judged_are_not_applicable():
    nothing: SongEvidence = song("Night Ferry", stem("Drums.wav"), stem("Bass.wav"))
    for rule in (shifted_by_beats, stale_arrangement):
        assert audit_with(rule, show(nothing)).not_applicable == {rule.id: 1}


def test_bars_are_counted_after_the_count_in():
    track = click()
    assert bar_at(2.0, track) == 1
    assert bar_at(34.0, track) == 17
    assert bar_at(33.9, track) == 16
    assert bar_at(1.0, track) is None
    assert bar_at(34.0, click(metre=None)) is None


def test_lengths_in_bars():
    assert in_bars(-8.0, click()) == "2 bars"
    assert in_bars(6.0, click()) == "6 beats"
    assert in_bars(3.0, click(metre="3/4")) == "1 bar"
    assert in_bars(4.0, None) == "4 beats"
    assert bars_of(-4.0, click(), 0.02) == "2 bars"
    assert bars_of(4.021, click(), 0.02) is None
    assert bars_of(0.5, click(), 0.02) is None
    assert bars_of(4.0, click(metre=None), 0.02) is None


@pytest.mark.parametrize(
    ("at_best", "at_second", "gain_by_state", "told"),
    [
        (0.19, 0.172, 0.07, False),
        (0.19, 0.170, 0.07, True),  # the other fits less well
        (0.2, 0.2, 0.07, True),  # no faint fit
        (0.19, 0.19, 0.08, True),  # what sounds says it too
    ],
)
def test_a_beat_that_is_faint_and_one_of_several(
    at_best: float, at_second: float, gain_by_state: float, told: bool
):
    """One chord all through: wherever its strokes fall alike it fits alike."""
    odd = shifted(
        "Synth.wav", 1.0, at_best=at_best, at_best_without_loudest=at_best, at_zero=0.03, usual=0.3,
        at_second=at_second, second_beats=-3.0, gain_by_state=gain_by_state, half_late=0.0, half_early=0.0,
    )  # fmt: skip
    evidence = show(song("Night Ferry", odd, click=click()))
    assert [one.stem for one in findings("shifted-by-beats", evidence)] == (["Synth.wav"] if told else [])


@pytest.mark.parametrize(
    ("beats", "sure_before", "expected"),
    [(16.0, 2.1, 1), (16.0, 1.9, 0), (20.0, 2.9, 0), (20.0, 3.1, 1), (-28.0, 2.9, 0), (-28.0, 3.1, 1)],
)
def test_many_bars_more_or_fewer_have_to_be_surer(beats: float, sure_before: float, expected: int):
    """Past four bars: of so many lags one fits by chance, as a tune's in a song with free sections did."""
    found = findings("stale-arrangement", band(changed("Flute.wav", beats, sure_before=sure_before)))
    assert len(found) == expected
