"""The song's sum: what goes left, what goes right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit.facts import Role
from audit.pipeline.song.mix import MixPlan, MixSum, plan_by_name, settle
from tests.evidence import song, stem

LEVELS = np.array([0.5, 0.25, 0.125, 0.0625], np.float32)


@pytest.mark.parametrize(
    ("channels", "left", "right"),
    [
        ((0,), 0.5, 0.5),
        ((0, 1), 0.5, 0.25),
        ((0, 2), 0.5, 0.125),  # a click lies between the two sides
        ((1, 2), 0.25, 0.125),  # the click comes first
        ((0, 1, 2, 3), 0.625, 0.3125),
        ((1, 2, 3), 0.3125, 0.125),
    ],
)
def test_the_heard_channels_go_left_and_right_in_turn(channels: tuple[int, ...], left: float, right: float):
    mix = MixSum(MixPlan(sample_rate_hz=48_000, sums={"Keys.wav": channels}))
    mix.add("Keys.wav", np.ones((480, 1), np.float32) * LEVELS)
    mix.add("Pad.wav", np.ones((480, 2), np.float32))
    mix.step()
    result = mix.result(())
    assert result is not None
    assert result.from_stems == ("Keys.wav",)
    assert 10 ** (np.array(result.peaks.channel_dbfs) / 20) == pytest.approx([left, right], rel=1e-6)


def two_sets(rates: tuple[int, int]):
    made = song(
        "Night Ferry",
        *(
            stem(f"{folder}/{name}.wav", role=role, rate_hz=rate, facts={"version_key": name})
            for folder, rate in zip(("A", "B"), rates, strict=True)
            for name, role in (("bass", Role.BASS), ("keys", Role.KEYS), ("click", Role.CLICK))
        ),
    )
    return made, {each.name: each.format for each in made.stems}


@pytest.mark.parametrize(
    ("rates", "show_rate_hz", "sums"),
    [
        ((44_100, 48_000), 48_000, "B"),
        ((44_100, 48_000), 44_100, "A"),
        ((48_000, 44_100), 48_000, "A"),
        ((44_100, 48_000), None, "B"),
        ((48_000, 48_000), 48_000, "A"),
    ],
)
def test_of_two_sets_of_stems_one_makes_the_sum(rates: tuple[int, int], show_rate_hz: int | None, sums: str):
    made, formats = two_sets(rates)
    plan = plan_by_name(made.song, formats, show_rate_hz)
    assert set(plan.sums) == {f"{sums}/bass.wav", f"{sums}/keys.wav"}
    assert {reason for _, reason in plan.left_out} == {f"the same stems in {sums} make the sum"}
    assert set(settle(plan, made.stems, (), 0.6).sums) == set(plan.sums)


@pytest.mark.parametrize(
    ("copy", "reason"),
    [("same", "the same audio as Gtr (1).wav"), ("other", "an older version of Gtr (1).wav")],
)
def test_a_copy_is_no_older_version(copy: str, reason: str):
    def take(file: str, content_hash: str, version: str | None):
        facts = {"version": version, "version_key": "gtr"}
        made = stem(file, role=Role.GUITAR, facts=facts)
        assert made.audio is not None
        return replace(made, audio=replace(made.audio, content_hash=content_hash))

    made = song("Night Ferry", take("Gtr.wav", "same", None), take("Gtr (1).wav", copy, "(1)"))
    plan = plan_by_name(made.song, {each.name: each.format for each in made.stems})
    assert settle(plan, made.stems, (), 0.6).left_out == (("Gtr.wav", reason),)
