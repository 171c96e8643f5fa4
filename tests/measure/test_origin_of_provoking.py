"""Stems made to provoke are not spoken of by the rules on origin and on noise."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.facts import Role
from audit.findings import Severity
from audit.measure.ceiling import CeilingMeter
from audit.measure.scrambled import ScrambledMeter
from tests.evidence import findings, show, song, stem
from tests.measure.feeding import fed
from tests.provoking import PROVOKING, Provoking
from tests.provoking.kit import RATE_HZ

RULES = ("full-scale-noise", "upsampled-source", "lossy-source")


def test_there_are_enough_of_them():
    assert len(PROVOKING) >= 50
    assert len({one.name for one in PROVOKING}) == len(PROVOKING)


@pytest.mark.parametrize("one", PROVOKING, ids=lambda one: one.name)
def test_it_is_silent(one: Provoking):
    samples = one.make()
    channels = samples.shape[1]
    ceiling = fed(CeilingMeter(RATE_HZ, channels), samples).result()
    scrambled = fed(ScrambledMeter(RATE_HZ, channels, bits=24, is_float=False), samples).result()
    # A guitar, of which the rules expect most; synthesisers are forgiven more.
    made = stem(
        "Stem.wav", role=Role.GUITAR, channels=channels, frames=len(samples), audio={"scrambled": scrambled}
    )
    part = made.parts[0]
    heard = replace(made, parts=(replace(part, measures=replace(part.measures, ceiling=ceiling)),))
    told = [finding for rule in RULES for finding in findings(rule, show(song("Trial", heard)))]
    assert [(f.rule, f.message) for f in told if f.severity is not Severity.NOTE] == []
