"""The small print of the terminal's report: what was taken for what, and what nobody looked at."""

from __future__ import annotations

from audit.findings import ShowAudit
from audit.report.grouping import (
    folders_set_aside,
    guessed_stems,
    left_out_of_mix,
    not_asked,
    reasons_passed_over,
    since_seal,
    stems_set_aside,
    timecode_named_as_music,
)
from audit.report.page import Page
from audit.report.untimed import timing_unknown, without_click
from audit.report.words import listed
from audit.units import count

NAMES_SHOWN = 8
"""Names in a list without --verbose."""

MOST_LEFT_OUT = 3
"""Stems that a loudness is without, each with its reason."""


def put_small_print(page: Page, audit: ShowAudit, *, verbose: bool, whole: bool) -> None:
    """verbose: every name and every file. whole: the scan was not restricted: what it did not ask is told of
    such a one only, as whoever restricts it knows."""
    page.blank()
    _put_roles(page, audit, verbose)
    _put_left_out(page, audit, verbose)
    if verbose:
        _put_every_file_passed_over(page, audit)
    else:
        _put_passed_over(page, audit)
    if seal := since_seal(audit):
        page.put((seal, "dim"))
    if whole:
        _put_not_asked(page, audit, verbose)
    if audit.not_applicable and verbose:
        rules = [f"{rule} {times}x" for rule, times in audit.not_applicable.items()]
        page.put((f"Nothing here to ask these rules about: {listed(rules)}.", "dim"))


def _put_roles(page: Page, audit: ShowAudit, verbose: bool) -> None:
    """Stems whose names tell another part than they hold, or none."""
    if code := timecode_named_as_music(audit):
        page.put(f"Sounds like timecode, named as music, and judged as timecode: {listed(code)}.")
    if guessed := guessed_stems(audit):
        names = [_with_songs(audit, name, songs) for name, songs in guessed.items()]
        why = "Guessed to be heard by the audience, as the name tells no part"
        page.put((f"{why}: {_some(names, verbose)}.", "dim"))


def _put_left_out(page: Page, audit: ShowAudit, verbose: bool) -> None:
    for left, songs in left_out_of_mix(audit).items():
        each = _some([f"{stem} ({why})" for stem, why in left], verbose, most=MOST_LEFT_OUT)
        whose = listed(songs) if verbose or len(songs) == 1 else f"{len(songs)} songs"
        page.put((f"Loudness of {whose} is without {each}.", "dim"))


def _put_every_file_passed_over(page: Page, audit: ShowAudit) -> None:
    passed = audit.evidence.show.passed_over
    if passed:
        page.put(("Passed over:", "dim"))
    for entry in passed:
        page.put((f"{entry.path}: {entry.reason}", "dim"), indent=2)


def _put_passed_over(page: Page, audit: ShowAudit) -> None:
    """In short: by name what holds audio, as somebody may miss it, and how many of the rest."""
    if aside := folders_set_aside(audit):
        page.put(f"Set aside with audio in it: {listed(aside)}.")
    for (song, why), files in stems_set_aside(audit).items():
        whose = f" of {song}" if song else ""
        page.put(f"Not audited: {_some(files, verbose=False)}{whose}: {why}.")
    if reasons := [f"{reason} ({n})" for reason, n in reasons_passed_over(audit)]:
        page.put((f"Passed over: {'; '.join(reasons)}.", "dim"))


def _put_not_asked(page: Page, audit: ShowAudit, verbose: bool) -> None:
    """What could not be asked: the settings lack what it takes, or a song does."""
    most = None if verbose else NAMES_SHOWN
    if line := not_asked(audit):
        page.put((line, "dim"))
    if line := without_click(audit, most):
        page.put(line)
    if line := timing_unknown(audit, most):
        page.put((line, "dim"))


def _with_songs(audit: ShowAudit, stem: str, songs: list[str]) -> str:
    if len(audit.songs) == 1:
        return stem
    return f"{stem} ({songs[0] if len(songs) == 1 else count(len(songs), 'song')})"


def _some(names: list[str], verbose: bool, most: int = NAMES_SHOWN) -> str:
    if verbose or len(names) <= most:
        return listed(names)
    return ", ".join(names[:most]) + f" and {len(names) - most} more"
