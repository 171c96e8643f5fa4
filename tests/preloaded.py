"""What the workers of `tests.workers` have loaded when they start. To import it is to load it."""

from __future__ import annotations

from tests.loaded import load_everything

load_everything()
