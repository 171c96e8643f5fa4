"""The show's usual sample rate before anything is heard: only songs with two sets of stems ask for it."""

from __future__ import annotations

from collections import Counter

from audit.facts import Show
from audit.rules.versions import stem_sets


def usual_rate_hz(show: Show) -> int | None:
    """The rate that most songs have, by the header of one stem each; None where no song has to know it.

    Songs with two sets of stems have no vote, and neither has a tie.
    """
    undecided = {song.name for song in show.songs if stem_sets(song.stems)}
    if not undecided:
        return None
    from audit.decode.header import read_header

    rates: Counter[int] = Counter()
    for song in show.songs:
        if song.name in undecided:
            continue
        for stem in song.stems[:1]:
            header = read_header(
                stem.path,
                size_bytes=stem.size_bytes,
                allocated_bytes=stem.allocated_bytes,
                elsewhere=stem.elsewhere,
            )
            if header.format is not None:
                rates[header.format.sample_rate_hz] += 1
    ranked = rates.most_common(2)
    tie = len(ranked) == 2 and ranked[0][1] == ranked[1][1]
    return ranked[0][0] if ranked and not tie else None
