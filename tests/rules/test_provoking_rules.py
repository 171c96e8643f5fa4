"""Stems that look damaged and are not: every rule of the catalogue is asked about each of them."""

from __future__ import annotations

import numpy as np
import pytest

from audit.findings import Severity
from audit.rules.catalogue import RULES
from tests.evidence import findings, show, song
from tests.provoking import PROVOKING, Provoking
from tests.rules.test_level_heard import RATE_HZ, heard

TRUE_OF_IT = {
    # Its periods are no whole number of samples, so one half is longer: a mean of 0.4 % of full scale.
    "square bass": {"dc-offset"},
}


@pytest.mark.parametrize("stem", PROVOKING, ids=lambda stem: stem.name)
def test_no_rule_speaks_of_a_provoking_stem(stem: Provoking):
    assert said_of(let_go(stem.make())) == TRUE_OF_IT.get(stem.name, set()), stem.reason


@pytest.mark.parametrize("name", ["legato organ", "chorus", "supersaw below 20000 Hz by 48 dB"])
def test_as_they_are_made_they_are_cut_off_at_their_ends(name: str):
    (stem,) = (one for one in PROVOKING if one.name == name)
    assert said_of(stem.make()) == {"cut-tail"}


def let_go(samples: np.ndarray) -> np.ndarray:
    """The stem with a release of 50 ms: they are made as long as they are, and stop there."""
    frames = RATE_HZ // 20
    ramp = np.concatenate([np.ones(len(samples) - frames), np.linspace(1.0, 0.0, frames)])
    return (samples.T * ramp).T.astype(samples.dtype)


def said_of(samples: np.ndarray) -> set[str]:
    evidence = show(song("Night Ferry", heard("Keys.wav", samples)))
    return {
        rule.id
        for rule in RULES
        if any(found.severity is not Severity.NOTE for found in findings(rule.id, evidence))
    }
