"""The song's click: which stem it is, and its beats, heard once more in that stem alone."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial

import numpy as np

from audit.decode.blocks import open_blocks
from audit.decode.header import Header
from audit.errors import UnreadableAudioError
from audit.evidence import PartEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.measure.click import with_count_in
from audit.measure.click_hearing import hear_click
from audit.measure.samples import Samples
from audit.results import ClickTrack


def with_click(
    song: SongEvidence, headers: Mapping[str, Header], progress: Callable[[str, int], object]
) -> SongEvidence:
    """The song with its click; unchanged where no part of it is one that sounds.

    The click is the part with that role, of several the one whose sound is most like ticks. It is read again
    for this, alone, which costs little and spares every other stem the search. progress: told (stem, 0) while
    it is read.
    """
    candidates = [
        (stem, part)
        for stem in song.stems
        for part in stem.parts
        if part.role is Role.CLICK and not part.silent
    ]
    if not candidates:
        return song
    stem, part = max(candidates, key=lambda pair: pair[1].measures.nature.tick_share)
    try:
        track = _hear(stem, part, headers[stem.name], partial(progress, stem.name, 0))
    except UnreadableAudioError:
        return song  # the file vanished since it was heard; its own finding tells
    if track is not None:
        track = with_count_in(track, _sounds_s(song))
    return replace(song, click=track, click_stem=stem.name)


ABOVE_LEAK_DB = 6.0
"""What stands no higher over timecode that leaks in is that timecode."""


def count_in_beside_leaks(song: SongEvidence) -> SongEvidence:
    """The song with its count-in counted anew where timecode leaks into what the audience hears: the code
    runs from before the count-in, and no music begins with it."""
    if song.click is None or all(part.timecode_leak is None for stem in song.stems for part in stem.parts):
        return song
    return replace(song, click=with_count_in(song.click, _sounds_s(song)))


def _hear(
    stem: StemEvidence, part: PartEvidence, header: Header, at_work: Callable[[], object]
) -> ClickTrack | None:
    channels = part.measures.channels
    assert header.format is not None
    blocks = partial(_blocks, stem, channels, header, at_work)
    return hear_click(blocks, header.format.sample_rate_hz, len(channels))


def _blocks(
    stem: StemEvidence, channels: tuple[int, ...], header: Header, at_work: Callable[[], object]
) -> Iterator[Samples]:
    """The part's own channels, free of NaN, as the first pass measured them."""
    unchecked = replace(header, md5=None)  # the first pass asked for the checksum
    reader = open_blocks(stem.stem.path, unchecked, at_work=at_work)
    try:
        for block in reader:
            yield np.nan_to_num(block[:, list(channels)], copy=False, nan=0.0, posinf=0.0, neginf=0.0)
    finally:
        reader.close()


def _sounds_s(song: SongEvidence) -> list[float]:
    """When each part that the audience hears first sounds; of one that hisses from its first frame on, or
    whose noise floor opens before it plays, when it rises out of that, and of one into which timecode leaks,
    when it rises above that."""
    sounds = [
        _first_sound_s(part, stem.format.sample_rate_hz)
        for stem in song.stems
        for part in stem.parts
        if stem.format is not None and part.audience and not part.silent
    ]
    return [one for one in sounds if one is not None]


def _first_sound_s(part: PartEvidence, rate_hz: int) -> float | None:
    first, envelope = part.measures.activity.first_played_frame, part.measures.envelope
    if first is None:
        return None
    if part.timecode_leak is not None and envelope is not None:
        begun = envelope.first_above_s(part.timecode_leak.level_dbfs + ABOVE_LEAK_DB)
        return None if begun is None else max(begun + 0.5 * envelope.bin_s, first / rate_hz)
    first_s = first / rate_hz
    played = envelope.played_s(first_s, math.inf) if envelope is not None else (first_s, math.inf)
    if played is None or envelope is None or played[0] <= first_s:
        return None if played is None else played[0]
    return played[0] + 0.5 * envelope.bin_s  # the music begins somewhere in its bin
