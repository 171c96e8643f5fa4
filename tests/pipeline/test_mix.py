"""The song's sum: what goes left, what goes right."""

from __future__ import annotations

import numpy as np
import pytest

from audit.pipeline.mix import MixPlan, MixSum

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
