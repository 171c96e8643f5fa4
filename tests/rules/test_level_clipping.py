"""sample-clipping, flattened-peaks, true-peak-over: too much level at, below and between the samples."""

from __future__ import annotations

from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from audit.rules.rule import Limit
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted

RATE_HZ = 48000


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def runs(number: int, longest: int, *, first: int = 48000, at: int | None = None) -> dict[str, Any]:
    """So many runs of full-scale samples, the longest of them at `at`."""
    return {
        "runs": number,
        "long_runs": number if longest >= 10 else 0,
        "longest_frames": longest,
        "longest_at_frame": first if at is None else at,
        "first_at_frame": first,
    }


FULL_SCALE = {"sample_dbfs": 0.0, "true_dbtp": 0.7}


def clipped(file: str, number: int, longest: int, **more: Any) -> StemEvidence:
    return stem(file, peaks=FULL_SCALE, clipping=runs(number, longest), **more)


def above_full_scale(file: str, samples: int, by_db: float, **more: Any) -> StemEvidence:
    """A float file; its loudest sample lies half-way, at 30 s."""
    return stem(
        file,
        bits=32,
        peaks={"sample_dbfs": by_db, "true_dbtp": by_db + 0.1},
        clipping={**runs(1, samples), "over_full_scale": samples},
        **more,
    )


def flattened(file: str, **tops: Any) -> StemEvidence:
    """A stem clipped once and turned down to −6 dBFS, the default peak of a test's stem."""
    healthy = {
        "level_dbfs": -6.0,
        "plateaus": 400,
        "longest_frames": 23,
        "first_at_frame": 96000,
        "share": 0.01,
        "touches": 400,
    }
    return stem(file, flat_tops={**healthy, **tops})


FLAT = {"plateaus": 3, "touches": 9, "longest_frames": 4, "first_at_frame": 96000}


def in_pairs(
    file: str, pairs: int, among: int, level_dbfs: float = -6.0, peaks: Any = None, **more: Any
) -> StemEvidence:
    """A stem at −6 dBFS, whose tops were cut off for one or two samples."""
    tops = {"pairs": pairs, "pairs_among": among, "pairs_dbfs": level_dbfs, "pairs_at_frame": 96000}
    if "plateaus" in more:
        tops["level_dbfs"] = level_dbfs
    return stem(file, peaks=peaks, flat_tops={**tops, **more})


CASES = {
    "sample-clipping": (
        planted(
            "a brick: long runs",
            of(stem("Bass.wav", peaks=FULL_SCALE, clipping=runs(7, 42, first=24000, at=120000))),
            Expected(
                severity="error",
                stem="Bass.wav",
                value=42,
                at_s=0.5,
                says=("7 places", "longest 42 samples at 0:02.500", "limit 3"),
                advises=("does not mend",),
            ),
        ),
        planted(
            "one short run",
            of(clipped("Lead Vocal.wav", 1, 5)),
            Expected(severity="warning", stem="Lead Vocal.wav", value=5, at_s=1.0, says=("1 place at",)),
        ),
        planted(
            "many short runs",
            of(clipped("Synth.wav", 300, 4)),
            Expected(
                severity="error",
                stem="Synth.wav",
                value=300.0 * 60 / 59,
                within=0.1,
                says=("300 places", "longest 4 samples at", "305 a minute (limit 20)"),
                facts={"runs": 300, "longest": 4},
            ),
        ),
        planted(
            "one finding a stem, one stem a finding",
            of(clipped("Bass.wav", 90, 12), clipped("Pad.wav", 2, 3), stem("Keys.wav")),
            Expected(severity="error", stem="Bass.wav", value=12),
            Expected(severity="warning", stem="Pad.wav", value=3),
        ),
        planted(
            "a clipped click keeps time: a warning, with the caution",
            of(clipped("Click.wav", 240, 24)),
            Expected(severity="warning", stem="Click.wav", value=24, advises=("ear mix down before",)),
        ),
        planted(
            "the clipped side of a file of two roles is named",
            of(
                stem(
                    "Tracks+Click.wav",
                    parts=[
                        part(Role.OTHER, channels=(0,), peaks=FULL_SCALE, clipping=runs(3, 11)),
                        part(Role.CLICK, channels=(1,)),
                    ],
                )
            ),
            Expected(severity="error", stem="Tracks+Click.wav", value=11, says=("(other, channel 1)",)),
        ),
        planted(
            "a float file far above full scale is not lost yet",
            of(above_full_scale("Strings.wav", 5000, 3.21)),
            Expected(
                severity="warning",
                stem="Strings.wav",
                value=5000,
                at_s=30.0,
                says=("above full scale", "cuts off up to 3.3 dB"),
                advises=("at least 3.3 dB",),
            ),
        ),
        clean("a single full-scale sample is legal", of(stem("Drums.wav", peaks=FULL_SCALE))),
        clean("timecode is a square wave at full scale", of(clipped("LTC.wav", 200000, 24))),
        clean(
            "click left, timecode right at full scale",
            of(
                stem(
                    "Click+LTC.wav",
                    parts=[
                        part(Role.CLICK, channels=(0,)),
                        part(Role.TIMECODE, channels=(1,), peaks=FULL_SCALE, clipping=runs(100000, 20)),
                    ],
                )
            ),
        ),
        clean("one float sample above full scale", of(above_full_scale("Keys.wav", 1, 0.2))),
        at_limit("2 samples in a row", of(clipped("Bass.wav", 8, 2))),
        at_limit("2 float samples above full scale", of(above_full_scale("Bass.wav", 2, 0.2))),
        past_limit(
            "3 samples in a row", of(clipped("Bass.wav", 1, 3)), Expected(severity="warning", stem="Bass.wav")
        ),
        past_limit(
            "3 float samples above full scale",
            of(above_full_scale("Bass.wav", 3, 0.01)),
            Expected(severity="warning", stem="Bass.wav", value=3, says=("0.1 dB",)),
        ),
        past_limit(
            "9 in a row is a warning",
            of(clipped("Bass.wav", 1, 9)),
            Expected(severity="warning", stem="Bass.wav"),
        ),
        past_limit(
            "10 in a row is an error",
            of(clipped("Bass.wav", 1, 10)),
            Expected(severity="error", stem="Bass.wav"),
        ),
        past_limit(
            "20 runs a minute is a warning",
            of(clipped("Bass.wav", 40, 3, activity={"active_s": 120.0})),
            Expected(severity="warning", stem="Bass.wav", says=("20.0 a minute",)),
        ),
        past_limit(
            "more than 20 runs a minute of sound is an error, however long the file",
            of(clipped("Bass.wav", 41, 3, seconds=600, activity={"active_s": 120.0})),
            Expected(severity="error", stem="Bass.wav", says=("20.5 a minute",)),
        ),
        past_limit(
            "10 runs in a 2 s sample are a warning",
            of(clipped("FX.wav", 10, 3, seconds=2, activity={"active_s": 1.9})),
            Expected(severity="warning", stem="FX.wav"),
        ),
        past_limit(
            "11 runs in a 2 s sample are an error",
            of(clipped("FX.wav", 11, 3, seconds=2, activity={"active_s": 1.9})),
            Expected(severity="error", stem="FX.wav"),
        ),
    ),
    "flattened-peaks": (
        planted(
            "a brick at −6 dBFS",
            of(flattened("Guitar.wav")),
            Expected(
                severity="warning",
                stem="Guitar.wav",
                value=400,
                at_s=2.0,
                says=("−6.0 dBFS", "longest 23 samples", "limit 2"),
            ),
        ),
        planted(
            "a few tops, well below full scale",
            of(
                flattened("Lead Vocal.wav", plateaus=14, longest_frames=4, level_dbfs=-6.05),
                flattened("Keys.wav", plateaus=1, longest_frames=4),
            ),
            Expected(stem="Lead Vocal.wav", value=14),
        ),
        clean("a square-wave synth", of(flattened("Synth.wav", share=0.93))),
        clean("a click made of square ticks", of(flattened("Click.wav"))),
        clean("a guide with that click in it", of(flattened("Guide.wav"))),
        clean("timecode", of(flattened("LTC.wav"))),
        clean(
            "clipped at full scale: sample-clipping says it",
            of(
                stem(
                    "Bass.wav",
                    peaks=FULL_SCALE,
                    clipping=runs(400, 23),
                    flat_tops={"level_dbfs": 0.0, "plateaus": 400, "longest_frames": 23, "share": 0.01},
                )
            ),
        ),
        clean("plateaus below the loudest peaks", of(flattened("Bass.wav", level_dbfs=-6.2))),
        planted(
            "the one loudest note of a bass",
            of(flattened("Bass.wav", plateaus=1, longest_frames=34, touches=1)),
            Expected(severity="warning", stem="Bass.wav", value=1, at_s=2.0, says=("one top", "34 samples")),
        ),
        at_limit("1 plateau of 11 samples", of(flattened("Bass.wav", plateaus=1, longest_frames=11))),
        past_limit(
            "1 plateau of 12 samples",
            of(flattened("Bass.wav", plateaus=1, longest_frames=12)),
            Expected(stem="Bass.wav", value=1),
        ),
        at_limit(
            "9 plateaus of 4 samples, one at the maximum",
            of(flattened("Bass.wav", plateaus=9, longest_frames=4, touches=1)),
        ),
        at_limit("at the level for a fifth of the time", of(flattened("Bass.wav", share=0.2))),
        past_limit(
            "2 plateaus at one level",
            of(flattened("Bass.wav", plateaus=2, touches=2)),
            Expected(stem="Bass.wav", value=2),
        ),
        past_limit(
            "10 plateaus, one at the maximum",
            of(flattened("Bass.wav", plateaus=10, longest_frames=4, touches=1)),
            Expected(stem="Bass.wav", value=10),
        ),
        past_limit(
            "at the level for just under a fifth of the time",
            of(flattened("Bass.wav", share=0.199)),
            Expected(stem="Bass.wav"),
        ),
        planted(
            "drums cut off for two samples here and there",
            of(in_pairs("Drums.wav", 8, 40), in_pairs("Perc.wav", 3, 3)),
            Expected(
                severity="warning",
                stem="Drums.wav",
                value=8,
                at_s=2.0,
                says=("8 of 40 tops", "−6.0 dBFS", "for two samples", "limit 4"),
            ),
        ),
        clean("a limiter's tops: hardly any of two equal samples", of(in_pairs("Drums.wav", 8, 400))),
        clean("pairs in a channel that is not the loudest", of(in_pairs("Drums.wav", 8, 40, -6.2))),
        clean("a click's pairs", of(in_pairs("Click.wav", 8, 40))),
        at_limit("3 pairs of 10", of(in_pairs("Drums.wav", 3, 10))),
        past_limit("4 pairs of 10", of(in_pairs("Drums.wav", 4, 10)), Expected(stem="Drums.wav", value=4)),
        at_limit("11 pairs of 92, 11.96 %", of(in_pairs("Drums.wav", 11, 92))),
        past_limit(
            "11 of 91, 12.09 %", of(in_pairs("Drums.wav", 11, 91)), Expected(stem="Drums.wav", value=11)
        ),
        planted(
            "a plateau and pairs: what lasts longest is told",
            of(in_pairs("Drums.wav", 5, 9, level_dbfs=-6.0, **FLAT)),
            Expected(stem="Drums.wav", value=3, says=("longest 4 samples",)),
        ),
    ),
    "true-peak-over": (
        planted(
            "0.4 dB over",
            of(stem("Bass.wav", peaks={"sample_dbfs": -0.1, "true_dbtp": 0.4, "true_at_s": 12.25})),
            Expected(
                severity="warning",
                stem="Bass.wav",
                value=0.4,
                at_s=12.25,
                says=("+0.40 dBTP", "−0.10 dBFS"),
                advises=("at least 0.4 dB",),
            ),
        ),
        planted(
            "3 dB over: a tone at a quarter of the rate",
            of(stem("Synth.wav", peaks={"sample_dbfs": 0.0, "true_dbtp": 3.01})),
            Expected(stem="Synth.wav", value=3.01, within=0.001, advises=("at least 3.1 dB",)),
        ),
        clean("a loud master under the limit", of(stem("Mix.wav", peaks={"true_dbtp": -0.3}))),
        clean(
            "timecode, a full-scale click and the guide it is mixed into",
            of(*(stem(f"{name}.wav", peaks=FULL_SCALE) for name in ("LTC", "Click", "Guide"))),
        ),
        clean("clipped in the file: sample-clipping says it", of(clipped("Bass.wav", 30, 6))),
        clean("float above full scale: sample-clipping says it", of(above_full_scale("Bass.wav", 300, 2.0))),
        clean("the song's mix is shown, not judged", show(song("Night Ferry", stem("Bass.wav")))),
        at_limit("exactly 0.0 dBTP", of(stem("Bass.wav", peaks={"true_dbtp": 0.0}))),
        past_limit(
            "0.02 dB over",
            of(stem("Bass.wav", peaks={"true_dbtp": 0.02})),
            Expected(
                stem="Bass.wav", value=0.02, within=0.001, says=("+0.02",), advises=("at least 0.1 dB",)
            ),
        ),
        past_limit(
            "two full-scale samples are no clipping, so this rule speaks",
            of(clipped("Bass.wav", 5, 2)),
            Expected(stem="Bass.wav", value=0.7),
        ),
        past_limit(
            "one float sample above full scale is told here",
            of(above_full_scale("Bass.wav", 1, 0.2)),
            Expected(stem="Bass.wav", value=0.3),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


@pytest.mark.parametrize("longest", range(12))
@pytest.mark.parametrize("over", range(6))
def test_too_much_level_is_told_exactly_once(longest: int, over: int):
    """No gap and no overlap between the rules, whatever mixture of runs and float overs a part holds."""
    loud = stem(
        "Bass.wav",
        peaks={"sample_dbfs": 0.3, "true_dbtp": 0.5},
        clipping={**runs(1, longest), "over_full_scale": over},
    )
    said = [len(findings(rule, of(loud))) for rule in ("sample-clipping", "true-peak-over")]
    assert said in ([1, 0], [0, 1])
    assert said[0] == (longest >= 3 or over >= 3)


@pytest.mark.parametrize(("pairs", "said"), [(3, [0, 1]), (4, [1, 0])])
def test_pairs_that_are_over_between_samples_are_told_once(pairs: int, said: list[int]):
    loud = in_pairs("Guitar.wav", pairs, 9, -0.2, peaks={"sample_dbfs": -0.2, "true_dbtp": 0.4})
    found = [findings(rule, of(loud)) for rule in ("flattened-peaks", "true-peak-over")]
    assert [len(each) for each in found] == said
    assert all("+0.40 dBTP" in each.message for rule in found for each in rule)


@pytest.mark.parametrize(("plateaus", "said"), [(9, [0, 1]), (10, [1, 0])])
def test_one_clip_that_is_flat_and_over_between_samples_is_told_once(plateaus: int, said: list[int]):
    loud = stem(
        "Guitar.wav",
        peaks={"sample_dbfs": -0.2, "true_dbtp": 0.4},
        flat_tops={"level_dbfs": -0.2, "plateaus": plateaus, "longest_frames": 4, "share": 0.01},
    )
    found = [findings(rule, of(loud)) for rule in ("flattened-peaks", "true-peak-over")]
    assert [len(each) for each in found] == said
    assert all("+0.40 dBTP" in each.message for rule in found for each in rule)


def test_the_same_clipping_is_as_grave_in_a_short_file_of_silence():
    """The rate counts sound, not length: five minutes of silence around it change nothing."""
    tight = of(clipped("Bass.wav", 60, 3, seconds=60, activity={"active_s": 58.0}))
    padded = of(clipped("Bass.wav", 60, 3, seconds=360, activity={"active_s": 58.0}))
    assert findings("sample-clipping", tight)[0].measured == findings("sample-clipping", padded)[0].measured


def test_large_numbers_stay_readable():
    (found,) = findings("sample-clipping", of(clipped("Guitar.wav", 10167, 15)))
    assert "10\u00a0167 places" in found.message
    assert "10\u00a0339 a minute" in found.message  # 59 s of sound
    assert found.measured["runs_a_minute"] == pytest.approx(10167 * 60 / 59)


def test_limits_from_settings_are_used_and_told():
    lenient = {
        "sample-clipping": Limit(
            value=8, unit="samples", more={"error_run": 100, "error_runs_per_minute": 1e9}
        )
    }
    assert findings("sample-clipping", of(clipped("Bass.wav", 900, 7)), limits=lenient) == []
    (found,) = findings("sample-clipping", of(clipped("Bass.wav", 900, 50)), limits=lenient)
    assert (found.severity.value, found.limit, found.unit) == ("warning", 8, "samples")
    assert "limit 8" in found.message
    stricter = {"true-peak-over": Limit(value=-1.0, unit="dBTP")}
    (found,) = findings("true-peak-over", of(stem("Bass.wav", peaks={"true_dbtp": -0.7})), limits=stricter)
    assert "at least 0.3 dB" in found.advice


def test_silence_is_no_question_for_these_rules():
    for rule in CASES:
        answer = audit_with(rule, of(stem("Bass.wav", silent=True)))
        assert list(answer.all_findings()) == []
        assert answer.not_applicable == {rule: 1}


def test_what_cannot_be_decoded_is_unmeasured_not_passed():
    for rule in CASES:
        answer = audit_with(rule, of(stem("Bass.wav", failure="the decoder gave up")))
        assert [entry.reason for entry in answer.songs[0].unmeasured] == ["the decoder gave up"]


def test_what_a_moved_limit_leaves_is_told_by_the_next_rule():
    """Five full-scale samples in a row are no clipping to these settings, so its true peak is judged."""
    stem_over = stem("Bass.wav", peaks={**FULL_SCALE, "true_dbtp": 0.8}, clipping=runs(1, 5))
    lenient = {
        "sample-clipping": Limit(
            value=8, unit="samples", more={"error_run": 100, "error_runs_per_minute": 1e9}
        )
    }
    assert findings("true-peak-over", of(stem_over)) == []
    (found,) = findings("true-peak-over", of(stem_over), limits=lenient)
    assert found.value == 0.8


@pytest.mark.parametrize(
    ("number", "longest", "file", "decided"),
    [
        (11, 3, "Keys.wav", (22.0, 20.0, "runs a minute")),
        (10, 3, "Keys.wav", (3.0, 3.0, "samples")),  # a warning
        (11, 12, "Keys.wav", (12.0, 3.0, "samples")),  # either makes it an error
        (11, 3, "Click.wav", (3.0, 3.0, "samples")),  # never one of a click
    ],
)
def test_value_and_limit_are_those_that_were_passed(
    number: int, longest: int, file: str, decided: tuple[float, float, str]
):
    """So many places in half a minute of sound."""
    (found,) = findings("sample-clipping", of(clipped(file, number, longest, activity={"active_s": 30.0})))
    assert (found.value, found.limit, found.unit) == decided
