"""Clicks of a full mix that its parts hold at the same places.

Of a choked hi-hat the drums by themselves say that it is no splice; under the sum of all, what says so may be
hidden. A second look at short pieces about a full mix's clicks tells: what the parts, added up, leave nothing
of is theirs, and where it is a fault it is told of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

import numpy as np
import numpy.typing as npt

from audit.decode.header import Header
from audit.decode.pieces import read_pieces
from audit.errors import UnreadableAudioError
from audit.evidence import SongEvidence, StemEvidence
from audit.results import PartsFit

PIECE_S = 0.04
"""Long enough to tell how loud each of twenty parts is in the sum."""

NEAR_S = 0.0005
"""A jump, or wrong samples, about the place that was found."""

LEFT = 0.1
"""Of a jump that the parts hold no more is left without them. Own judgement: what was mixed with effects
of its own leaves more, and is told."""

Told = Callable[[str, int], object]
Pieces = list[npt.NDArray[np.float64]]


def with_clicks_of_parts(song: SongEvidence, headers: Mapping[str, Header], progress: Told) -> SongEvidence:
    """The song with, for each full mix, the clicks that its parts hold. progress: told (stem, 0)."""
    stems = {stem.name: stem for stem in song.stems}
    fits = tuple(replace(fit, clicks=_of_the_parts(fit, stems, headers, progress)) for fit in song.parts_fits)
    return song if fits == song.parts_fits else replace(song, parts_fits=fits)


def _of_the_parts(
    fit: PartsFit, stems: Mapping[str, StemEvidence], headers: Mapping[str, Header], progress: Told
) -> tuple[int, ...]:
    """The frames of those clicks."""
    mix = stems[fit.stem]
    places = sorted(
        {
            click.at_frame
            for part in mix.parts
            if part.measures.damage
            for click in part.measures.damage.clicks
        }
    )
    if not places or mix.format is None:
        return ()
    rate_hz = mix.format.sample_rate_hz
    parts = [
        stem
        for name in fit.parts
        if (stem := stems[name]).format is not None and stem.format.sample_rate_hz == rate_hz
    ]
    try:
        of_mix = _pieces(mix, places, rate_hz, headers, progress)
        of_parts = [_pieces(stem, places, rate_hz, headers, progress) for stem in parts]
    except UnreadableAudioError:
        return ()  # a file vanished since it was heard; its own finding tells
    return tuple(
        place
        for number, place in enumerate(places)
        if of_parts and _is_theirs(of_mix[number], [pieces[number] for pieces in of_parts], rate_hz)
    )


def _pieces(
    stem: StemEvidence, places: list[int], rate_hz: int, headers: Mapping[str, Header], progress: Told
) -> Pieces:
    """About each place, shape (frames, channels)."""
    frames = round(PIECE_S * rate_hz)
    starts = [place - frames // 2 for place in places]
    told = partial(progress, stem.name, 0)
    return [
        piece.astype(np.float64)
        for piece in read_pieces(stem.stem.path, headers[stem.name], starts, frames, told)
    ]


def _is_theirs(mix: npt.NDArray[np.float64], parts: Pieces, rate_hz: int) -> bool:
    """Whether the best sum of the parts leaves nothing of the jump in the middle. Differences of samples are
    compared: there a jump stands out."""
    steps, made_of = np.diff(mix, axis=0), np.diff(np.hstack(parts), axis=0)
    gains = np.linalg.lstsq(made_of, steps, rcond=None)[0]
    middle, near = len(mix) // 2, max(2, round(NEAR_S * rate_hz))
    there = slice(middle - near, middle + near)
    left = np.abs(steps - made_of @ gains)[there].max(axis=0)
    return bool(np.all(left <= LEFT * np.abs(steps)[there].max(axis=0)))
