"""The report on the terminal: the answer, the songs, faults and cures, what nobody could check, totals."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from audit.findings import Finding, Severity, ShowAudit, SongAudit, Verdict
from audit.report.click_table import put_clicks
from audit.report.faults import place, put_faults
from audit.report.first import MOST_THINGS, Thing, fix_first, worst_fault
from audit.report.grouping import group_unmeasured, not_compared
from audit.report.load_section import put_load
from audit.report.outputs import put_outputs
from audit.report.page import Cell, Page, right
from audit.report.set_table import put_set
from audit.report.small_print import put_small_print
from audit.report.timecode_table import put_timecode
from audit.report.verdict import (
    night_verdict,
    set_verdict,
    show_answer,
    show_verdict,
    song_verdict,
    unheard_stems,
    unheard_words,
)
from audit.report.words import listed, signed, span
from audit.units import clock, count

VERDICT_STYLE = {
    Verdict.ERROR: "bold red",
    Verdict.INCOMPLETE: "bold",
    Verdict.WARNING: "bold",
    Verdict.CLEAR: "",
}


def print_report(
    audit: ShowAudit,
    console: Console,
    *,
    verbose: bool = False,
    asked: str | None = None,
    threshold: Severity | None = None,
) -> None:
    """The whole report. asked: what the scan was restricted to ("3 of 45 rules"), None for everything.

    threshold: the least severity that counts for the exit code, so that words and code agree.
    """
    page = Page(console)
    _put_verdict(page, audit, asked, threshold)
    if not_compared(audit):
        page.put((not_compared(audit), "dim"))
    _put_songs(page, audit)
    if verbose:
        put_clicks(page, audit)
    put_timecode(page, audit)
    put_load(page, audit)
    if verbose:
        put_outputs(page, audit)
    put_set(page, audit, verbose=verbose)
    found = put_faults(page, audit, (Severity.ERROR, Severity.WARNING), every_place=verbose)
    _put_unmeasured(page, audit, verbose)
    _put_notes(page, audit, verbose)
    _put_waived(page, audit)
    put_small_print(page, audit, verbose=verbose, whole=not asked)
    _put_first(page, audit)
    _put_totals(page, audit, found, asked, threshold)
    page.print()


def print_brief(
    audit: ShowAudit, console: Console, *, threshold: Severity | None, asked: str | None = None
) -> None:
    """For scripts: the verdict, the faults at or above `threshold` (None: none of them), the unanswered."""
    page = Page(console)
    _put_verdict(page, audit, asked, threshold)
    wanted = [severity for severity in Severity if threshold and severity.rank <= threshold.rank]
    put_faults(page, audit, wanted, every_place=False)
    _put_unmeasured(page, audit, verbose=False)
    page.print()


def _put_verdict(page: Page, audit: ShowAudit, asked: str | None, threshold: Severity | None) -> None:
    of_all = show_verdict(audit, asked, threshold)
    if tonight := set_verdict(audit, asked):
        page.put((tonight, "bold"))
        page.put(f"The whole show: {of_all[0].lower()}{of_all[1:]}")
    else:
        page.put((of_all, "bold"))
    if asked:
        page.put((f"Only part of the audit ran: {asked}.", "dim"))


def _put_songs(page: Page, audit: ShowAudit) -> None:
    if not audit.songs:
        return
    page.blank()
    lengths = right(["Length", *(clock(song.evidence.duration_s, millis=False) for song in audit.songs)])
    stems = right(["Stems", *(str(len(song.evidence.stems)) for song in audit.songs)])
    levels = right(["LUFS", *(_loudness_words(song) for song in audit.songs)])
    worst = [_worst_cell(audit, song) for song in audit.songs]
    header = ["Song", lengths[0], stems[0], levels[0], "Verdict", "Worst fault"]
    rows = [
        [
            Cell(words=song.evidence.name),
            Cell(words=lengths[line]),
            Cell(words=stems[line]),
            Cell(words=levels[line]),
            Cell(words=song_verdict(audit, song), style=VERDICT_STYLE[audit.verdict(song)]),
            worst[line - 1],
        ]
        for line, song in enumerate(audit.songs, start=1)
    ]
    if not any(cell.words for cell in worst):
        header, rows = header[:-1], [row[:-1] for row in rows]
    page.table(header, rows, shrink=(0, 5) if len(header) == 6 else (0,))


def _loudness_words(song: SongAudit) -> str:
    mix = song.evidence.mix
    level = mix.loudness.integrated_lufs if mix else None
    return "–" if level is None else signed(level)


def _worst_cell(audit: ShowAudit, song: SongAudit) -> Cell:
    fault = worst_fault(audit, song)
    unheard = unheard_stems(song)
    if fault is None and not song.evidence.stems:
        return Cell(words="no stem in it")
    if fault is None:
        return Cell(words=f"not checked: {unheard[0] or 'the whole song'}" if unheard else "", short=None)
    if fault.stem is None:
        return Cell(words=fault.rule)
    return Cell(words=f"{fault.rule} in {fault.stem}", short=fault.rule)


def _put_unmeasured(page: Page, audit: ShowAudit, verbose: bool) -> None:
    songs = [song for song in audit.songs if song.unmeasured]
    if not songs and not audit.unread:
        return
    page.blank()
    page.put(("Could not be checked", "bold"))
    for entry in audit.unread:
        page.put(f"{entry.path}: {entry.reason}", indent=2)
    for song in songs:
        for gap in group_unmeasured(song):
            which = f" (not answered: {listed(gap.rules)})" if verbose or len(gap.rules) <= 2 else ""
            where = ", ".join(word for word in (song.evidence.name, gap.stem) if word)
            page.put(f"{where}: {gap.reason}{which}", indent=2)


def _put_notes(page: Page, audit: ShowAudit, verbose: bool) -> None:
    """One entry a rule: its only note, or how many there are and the first; all of them where `verbose`."""
    notes = [f for f in audit.all_findings() if f.severity is Severity.NOTE and f.waived is None]
    if not notes:
        return
    page.blank()
    page.put(("Notes", "bold"), (": worth knowing, nothing that stops a show", "dim"))
    by_rule: dict[str, dict[tuple[tuple[str, ...], str], list[Finding]]] = {}
    for note in notes:
        by_rule.setdefault(note.rule, {}).setdefault((note.songs, note.message), []).append(note)
    hang = max(len(rule) for rule in by_rule) + 2
    for rule, groups in by_rule.items():
        lines = [_note_words(group) for group in groups.values()]
        if len(lines) > 1 and not verbose:
            lines = [f"{len(lines)} such notes (--verbose tells all), the first: {lines[0]}"]
        for number, words in enumerate(lines):
            page.put(words, label=rule if number == 0 else "", style="bold", indent=2, hang=hang)


def _put_waived(page: Page, audit: ShowAudit) -> None:
    """Every fault that a waiver of the settings covers, with its reason."""
    waived = [f for f in audit.all_findings() if f.waived is not None]
    if not waived:
        return
    page.blank()
    page.put(("Waived", "bold"), (": looked at and accepted, counted nowhere", "dim"))
    by_reason: dict[tuple[str, str, tuple[str, ...]], list[Finding]] = {}
    for finding in waived:
        said = finding.waived or {}
        until = f" (until {said['until']})" if said.get("until") else ""
        by_reason.setdefault((finding.rule, f"{said.get('reason')}{until}", finding.songs), []).append(
            finding
        )
    hang = max(len(rule) for rule, _, _ in by_reason) + 2
    for (rule, reason, songs), alike in by_reason.items():
        stems = dict.fromkeys(finding.stem for finding in alike if finding.stem)
        where = ", ".join([*songs, *stems]) or "the whole show"
        page.put(f"{where}: {reason}", label=rule, style="bold", indent=2, hang=hang)


def _note_words(alike: list[Finding]) -> str:
    stems = [note.stem for note in alike if note.stem]
    where = ", ".join([*alike[0].songs, *dict.fromkeys(stems)])
    return f"{where}: {alike[0].message}" if where else alike[0].message


def _put_first(page: Page, audit: ShowAudit) -> None:
    """What to begin with, where more stands above than a screen holds."""
    errors, warnings = audit.total(Severity.ERROR), audit.total(Severity.WARNING)
    if errors + warnings <= MOST_THINGS:
        return
    things = fix_first(audit)
    tonight = [thing for thing in things if not thing.not_tonight]
    later = [thing for thing in things if thing.not_tonight]
    page.blank()
    if tonight:
        page.put(("Fix these first", "bold"))
        _put_things(page, tonight)
    elif later and night_verdict(audit) is Verdict.CLEAR:
        page.put(("Nothing to fix for tonight", "bold"))
    if later:
        page.put(("Not tonight: in songs outside the set list", "" if tonight else "bold"))
        _put_things(page, later)


def _put_things(page: Page, things: Sequence[Thing]) -> None:
    for number, thing in enumerate(things, start=1):
        more = len(thing.findings) - 1
        where = place(thing.first, name_songs=True)
        words = f"{thing.first.rule} in {where}" if where else thing.first.rule
        page.put(f"{number}. {words}{f', and {more} more' if more else ''}", indent=2)


def _put_totals(
    page: Page, audit: ShowAudit, found: bool, asked: str | None, threshold: Severity | None
) -> None:
    page.blank()
    stems = sum(len(song.evidence.stems) for song in audit.songs)
    music = span(sum(song.evidence.duration_s for song in audit.songs))
    counts = [count(audit.total(severity), severity.value) for severity in Severity]
    waived = sum(finding.waived is not None for finding in audit.all_findings())
    unheard = unheard_words(audit)
    counts += [f"{waived} waived"] if waived else []
    counts += [f"{unheard} not fully checked"] if unheard else []
    # A long report has scrolled its first line away: the answer stands here once more.
    heard = f"{count(len(audit.songs), 'song')}, {count(stems, 'stem')}, {music} of music"
    answer = show_answer(audit, asked, threshold)
    if tonight := set_verdict(audit, asked):
        page.put((tonight, "bold"))
        answer = f"The whole show: {answer[0].lower()}{answer[1:]}"
    page.put((f"{answer}. ", "" if tonight else "bold"), f"{heard}: {', '.join(counts)}.")
    if found:
        rule = fix_first(audit)[0].first.rule
        page.put((f"What a fault means on stage: stemaudit explain {rule}", "dim"))
