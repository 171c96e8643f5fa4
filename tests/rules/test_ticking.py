"""click-bleed by the count-in: stems that tick with the click before anything else sounds."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from audit.evidence import ShowEvidence
from audit.findings import Severity
from audit.results import Envelope, Onsets
from tests.evidence import findings, show, song, stem
from tests.rules.test_click import track

BEATS = 8
BIN_S = 0.1


def ticking(
    file: str = "Strings.wav",
    *,
    levels: Sequence[float] = (-30.0, -35.0, -35.0, -35.0) * 2,
    lags_ms: Sequence[float] = (1.5,) * BEATS,
    own_dbfs: float = -6.0,
    more_s: Sequence[float] = (),
    count_in: int = BEATS,
) -> ShowEvidence:
    """A stem that ticks in a count-in at 120 beats a minute from second 1 on, and plays from second 6 on."""
    beats_s = [1.0 + 0.5 * beat for beat in range(60)]
    times_s = [beat + lag / 1000.0 for beat, lag in zip(beats_s, lags_ms, strict=False)]
    peaks = np.full(600, -90.0)
    peaks[60:] = own_dbfs
    for at_s, level in zip(times_s, levels, strict=False):
        peaks[int(at_s / BIN_S)] = level
    codes = bytes(int(240 + 2 * level) for level in peaks)
    everything = sorted([*times_s, *more_s, 6.0, 8.0, 9.5])
    one = stem(file, peaks={"sample_dbfs": own_dbfs})
    (own,) = one.parts
    assert own.measures is not None
    onsets = Onsets(times_s=array("d", everything), strengths_db=array("f", [100.0] * len(everything)))
    measures = replace(own.measures, onsets=onsets, envelope=Envelope(bin_s=BIN_S, peaks=codes, levels=codes))
    click = replace(
        track(),
        beats_s=tuple(beats_s),
        accents=(True, False, False, False) * 15,
        music_s=beats_s[count_in],
        count_in_beats=count_in,
    )
    stems = (stem("Click.wav", channels=1), replace(one, parts=(replace(own, measures=measures),)))
    return show(song("Night Ferry", *stems, click=click, click_stem="Click.wav"))


def test_a_stem_that_ticks_with_the_count_in_holds_the_click_by_way_of_a_room():
    (found,) = findings("click-bleed", ticking())
    assert (found.stem, found.severity, found.at_s) == ("Strings.wav", Severity.WARNING, 1.0)
    assert (found.value, found.limit, found.unit) == (-35.0, -60.0, "dBFS")
    assert "ticks with the click on all 8 beats of the count-in, at −35 dBFS" in found.message


@pytest.mark.parametrize(
    "told",
    [
        {"count_in": 4},
        {"lags_ms": (20.0, 22.9, 20.0, 17.1) * 2},  # 7 m from the loudspeaker
        {"own_dbfs": -18.0},
        {"levels": (-58.0, -59.9, -59.9, -59.9) * 2},
        {"levels": (-33.4, -35.0, -35.0, -35.0) * 2},
    ],
)
def test_up_to_each_bound(told: dict[str, Any]):
    assert findings("click-bleed", ticking(**told))


@pytest.mark.parametrize(
    "silent",
    [
        {"file": "Drums.wav"},  # sticks count in
        {"file": "Perc.wav"},
        {"file": "Guide.wav"},
        {"count_in": 3},
        {"lags_ms": (1.5,) * 7},  # one beat without
        {"lags_ms": (0.0, 6.2, 0.0, 6.2) * 2},  # hands
        {"lags_ms": (41.0,) * 8},
        {"own_dbfs": -18.5},  # as loud as it plays later
        {"levels": (-57.0, -60.5, -60.5, -60.5) * 2},
        {"levels": (-35.0,) * 8},  # no accents
        {"levels": (-35.0, -30.0, -35.0, -35.0) * 2},  # its own ones
        {"more_s": (1.25,)},  # and between the beats
    ],
)
def test_what_is_no_click(silent: dict[str, Any]):
    assert not findings("click-bleed", ticking(**silent))
