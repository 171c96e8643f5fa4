"""How alike two things sound, in words: correlations and shares as a percentage, nothing below none."""

from __future__ import annotations


def alike(fit: float) -> str:
    """`44 %` of a likeness of 1; what fits worse than chance is not alike at all: `0 %`."""
    return f"{round(100.0 * min(1.0, max(0.0, fit)))} %"
