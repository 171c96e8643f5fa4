"""By how many whole beats a stem is off by its harmony: by the click's bars, by its fits, by its role.

by_harmony(stem, song, show, limit, in_key=…) -> Off, or None where the evidence is not enough
"""

from __future__ import annotations

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import Beats
from audit.rules.bars import beat_s
from audit.rules.beat_habits import STRUCK, beside_its_place, is_nearer_its_place, strikes_as_never
from audit.rules.off_the_bar import keeps_the_bar, off_the_bar, turns_beside, turns_so_elsewhere
from audit.rules.rule import Limit
from audit.rules.shifted_evidence import a_bar_off, is_shifted
from audit.rules.shifted_words import Off


def by_harmony(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, limit: Limit, *, in_key: bool
) -> Off | None:
    """in_key: whether its chords are the others' chords at all; the click's bars are asked anyway."""
    beats = stem.alignment.beats if stem.alignment is not None else None
    bar = off_the_bar(stem, song, show, limit) if limit.value <= 1.0 else None
    if bar is not None and stem.role is Role.GUITAR and not _fits_there(beats, bar.beats, limit):
        bar = None  # a riff may begin before the bar, or after it, all through a song
    if bar is not None and not (in_key and _says_the_other_way(beats, bar.beats, limit)):
        both = _fits_there(beats, bar.beats, limit)
        return Off(
            stem=stem, beats=beats, shift_beats=bar.beats, saying_so=bar.on_first, bar=bar,
            sure=both and not bar.ahead,
        )  # fmt: skip
    if beats is None or not in_key:
        return None
    return (
        _by_its_fits(stem, song, show, beats, limit)
        or _by_one_bar(stem, song, beats, limit)
        or _by_habit(stem, song, show, beats, limit)
    )


def _fits_there(beats: Beats | None, beats_off: float, limit: Limit) -> bool:
    return beats is not None and beats.shift_beats == beats_off and beats.gain_by_state >= limit["gain"]


def _by_its_fits(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, beats: Beats, limit: Limit
) -> Off | None:
    """Off by the lag that fits best; unsure where a figure may be meant so, or one beat is hardly told."""
    figure = _kind_of_shift(stem, song, show, beats, limit)
    if figure is None:
        return None
    one_beat = abs(beats.shift_beats) == 1.0
    if one_beat and (
        _lies_between(stem, beats, limit)
        or _as_the_bar_says(stem, song, show, beats, limit)
        or is_nearer_its_place(stem, song, show, limit)
    ):
        return None
    hardly = one_beat and (
        beats.gain_by_state < limit["beat_by_state"] or not turns_beside(stem, beats.shift_beats, limit)
    )
    if hardly and beats.at_best < limit["faint"] and _fits_elsewhere_too(beats, limit):
        return None
    return Off(
        stem=stem, beats=beats, shift_beats=beats.shift_beats, saying_so=beats.saying_so,
        sure=not figure and not hardly,
    )  # fmt: skip


def _kind_of_shift(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, beats: Beats, limit: Limit
) -> bool | None:
    """Whether it would pass for a figure; None where it is not shifted. A figure that waits a beat may be
    meant so, but not where nobody of the role ever waits."""
    for figure in (False, True):
        if (not figure or strikes_as_never(stem, song, show, limit)) and is_shifted(
            beats,
            limit,
            role=stem.role,
            beat_length_s=beat_s(song.click),
            beats_a_bar=song.click.beats_a_bar if song.click is not None else None,
            figure=figure,
        ):
            return figure
    return None


def _by_one_bar(stem: StemEvidence, song: SongEvidence, beats: Beats, limit: Limit) -> Off | None:
    a_bar = song.click.beats_a_bar if song.click is not None else None
    one_bar = a_bar_off(beats, limit, a_bar or 4, role=stem.role)
    if one_bar is None:
        return None
    return Off(
        stem=stem, beats=beats, shift_beats=one_bar.shift_beats, saying_so=one_bar.saying_so, sure=False,
        one_bar=one_bar,
    )  # fmt: skip


def _by_habit(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, beats: Beats, limit: Limit
) -> Off | None:
    """Off by a beat from where its role's fits have their top in the show's other songs."""
    beside = beside_its_place(stem, song, show, limit) if limit.value <= 1.0 else None
    if (
        beside is None
        or keeps_the_bar(stem, song, beside.beats, beside.saying_so, limit)
        or turns_so_elsewhere(stem, song, show, beside.beats, limit)
    ):
        return None
    return Off(
        stem=stem, beats=beats, shift_beats=beside.beats, saying_so=beside.saying_so, beside=beside
    )  # fmt: skip


def _says_the_other_way(beats: Beats | None, beats_off: float, limit: Limit) -> bool:
    """Whether the others' harmony surely says late where the bar says early, or early for late: a bass that
    plays the fifth on three turns on the fourth beat when it comes one late."""
    return (
        beats is not None
        and beats.shift_beats * beats_off < 0.0
        and beats.sure >= limit["sure"]
        and len(beats.saying_so) >= 2
        and not beats.against
    )


def _lies_between(stem: StemEvidence, beats: Beats, limit: Limit) -> bool:
    """Whether what is struck lies beside that beat by its fits too: a figure of its own."""
    place = beats.place if stem.role in STRUCK else None
    return place is not None and abs(place.at_beats - beats.shift_beats) > limit["beside_early"]


def _fits_elsewhere_too(beats: Beats, limit: Limit) -> bool:
    """Whether another lag fits as well: one chord all through fits wherever its strokes fall alike."""
    return beats.at_second >= limit["as_good"] * beats.at_best


def _as_the_bar_says(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, beats: Beats, limit: Limit
) -> bool:
    """Whether a stem that fits better a beat beside keeps the bar, or lies where its role does elsewhere."""
    return keeps_the_bar(stem, song, beats.shift_beats, beats.saying_so, limit) or turns_so_elsewhere(
        stem, song, show, beats.shift_beats, limit, plainly=True
    )
