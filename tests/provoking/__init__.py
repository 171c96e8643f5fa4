"""Clean stems that look like damage: what a careless rule would take for a fault, each with the reason.

    PROVOKING: tuple[Provoking, ...]      .name, .reason, .make() -> Samples

Every stem is meant to sound as it does: nothing may be said of it above a note. All are mono or stereo at
48 kHz, a few seconds long, the same on every call. A new one is a function with `@provokes(reason)` in a file
of this folder; a new file is imported here.
"""

from tests.provoking import cuts, origins, waves
from tests.provoking.kit import Provoking, entered

__all__ = ["PROVOKING", "Provoking", "cuts", "origins", "waves"]

PROVOKING: tuple[Provoking, ...] = entered()
