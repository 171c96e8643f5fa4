"""The answer in words: of the show in one sentence, of a song in one or two words."""

from __future__ import annotations

from audit.findings import Severity, ShowAudit, SongAudit, Verdict
from audit.units import count


def show_answer(audit: ShowAudit, asked: str | None = None, threshold: Severity | None = None) -> str:
    """May this show go on stage? The answer in a few words.

    asked: what the scan was restricted to ("3 of 45 rules"), None for everything: a part never says "ready".
    threshold: the least severity that somebody asked to count; where it is a note, a note is not "ready".
    """
    if not any(song.evidence.stems for song in audit.songs):
        return "Nothing was checked"
    if audit.total(Severity.ERROR):
        return "Not ready"
    if audit.incomplete:
        return "Could not check everything"
    if audit.total(Severity.WARNING) or audit.exceeds(threshold):
        return "Have a look first"
    return "Nothing found by what was asked" if asked else "Ready"


def show_verdict(audit: ShowAudit, asked: str | None = None, threshold: Severity | None = None) -> str:
    """The answer and why, in one sentence."""
    return f"{show_answer(audit, asked, threshold)}: {_why(audit, threshold)}."


def _why(audit: ShowAudit, threshold: Severity | None) -> str:
    errors, warnings = audit.total(Severity.ERROR), audit.total(Severity.WARNING)
    rest = f", {count(warnings, 'warning')}" if warnings else ""
    unheard = unheard_words(audit)
    stems = sum(len(song.evidence.stems) for song in audit.songs)
    if not stems:
        return "there is no stem here"
    if errors:
        besides = f". Could not check {unheard}" if unheard else ""
        return f"{count(errors, 'error')}{_where(audit, Severity.ERROR)}{rest}{besides}"
    if unheard:
        return f"{unheard} not fully checked{rest or ', no fault elsewhere'}"
    if warnings:
        return f"{count(warnings, 'warning')}{_where(audit, Severity.WARNING)}, no errors"
    if audit.exceeds(threshold):
        return f"{count(audit.total(Severity.NOTE), 'note')}, no errors or warnings"
    return f"no fault in {count(len(audit.songs), 'song')}, {count(stems, 'stem')}"


def night_answer(audit: ShowAudit, asked: str | None = None) -> str:
    """The answer for the set list's songs alone, and for what is said of the show as a whole; without a set
    list that of the show. asked: as for `show_answer`."""
    if audit.evidence.order is None:
        return show_answer(audit, asked)
    verdict = night_verdict(audit)
    if verdict is Verdict.CLEAR and asked:
        return "Nothing found by what was asked"
    return {
        None: "Nothing was checked",
        Verdict.ERROR: "Not ready",
        Verdict.INCOMPLETE: "Could not check everything",
        Verdict.WARNING: "Have a look first",
        Verdict.CLEAR: "Ready",
    }[verdict]


def night_verdict(audit: ShowAudit) -> Verdict | None:
    """The same as a verdict; None without a set list, and where none of its songs has a stem here."""
    order = audit.evidence.order
    here = {place.song for place in order.places if place.song is not None} if order is not None else ()
    if order is None or not any(s.evidence.stems for s in audit.songs if s.evidence.name in here):
        return None
    verdicts = {audit.verdict(song) for song in audit.songs if song.evidence.name in here}
    of_all = {f.severity for f in audit.show_findings if f.waived is None and not f.songs}
    if order.missing or Verdict.ERROR in verdicts or Severity.ERROR in of_all:
        return Verdict.ERROR
    if Verdict.INCOMPLETE in verdicts:
        return Verdict.INCOMPLETE
    look = Verdict.WARNING in verdicts or Severity.WARNING in of_all
    return Verdict.WARNING if look else Verdict.CLEAR


def tonights_songs(audit: ShowAudit) -> frozenset[str]:
    """The songs on the disk that the night's set list names; none without one."""
    order = audit.evidence.order
    return frozenset(order.songs) if order is not None else frozenset()


def set_verdict(audit: ShowAudit, asked: str | None = None) -> str:
    """The answer for the night's set list and why, in one sentence, as the fault may be in a song that is not
    in it; "" without a set list."""
    order = audit.evidence.order
    if order is None:
        return ""
    here = tonights_songs(audit)
    verdicts = [audit.verdict(song) for song in audit.songs if song.evidence.name in here]
    missing = len({place.name for place in order.places if place.song is None})
    numbers = (
        (verdicts.count(Verdict.ERROR), "with errors"),
        (missing, "not on disk"),
        (verdicts.count(Verdict.INCOMPLETE), "not fully checked"),
        (verdicts.count(Verdict.WARNING), "with warnings"),
    )
    why = ", ".join(f"{number} {what}" for number, what in numbers if number)
    songs = count(len(here) + missing, "song")
    answer = night_answer(audit, asked)
    return f"{answer} for set list {order.set_list.name}, {songs}{f': {why}' if why else ''}."


def song_verdict(audit: ShowAudit, song: SongAudit) -> str:
    """The song's verdict with its number: `2 errors`, `incomplete`, `1 warning`, `clear`."""
    verdict = audit.verdict(song)
    if verdict is Verdict.ERROR:
        return count(_number(audit, song, Severity.ERROR), "error")
    if verdict is Verdict.WARNING:
        return count(_number(audit, song, Severity.WARNING), "warning")
    return str(verdict.value)


def unheard_stems(song: SongAudit) -> list[str | None]:
    """The stems of this song with an unanswered question, each once; None for the song as a whole."""
    return list(dict.fromkeys(entry.stem for entry in song.unmeasured))


def unheard_words(audit: ShowAudit) -> str:
    """`2 stems`, `1 stem and 1 song`; empty where every question was answered."""
    about = [stem for song in audit.songs for stem in unheard_stems(song)]
    stems, songs = sum(stem is not None for stem in about), sum(stem is None for stem in about)
    counted = ((stems, "stem"), (songs, "song"), (len(audit.unread), "path"))
    words = [count(number, noun) for number, noun in counted if number]
    return " and ".join(words)


def _number(audit: ShowAudit, song: SongAudit, severity: Severity) -> int:
    return sum(f.severity is severity and f.waived is None for f in audit.findings_of(song))


def _where(audit: ShowAudit, severity: Severity) -> str:
    """` in 2 of 8 songs`; empty for a single song, and for faults that name no song."""
    concerned = sum(_number(audit, song, severity) > 0 for song in audit.songs)
    if not concerned or len(audit.songs) == 1:
        return ""
    if concerned == len(audit.songs):
        return f" in all {concerned} songs"
    return f" in {concerned} of {len(audit.songs)} songs"
