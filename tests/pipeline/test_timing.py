"""Which stems are laid against the click, and against which of its beats."""

from __future__ import annotations

from array import array
from dataclasses import replace

import numpy as np
import pytest

from audit.evidence import SongEvidence, StemEvidence
from audit.pipeline.song.timing import with_alignment
from audit.results import ClickRun, ClickTrack, Onsets
from tests.evidence import song, stem

BEAT_S, BEATS, HALF = 0.5, 240, 120


def jumping(by_s: float) -> ClickTrack:
    """Two minutes at 120, the second of them moved."""
    at_s = 1.0 + BEAT_S * np.arange(BEATS)
    at_s[HALF:] += by_s
    return ClickTrack(
        beats_s=tuple(at_s.tolist()),
        accents=tuple(number % 4 == 0 for number in range(BEATS)),
        runs=tuple(
            ClickRun(first_beat=first, beats=HALF, bpm_first=120.0, bpm_last=120.0, steady=True)
            for first in (0, HALF)
        ),
        bpm=120.0,
        metre="4/4",
        count_in_beats=4,
        first_beat_s=1.0,
    )


def playing(name: str, every: float, moved_s: float, seed: int) -> StemEvidence:
    """A stem that strikes every so many beats, as people do; from the middle on moved."""
    beats = np.arange(4.0, BEATS, every)
    rng = np.random.default_rng(seed)
    at_s = (
        1.0 + BEAT_S * beats + np.where(beats >= HALF, moved_s, 0.0) + 0.004 * rng.standard_normal(len(beats))
    )
    one = stem(name, seconds=130.0)
    (part,) = one.parts
    onsets = Onsets(times_s=array("d", at_s.tolist()), strengths_db=array("f", [90.0] * len(beats)))
    return replace(one, parts=(replace(part, measures=replace(part.measures, onsets=onsets)),))


def band(jump_s: float, moved_s: float) -> SongEvidence:
    stems = [
        playing(f"{name}.wav", every, moved_s, seed)
        for seed, (name, every) in enumerate({"Kick": 1.0, "Hat": 0.5, "Bass": 2.0, "Keys": 4.0}.items())
    ]
    ready = song(
        "Night Ferry", stem("Click.wav", channels=1), *stems, click=jumping(jump_s), click_stem="Click.wav"
    )
    return with_alignment(ready)


def lie_on_their_beats(heard: SongEvidence) -> None:
    for one in heard.stems[1:]:
        assert one.alignment is not None
        assert one.alignment.phase is not None
        assert one.alignment.phase.offset_ms == pytest.approx(0.0, abs=3.0)
        assert one.alignment.phase.iqr_ms < 10.0


@pytest.mark.parametrize("jump_s", [-0.06, 0.06, 0.1])
def test_no_stem_slides_nor_is_late_where_the_click_alone_jumps(jump_s: float):
    heard = band(jump_s, 0.0)
    assert heard.click is not None
    assert [jump.click_alone for jump in heard.click.jumps] == [True]
    lie_on_their_beats(heard)
    for one in heard.stems[1:]:
        if one.alignment is not None and one.alignment.drift is not None:
            assert abs(one.alignment.drift.slide_ms) < 5.0


def test_music_that_waits_with_its_click_is_laid_against_it_as_it_is():
    heard = band(0.1, 0.1)
    assert heard.click is not None
    assert [jump.click_alone for jump in heard.click.jumps] == [False]
    lie_on_their_beats(heard)


def test_a_jump_is_known_where_nothing_plays_to_tell_by():
    alone = with_alignment(
        song("Night Ferry", stem("Click.wav", channels=1), click=jumping(0.1), click_stem="Click.wav")
    )
    assert alone.click is not None
    assert [round(jump.by_s, 3) for jump in alone.click.jumps] == [0.1]
