"""Waivers: findings that somebody has looked at are marked; those that fit nothing are told."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date

from audit.findings import Finding, ShowAudit
from audit.settings.model import Waiver
from audit.settings.naming import fits_song
from audit.settings.patterns import fits, stem_names

EVERY = "*"


def waive(
    audit: ShowAudit, waivers: Sequence[Waiver], today: date | None
) -> tuple[ShowAudit, tuple[Waiver, ...]]:
    """The audit with every finding marked that a waiver fits, and the waivers that marked nothing.

    A waiver holds until the end of its last day; `today` None: none has run out. A finding that names several
    songs is waived only where the waiver fits all of them. Of several waivers the first one's reason is told.
    """
    if not waivers:
        return audit, ()
    names = {song.evidence.name: song.evidence.names for song in audit.songs}
    used: set[int] = set()

    def marked(finding: Finding) -> Finding:
        for number, waiver in enumerate(waivers):
            if _holds(waiver, today) and _covers(waiver, finding, names):
                used.add(number)
                return replace(finding, waived=_words(waiver))
        return finding

    songs = tuple(replace(song, findings=tuple(map(marked, song.findings))) for song in audit.songs)
    waived = replace(audit, songs=songs, show_findings=tuple(map(marked, audit.show_findings)))
    return waived, tuple(waiver for number, waiver in enumerate(waivers) if number not in used)


def still_needed(audit: ShowAudit, waivers: Sequence[Waiver]) -> tuple[Waiver, ...]:
    """Those of waivers that have run out whose fault is still there: it fits them, and no other waiver marks
    it."""
    names = {song.evidence.name: song.evidence.names for song in audit.songs}
    open_ones = [finding for finding in audit.all_findings() if finding.waived is None]
    return tuple(
        waiver for waiver in waivers if any(_covers(waiver, finding, names) for finding in open_ones)
    )


def _holds(waiver: Waiver, today: date | None) -> bool:
    return waiver.until is None or today is None or today <= waiver.until


def _covers(waiver: Waiver, finding: Finding, names: Mapping[str, Collection[str]]) -> bool:
    if waiver.rule != finding.rule:
        return False
    if waiver.song != EVERY and not (
        finding.songs and all(fits_song((waiver.song,), names.get(song, (song,))) for song in finding.songs)
    ):
        return False
    return waiver.stem == EVERY or (finding.stem is not None and fits(waiver.stem, stem_names(finding.stem)))


def _words(waiver: Waiver) -> Mapping[str, str | None]:
    return {"reason": waiver.reason, "until": waiver.until.isoformat() if waiver.until else None}
