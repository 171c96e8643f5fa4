"""Which of a stem's versions belongs to the song as it is: by its length, its bars, and its sound."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Stem, common_length_s
from audit.rules.arrangement import follows_another_arrangement
from audit.rules.endings import endings
from audit.rules.identity import copies_in_force, how_it_differs
from audit.rules.parts import listed
from audit.rules.rule import Limit

SAME_LENGTH_S = 0.01
ENOUGH_OTHERS = 2
"""Other stems whose length is the song's; fewer tell nothing."""


def fitting_length(song: SongEvidence, versions: Sequence[Stem]) -> list[str] | None:
    """The versions that are as long as the song's other stems; None where no length is theirs, or a version
    could not be measured."""
    ends = {ending.stem.name: ending.end_s for ending in endings(song)}
    files = {stem.file for stem in versions}
    others = [end_s for name, end_s in ends.items() if name not in files]
    common_s = common_length_s(others, SAME_LENGTH_S) if len(others) >= ENOUGH_OTHERS else None
    if common_s is None or not files <= set(ends):
        return None
    return [stem.file for stem in versions if abs(ends[stem.file] - common_s) <= SAME_LENGTH_S]


def fitting_arrangement(song: SongEvidence, show: ShowEvidence, versions: Sequence[Stem]) -> list[str] | None:
    """The versions that follow the bars of the song's other stems; None where that cannot be told of all."""
    heard = {stem.name: stem for stem in song.stems}
    told = [heard[stem.file] for stem in versions if stem.file in heard]
    if len(told) < len(versions) or any(stem.alignment is None for stem in told):
        return None
    return [stem.name for stem in told if not follows_another_arrangement(song, stem, show)]


def how_versions_fit(
    song: SongEvidence, show: ShowEvidence, versions: Sequence[Stem], limit: Limit
) -> tuple[str, dict[str, tuple[str, ...] | None]]:
    """What to add to a finding on versions, empty where nothing tells them apart, and its facts.

    limit: that of duplicate-audio, in force.
    """
    by_length, by_bars = fitting_length(song, versions), fitting_arrangement(song, show, versions)
    said = list(_said(versions, by_length, by_bars))
    said += _same_recordings(song, show, {stem.file for stem in versions}, limit)
    facts = {
        "fit_length": None if by_length is None else tuple(by_length),
        "fit_arrangement": None if by_bars is None else tuple(by_bars),
    }
    return "".join(f"; {words}" for words in said), facts


def _said(versions: Sequence[Stem], by_length: list[str] | None, by_bars: list[str] | None) -> Iterator[str]:
    if by_length is not None and len(by_length) < len(versions):
        yield f"of the song's length: {listed(by_length) if by_length else 'none of them'}"
    if by_bars is not None and len(by_bars) < len(versions):
        yield f"of the song's arrangement: {listed(by_bars) if by_bars else 'none of them'}"


def _same_recordings(song: SongEvidence, show: ShowEvidence, files: set[str], limit: Limit) -> list[str]:
    heard: dict[str, StemEvidence] = {stem.name: stem for stem in song.stems}
    inside = [
        copy
        for copy in copies_in_force(show, limit)
        if copy.first_song == copy.second_song == song.name and {copy.first, copy.second} <= files
    ]
    return [
        f"{copy.second} is the recording of {copy.first}, "
        f"{how_it_differs(copy, heard[copy.first], heard[copy.second])}"
        for copy in inside
        if {copy.first, copy.second} <= set(heard)
    ]
