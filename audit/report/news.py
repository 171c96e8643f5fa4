"""What a change in the folder has changed in the audit."""

from __future__ import annotations

from dataclasses import dataclass

from rich.console import Console

from audit.evidence import ShowEvidence
from audit.findings import Finding, Severity, ShowAudit, SongAudit
from audit.report.faults import SEVERITY_STYLE, place
from audit.report.hear_line import put_hear_line
from audit.report.page import Page
from audit.report.verdict import song_verdict
from audit.report.words import listed
from audit.units import clock, count

CELLS = 9


def print_news(before: ShowAudit, after: ShowAudit, console: Console) -> bool:
    """One paragraph for each song whose stems or findings differ; nothing where none does.

    True where there is an error that was not there before.
    """
    page = Page(console)
    was, now = _by_name(before), _by_name(after)
    renamed = _renamed(was, now)
    worse = _put_findings(page, after.evidence, _come(_of_show(before), _of_show(after)), "The whole show")
    for name in dict.fromkeys([*now, *was]):
        if name not in now:
            if name not in renamed.values():
                page.put((f"{name}: gone", "bold"))
            continue
        song, old_name = now[name], renamed.get(name, name)
        old = was.get(old_name)
        found = _come(_of_song(before, old), _of_song(after, song), frozenset(_stamps(song)))
        landed = _landed(old, song)
        if not (found.come or found.gone or landed or name in renamed):
            continue
        verdict = song_verdict(after, song)
        old_verdict = song_verdict(before, old) if old is not None else verdict
        what = [f"was called {old_name}"] if name in renamed else [] if old is not None else ["new"]
        page.put(
            (f"{name}: {verdict}", "bold"),
            f", was {old_verdict}" if old_verdict != verdict else "",
            f" ({', '.join([*what, *landed])})" if what or landed else "",
        )
        worse = _put_findings(page, after.evidence, found, None) or worse
    page.print()
    return worse


@dataclass(frozen=True, slots=True, kw_only=True)
class _Changes:
    """Findings that came, and those that went with what became of them."""

    come: list[Finding]
    gone: list[tuple[str, Finding]]  # "mended", "waived", "note now" or "gone"


def _where(finding: Finding) -> str:
    """Its stem, and the place unless its message names that."""
    told = finding.at_s is not None and clock(finding.at_s) in finding.message
    return (finding.stem or "") if told else place(finding, name_songs=False)


def _put_findings(page: Page, evidence: ShowEvidence, found: _Changes, heading: str | None) -> bool:
    if heading is not None and (found.come or found.gone):
        page.put((heading, "bold"))
    for finding in found.come:
        where, advice = _where(finding), finding.advice
        words = f"{finding.rule}{f' in {where}' if where else ''}: {finding.message}"
        style = SEVERITY_STYLE[finding.severity]
        page.put(words, label=finding.severity.value, style=style, indent=2, hang=CELLS)
        if finding.at_s is not None:  # it has been said by then
            advice = advice.replace(f"at {clock(finding.at_s)}", "there")
        page.put(("Cure: ", "dim"), advice, indent=2, hang=CELLS)
        put_hear_line(page, evidence, finding, indent=2 + CELLS)
    for label, finding in found.gone:
        where = f" in {finding.stem}" if finding.stem else ""
        page.put((f"{finding.rule}{where}", "dim"), label=label, style="dim", indent=2, hang=CELLS)
    return any(finding.severity is Severity.ERROR for finding in found.come)


def _by_name(audit: ShowAudit) -> dict[str, SongAudit]:
    return {song.evidence.name: song for song in audit.songs}


def _renamed(was: dict[str, SongAudit], now: dict[str, SongAudit]) -> dict[str, str]:
    """New names of songs whose folder was renamed: is -> was. The same stems, not written since."""
    gone = {name: _stamps(song) for name, song in was.items() if name not in now}
    found: dict[str, str] = {}
    for name, song in now.items():
        stamps = _stamps(song)
        old = next((other for other, old in gone.items() if old == stamps and stamps), None)
        if name not in was and old is not None:
            found[name] = old
            del gone[old]
    return found


def _stamps(song: SongAudit) -> dict[str, tuple[int, int]]:
    return {stem.file: (stem.size_bytes, stem.modified_ns) for stem in song.evidence.song.stems}


MOST_FILES = 6


def _landed(before: SongAudit | None, after: SongAudit) -> list[str]:
    """Stems that are new or hold something else, and those that went; of many the number."""
    if before is None:
        return [count(len(after.evidence.stems), "stem")]
    was, now = _stamps(before), _stamps(after)
    held, holds = _contents(before), _contents(after)
    written = [
        file
        for file, stamp in now.items()
        # Who touches a stem without writing it, or copies it over itself, has changed nothing.
        if was.get(file) != stamp
        and not (file in was and was[file][0] == stamp[0] and holds[file] == held[file] is not None)
    ]
    gone = [f"{file} gone" for file in was if file not in now]
    stayed = [file for file in now if file not in written]
    if len(written) > MOST_FILES or (len(written) > 2 and 2 * len(stayed) <= len(written)):
        # After an edit of the song, those that did not come again may be the forgotten ones.
        forgotten = f", all but {listed(stayed)}" if 0 < len(stayed) <= MOST_FILES else ""
        written = [f"{'' if stayed else 'all '}{count(len(written), 'stem')} landed{forgotten}"]
    return [*written, *(gone if len(gone) <= MOST_FILES else [f"{count(len(gone), 'stem')} gone"])]


def _contents(song: SongAudit) -> dict[str, tuple[str | None, int] | None]:
    """What tells one audio from another; None where nothing could be decoded."""
    return {
        stem.name: (stem.audio.content_hash, stem.audio.frames) if stem.audio is not None else None
        for stem in song.evidence.stems
    }


def _of_song(audit: ShowAudit, song: SongAudit | None) -> list[Finding]:
    return list(audit.findings_of(song)) if song is not None else []


def _of_show(audit: ShowAudit) -> list[Finding]:
    """What no song of the show is told of: a song that the set list names and nobody has."""
    here = {song.evidence.name for song in audit.songs}
    return [finding for finding in audit.show_findings if not here & set(finding.songs)]


def _come(old: list[Finding], new: list[Finding], stems: frozenset[str] | None = None) -> _Changes:
    """Told apart by rule, stem and severity, not by figures. Notes and what is waived are no news, but a
    fault that becomes one of them is not mended; nor is one whose stem went. stems: those that are here."""
    old, counting = _counting(old), _counting(new)
    come = [finding for finding in counting if _key(finding) not in {_key(f) for f in old}]
    gone = [finding for finding in old if _key(finding) not in {_key(f) for f in counting}]
    left = {
        (f.rule, f.stem): "waived" if f.waived is not None else "note now" for f in new if f not in counting
    }
    still = {(f.rule, f.stem) for f in counting}

    def became(finding: Finding) -> str:
        if stems is not None and finding.stem is not None and finding.stem not in stems:
            return "gone"
        return left.get((finding.rule, finding.stem), "mended")

    return _Changes(
        come=_once(come), gone=[(became(f), f) for f in _once(gone) if (f.rule, f.stem) not in still]
    )


def _counting(findings: list[Finding]) -> list[Finding]:
    return [f for f in findings if f.waived is None and f.severity is not Severity.NOTE]


def _key(finding: Finding) -> tuple[str, str | None, Severity]:
    return finding.rule, finding.stem, finding.severity


def _once(findings: list[Finding]) -> list[Finding]:
    return list({_key(finding): finding for finding in reversed(findings)}.values())[::-1]
