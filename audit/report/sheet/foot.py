"""What stands under the crew sheet, and what it calls its songs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence

from audit.findings import ShowAudit, SongAudit
from audit.report.words import listed
from audit.settings.model import SetList
from audit.units import count


def song_titles(audit: ShowAudit) -> dict[str, str]:
    """What the sheet calls each song: without its number, as the sheet has its own; in full where two songs
    would then be one."""
    titles = {song.evidence.name: song.evidence.song.title or song.evidence.name for song in audit.songs}
    often = Counter(title.casefold() for title in titles.values())
    return {name: title if often[title.casefold()] == 1 else name for name, title in titles.items()}


def clipping(songs: Sequence[SongAudit], titles: Mapping[str, str], *, patched: bool) -> str:
    """Without a patch nobody knows what meets on an output: what all of it on one pair would come to."""
    peaks = [
        (song.evidence.mix.peaks.true_dbtp, titles[song.evidence.name])
        for song in songs
        if song.evidence.mix is not None and song.evidence.mix.peaks.true_dbtp > 0.0
    ]
    if patched or not peaks:
        return ""
    most, name = max(peaks)
    which = name if len(peaks) == 1 else f"{len(peaks)} songs, most of all {name},"
    return f"on one pair of outputs {which} would clip (+{most:.1f} dBTP)"


def frame_rates(songs: Sequence[SongAudit], titles: Mapping[str, str]) -> str:
    """At how many frames a second the night's timecode runs; the songs where it is another rate are named."""
    rates = [
        (song.evidence.timecode.rate.text, titles[song.evidence.name])
        for song in songs
        if song.evidence.timecode is not None
    ]
    if not rates:
        return ""
    [(usual, _), *others] = Counter(rate for rate, _ in rates).most_common()
    odd = (f"{rate} in {listed(name for other, name in rates if other == rate)}" for rate, _ in others)
    return "; ".join((f"Timecode runs at {usual} frames a second", *odd))


MARKS = {"!": "do not play the song as it is", "?": "not checked in full"}
"""What stands before a song's number, and what it says."""


def foot(marks: Collection[str], set_list: SetList, unknown: int, rates: str, clips: str) -> str:
    said = [*([rates] if rates else []), f"{'lengths' if rates else 'Lengths'} are those of the files"]
    if unknown:
        said.append(f"{count(unknown, 'song')} of unknown length not counted")
    if set_list.changeover_s or set_list.interval_s:
        interval = " and the interval" if set_list.interval_s else ""
        said.append(f"totals count changeovers{interval}")
    said += [clips] if clips else []
    said += [f"“{mark}” before a number: {words}" for mark, words in MARKS.items() if mark in marks]
    return "; ".join(said) + "."
