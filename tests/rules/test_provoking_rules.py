"""Stems that look damaged and are not: every rule of the catalogue is asked about each of them."""

from __future__ import annotations

import pytest

from audit.findings import Severity
from audit.rules.catalogue import RULES
from tests.evidence import findings, show, song
from tests.provoking import PROVOKING, Provoking
from tests.rules.test_level_heard import heard

TRUE_OF_IT = {
    # Its periods are no whole number of samples, so one half is longer: a mean of 0.4 % of full scale.
    "square bass": {"dc-offset"},
}


@pytest.mark.parametrize("stem", PROVOKING, ids=lambda stem: stem.name)
def test_no_rule_speaks_of_a_provoking_stem(stem: Provoking):
    evidence = show(song("Night Ferry", heard("Keys.wav", stem.make())))
    said = {
        rule.id
        for rule in RULES
        if any(found.severity is not Severity.NOTE for found in findings(rule.id, evidence))
    }
    assert said == TRUE_OF_IT.get(stem.name, set()), stem.reason
