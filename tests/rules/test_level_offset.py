"""dc-offset: a steady shift, one that wanders, and what only looks like one."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from audit.rules.offset import dc_offset
from audit.units import to_db
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def shifted(
    file: str,
    mean: float,
    worst: float | None = None,
    at_s: float = 0.0,
    *,
    first: int | None = 0,
    steady: bool = True,
    end_dbfs: float | None = None,
    before_tail_dbfs: float | None = None,
    **more: Any,
) -> StemEvidence:
    """A stem of this mean, and `worst` in the 10 s from `at_s`, there from the first frame to the last.

    steady: the level hardly changes, so that the measure can only give the plain mean. first: the first frame
    that sounds. end_dbfs, before_tail_dbfs: what is left at the end.
    """
    window = mean if worst is None else worst
    standing = to_db(abs(window))
    end = standing if end_dbfs is None else end_dbfs
    return stem(
        file,
        levels={
            "dc_offset": mean,
            "dc_worst_window": window,
            "dc_worst_at_s": at_s,
            "dc_mean": mean if steady else 1.1 * mean,
        },
        activity={
            "first_sound_frame": first,
            "end_rms_dbfs": end,
            "before_tail_rms_dbfs": end if before_tail_dbfs is None else before_tail_dbfs,
        },
        **more,
    )


def leaning(file: str, mean: float, *, steady: bool) -> StemEvidence:
    """As a sampled instrument has it: the mean comes with the notes and dies away with the last.

    Where its level changes, the measure finds no offset; where it is steady, it gives the plain mean.
    """
    made = shifted(file, mean if steady else 0.0, first=144000, end_dbfs=-math.inf, before_tail_dbfs=-140.0)
    levels = replace(made.parts[0].measures.levels, dc_mean=mean)
    return replace(
        made, parts=(replace(made.parts[0], measures=replace(made.parts[0].measures, levels=levels)),)
    )


def coming(
    file: str, offset: float, *, at_s: float, seconds: float, model: StemEvidence | None = None
) -> StemEvidence:
    """A stem in which an offset stands for so long, and is seen there."""
    made = model or stem(file)
    levels = replace(
        made.parts[0].measures.levels, dc_wander=offset, dc_wander_at_s=at_s, dc_wander_s=seconds
    )
    return replace(
        made, parts=(replace(made.parts[0], measures=replace(made.parts[0].measures, levels=levels)),)
    )


LIMIT = 10 ** (-50 / 20)

CASES = {
    "dc-offset": (
        planted(
            "5 % all the way",
            of(shifted("Synth.wav", 0.05), stem("Bass.wav")),
            Expected(
                severity="warning",
                stem="Synth.wav",
                value=-26.02,
                says=("+5.00 %", "−26.0 dBFS", "limit −50 dBFS"),
                advises=("high-pass",),
            ),
        ),
        planted(
            "half a percent, downwards",
            of(shifted("Guitar.wav", -0.005)),
            Expected(stem="Guitar.wav", value=-46.02, says=("−0.50 %",)),
        ),
        planted(
            "it wanders: up here, down there, nothing in the mean",
            of(shifted("Keys.wav", 0.0001, worst=-0.02, at_s=72.0, seconds=200)),
            Expected(stem="Keys.wav", value=-33.98, at_s=72.0, says=("wanders", "1:12", "−2.00 %")),
        ),
        planted(
            "one side of a file of two roles",
            of(
                stem(
                    "Tracks+Click.wav",
                    parts=[
                        part(Role.OTHER, channels=(0,), levels={"dc_offset": 0.01, "dc_worst_window": 0.01}),
                        part(Role.CLICK, channels=(1,)),
                    ],
                )
            ),
            Expected(stem="Tracks+Click.wav", value=-40.0, says=("(other, channel 1)",)),
        ),
        planted(
            "it comes and goes: 3 s in a rest, nothing in the mean nor over 10 s",
            of(coming("Vox.wav", 0.012, at_s=72.0, seconds=3.0)),
            Expected(
                severity="warning",
                stem="Vox.wav",
                value=-38.42,
                at_s=72.0,
                says=("comes and goes", "3.0 s from 1:12.000", "+1.20 %", "−38.4 dBFS", "limit −50 dBFS"),
            ),
        ),
        planted(
            "it comes and goes under an organ whose mean says nothing",
            of(
                coming(
                    "Organ.wav", -0.02, at_s=8.0, seconds=1.5, model=leaning("Organ.wav", 0.01, steady=True)
                )
            ),
            Expected(stem="Organ.wav", value=-33.98, says=("comes and goes", "−2.00 %")),
        ),
        planted(
            "a click that stands off zero between its ticks too",
            of(coming("Click.wav", 0.02, at_s=0.0, seconds=9.0, model=shifted("Click.wav", 0.02))),
            Expected(stem="Click.wav", value=-33.98, says=("+2.00 %",)),
        ),
        clean(
            "a click whose ticks lean one way, with a rest that swings the other",
            of(coming("Click.wav", -0.02, at_s=0.0, seconds=2.0, model=shifted("Click.wav", 0.02))),
        ),
        at_limit(
            "a click just under it between its ticks",
            of(coming("Click.wav", LIMIT * 0.999, at_s=0.0, seconds=9.0, model=shifted("Click.wav", 0.02))),
        ),
        clean("one of the click", of(coming("Click.wav", 0.05, at_s=8.0, seconds=1.5))),
        at_limit("just under it for a while", of(coming("Vox.wav", LIMIT * 0.999, at_s=72.0, seconds=3.0))),
        past_limit(
            "just over it for a while",
            of(coming("Vox.wav", -LIMIT * 1.001, at_s=72.0, seconds=3.0)),
            Expected(stem="Vox.wav", value=-50.0, at_s=72.0),
        ),
        clean("0.1 %: an ordinary converter", of(shifted("Bass.wav", 0.001))),
        clean("a sampled bass whose waves lean to one side", of(leaning("Bass.wav", 0.0036, steady=False))),
        clean("an organ whose waves lean to one side", of(leaning("Organ.wav", -0.0067, steady=True))),
        clean("a click of one-sided ticks", of(shifted("Click.wav", 0.01))),
        clean("timecode", of(shifted("LTC.wav", 0.01))),
        clean("a kick sample of half a second", of(shifted("Drums.wav", 0.012, seconds=0.5))),
        clean("silence", of(stem("Bass.wav", silent=True))),
        at_limit("just under −50 dBFS", of(shifted("Bass.wav", LIMIT * 0.999))),
        at_limit("just under it in the worst 10 s", of(shifted("Bass.wav", 0.0, worst=LIMIT * 0.999))),
        at_limit(
            "the end is 4.2 dB below an offset of one side or both",
            of(shifted("Bass.wav", 0.01, first=9, end_dbfs=-44.2)),
        ),
        at_limit(
            "the end is 3.1 dB above it: a sound that was cut",
            of(shifted("Bass.wav", 0.01, first=9, end_dbfs=-36.9)),
        ),
        past_limit(
            "the end is 4.0 dB below it: one side of two",
            of(shifted("Bass.wav", 0.01, first=9, end_dbfs=-44.0)),
            Expected(stem="Bass.wav", value=-40.0),
        ),
        past_limit(
            "zeros follow, but the sound before them still stands off zero",
            of(shifted("Bass.wav", 0.01, first=9, end_dbfs=-math.inf, before_tail_dbfs=-39.0)),
            Expected(stem="Bass.wav", value=-40.0),
        ),
        past_limit(
            "faded out, but off zero from the first frame",
            of(shifted("Bass.wav", 0.01, first=0, end_dbfs=-math.inf)),
            Expected(stem="Bass.wav", value=-40.0),
        ),
        past_limit(
            "the measure told it from the music: it may be faded at both ends",
            of(shifted("Bass.wav", 0.01, first=9, end_dbfs=-math.inf, steady=False)),
            Expected(stem="Bass.wav", value=-40.0),
        ),
        at_limit("4.99 s long", of(shifted("FX.wav", 0.05, seconds=4.99))),
        past_limit(
            "just over −50 dBFS",
            of(shifted("Bass.wav", LIMIT * 1.001)),
            Expected(stem="Bass.wav", value=-50.0),
        ),
        past_limit(
            "just over it in the worst 10 s",
            of(shifted("Bass.wav", 0.0, worst=LIMIT * 1.001, at_s=20.0)),
            Expected(stem="Bass.wav", value=-50.0, at_s=20.0),
        ),
        past_limit("5 s long", of(shifted("FX.wav", 0.05, seconds=5.0)), Expected(stem="FX.wav")),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


@pytest.mark.parametrize(("mean", "dbfs"), [(0.001, -60.0), (3.16e-5, -90.0), (0.1, -20.0), (1.0, 0.0)])
def test_the_mean_reads_as_dbfs_of_full_scale(mean: float, dbfs: float):
    """By the decibel's definition, 20·log10: 0.001 of full scale is −60 dBFS, 3.16e-5 is −90 dBFS."""
    assert dc_offset.limit is not None
    lenient = {"dc-offset": replace(dc_offset.limit, value=-100.0)}
    (found,) = findings("dc-offset", of(shifted("Bass.wav", mean)), limits=lenient)
    assert found.value == pytest.approx(dbfs, abs=0.01)


@pytest.mark.parametrize("freq_hz", [27.5, 30.87, 41.2, 110.0, 440.0])
@pytest.mark.parametrize("phase", [0.0, 0.25, 0.5, 0.75])
@pytest.mark.parametrize("cut_after", [0.25, 0.5, 0.75])
def test_no_note_passes_for_an_offset(freq_hz: float, phase: float, cut_after: float):
    """From A0 (27.5 Hz) and the low B of a bass up, cut anywhere in a wave, a full-scale tone in a
    file of the shortest length judged has a mean below the limit; in half a second it would not."""
    assert dc_offset.limit is not None
    shortest_s = dc_offset.limit["shortest_s"]

    def mean_of(seconds: float) -> float:
        whole_waves = math.ceil(seconds * freq_hz)
        start, end = 2 * math.pi * phase, 2 * math.pi * (phase + whole_waves + cut_after)
        return (math.cos(start) - math.cos(end)) / (end - start)

    assert findings("dc-offset", of(shifted("Bass.wav", mean_of(shortest_s), seconds=shortest_s))) == []
    assert abs(mean_of(shortest_s)) <= 1 / (math.pi * freq_hz * shortest_s)


def test_the_shortest_length_is_needed():
    """Half a wave of 27.5 Hz left over in half a second would be four times the limit."""
    assert 1 / (math.pi * 27.5 * 0.5) > 4 * LIMIT


@pytest.mark.parametrize("means", [(0.01, 0.01), (0.0, 0.01)])
def test_a_mean_at_the_limit_is_allowed(means: tuple[float, float]):
    """0.01 is exactly −40 dBFS."""
    assert dc_offset.limit is not None
    at = {"dc-offset": replace(dc_offset.limit, value=-40.0)}
    assert findings("dc-offset", of(shifted("Bass.wav", *means)), limits=at) == []


def test_a_wandering_offset_is_told_once():
    assert len(findings("dc-offset", of(shifted("Bass.wav", 0.01, worst=0.03, at_s=10.0)))) == 1


def test_where_the_question_does_not_arise():
    answer = audit_with(
        "dc-offset", of(stem("LTC.wav"), stem("FX.wav", seconds=2), stem("Pad.wav", silent=True))
    )
    assert answer.not_applicable == {"dc-offset": 3}
