"""Two copies of a show laid against each other, for the terminal and as JSON."""

from __future__ import annotations

from typing import Protocol

from rich.console import Console

from audit.report.json_text import json_text
from audit.report.page import Page
from audit.report.seal_report import SCHEMA, delta_json
from audit.results import ChangeKind, DeltaState, StemDelta, Suspect
from audit.rules.seal_words import changes_in_words
from audit.units import count


class Differences(Protocol):
    """What a comparison found; see audit.pipeline.sealed.verifying."""

    @property
    def deltas(self) -> tuple[StemDelta, ...]: ...

    @property
    def stems(self) -> int: ...

    @property
    def not_read(self) -> int: ...

    @property
    def could_not_read(self) -> tuple[tuple[str, str], ...]: ...

    @property
    def songs_moved(self) -> tuple[tuple[str, str], ...]: ...

    @property
    def songs_gone(self) -> tuple[tuple[str, int], ...]: ...


HEADINGS = {
    DeltaState.MISSING: "Only in A",
    DeltaState.NEW: "Only in B",
    DeltaState.MOVED: "Under another name in B, with the same audio",
    DeltaState.CHANGED: "Different in B",
    DeltaState.DECAYED: "Same size and time, other content: one of the two has rotted",
}


UNTOLD = "nothing shows which of the two is right"


def is_different(found: Differences) -> bool:
    """Whether anything but metadata differs. Names that only another system spells otherwise do not."""
    return any(delta.audio_differs or delta.state is DeltaState.MOVED for delta in found.deltas)


def print_comparison(found: Differences, first: str, second: str, console: Console, *, quick: bool) -> None:
    """The answer, then what differs, kind by kind."""
    page = Page(console)
    page.put((answer(found), "bold"))
    page.put(f"A: {first}", indent=2)
    page.put(f"B: {second}", indent=2)
    for heading, lines in _listed(found).items():
        page.blank()
        page.put((heading, "bold"))
        for words in lines:
            page.put(words, indent=2)
    if any(delta.suspect is not None and delta.suspect.of_old is None for delta in found.deltas):
        page.blank()
        page.put(
            ("A seal made while all was well would tell which of the two is right: stemaudit seal.", "dim")
        )
    notes = [delta for delta in found.deltas if not _counts(delta)]
    if notes:
        page.blank()
        page.put(("Notes", "bold"), (": the audio is the same to the bit", "dim"))
        for delta in notes:
            page.put(f"{delta.path}: {changes_in_words(delta.changes)}", indent=2)
    if found.could_not_read:
        page.blank()
        page.put(("Could not be compared", "bold"))
        for path, reason in found.could_not_read:
            page.put(f"{path}: {reason}", indent=2)
    if quick:
        page.blank()
        page.put(
            f"Not read, as name, size and time are the same: {count(found.not_read, 'stem')}. Rot leaves "
            "size and time alone: without --quick every file is read."
        )
    page.print()


def answer(found: Differences) -> str:
    """The verdict in one line."""
    stems = sum(_counts(delta) for delta in found.deltas)
    if stems:
        lines = sum(len(lines) for lines in _listed(found).values())
        behind = f" ({count(stems, 'stem')})" if lines != stems else ""  # a song's folder is one line
        return f"Not the same: {count(lines, 'difference')}{behind} over {count(found.stems, 'stem')} of A."
    if found.could_not_read:
        return f"Not all could be compared: {count(len(found.could_not_read), 'stem')} could not be read."
    if found.stems and found.not_read == found.stems:
        return f"The same by names, sizes and times: {count(found.stems, 'stem')}, none of them read."
    return f"The same: {count(found.stems, 'stem')}."


def compare_json(found: Differences, first: str, second: str, *, quick: bool) -> str:
    """Everything, for scripts: keys in a fixed order, newline at the end."""
    document = {
        "schema": SCHEMA,
        "a": first,
        "b": second,
        "quick": quick,
        "same": not is_different(found) and not found.could_not_read,
        "stems": found.stems,
        "differences": [{**delta_json(delta), "damaged": _side(delta)} for delta in found.deltas],
        "songs_renamed": [{"was": was, "is": now} for was, now in found.songs_moved],
        "not_read": found.not_read,
        "could_not_read": [{"path": path, "reason": reason} for path, reason in found.could_not_read],
    }
    return json_text(document)


def _side(delta: StemDelta) -> str | None:
    if delta.suspect is None or delta.suspect.of_old is None:
        return None
    return "a" if delta.suspect.of_old else "b"


def _counts(delta: StemDelta) -> bool:
    return delta.audio_differs or delta.state is DeltaState.MOVED


def _listed(found: Differences) -> dict[str, list[str]]:
    """The lines under each heading; what is said of a whole song stands once."""
    renamed, gone = dict(found.songs_moved), dict(found.songs_gone)
    lines: dict[str, list[str]] = {}
    for state, heading in HEADINGS.items():
        words = [_line(one, renamed, gone) for one in found.deltas if one.state is state and _counts(one)]
        if words:
            lines[heading] = list(dict.fromkeys(words))
    return lines


def _line(delta: StemDelta, renamed: dict[str, str], gone: dict[str, int]) -> str:
    if delta.state is DeltaState.MISSING and delta.song in gone:
        return f"{delta.song}: the whole song, {count(gone[delta.song], 'stem')}"
    if delta.state is DeltaState.MOVED and delta.was_song is None:
        folder, _, file = (delta.was or "").rpartition("/")
        if folder in renamed and file.casefold() == delta.path.rpartition("/")[2].casefold():
            return f"{folder} → {renamed[folder]}"
    what = f"{delta.was} → {delta.path}" if delta.was is not None else delta.path
    words = changes_in_words(delta.changes)
    if delta.same_as is not None:
        words = f"the same audio as {delta.same_as} in A"
    elif delta.was_song is not None:
        words = f"{delta.was_song} has lost it"
    elif delta.suspect is not None:
        words = _of_side(words, delta.suspect, {change.kind for change in delta.changes})
    return f"{what}: {words}" if words else what


def _of_side(words: str, suspect: Suspect, kinds: set[ChangeKind]) -> str:
    """Which of the two is the damaged one, or that nobody can tell."""
    if suspect.of_old is None:
        return f"{words}; {UNTOLD}"
    side = "A" if suspect.of_old else "B"
    if kinds & {ChangeKind.BROKEN_OFF, ChangeKind.DAMAGED}:
        return f"{side} is {words}"
    if kinds & {ChangeKind.UNREADABLE, ChangeKind.SOUNDS}:
        return f"{side} cannot be decoded: {suspect.why}"
    return f"{words}; {side} looks damaged: {suspect.why}"
