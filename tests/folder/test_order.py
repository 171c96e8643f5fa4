"""Natural order, as file managers show names."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from audit.folder.order import natural_key

IN_ORDER = [
    "1 - Rain", "2 - Rain", "02 - Snow", "10 - Rain", "a", "Act 1", "Act 1/Intro", "Act 1 b", "Act 2",
    "Act 10", "b2", "B10", "é",
]  # fmt: skip


def test_numbers_by_value_and_letters_without_case():
    mixed = IN_ORDER.copy()
    random.Random(7).shuffle(mixed)
    assert sorted(mixed, key=natural_key) == IN_ORDER


def test_folder_stands_with_what_is_in_it():
    assert sorted(["A b/x", "A/z", "A/a"], key=natural_key) == ["A/a", "A/z", "A b/x"]


@settings(max_examples=100, deadline=None)
@given(st.lists(st.text(max_size=12), max_size=8))
def test_any_names_have_one_order(names: list[str]):
    backwards = names[::-1]
    assert sorted(names, key=natural_key) == sorted(backwards, key=natural_key)
