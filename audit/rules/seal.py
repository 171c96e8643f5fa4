"""What has happened to the show since it was sealed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from audit.evidence import ShowEvidence
from audit.findings import Fact, Severity
from audit.results import ChangeKind, DeltaState, SealCheck, StemDelta
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.seal_words import changes_in_words
from audit.units import count

_NUMBER = re.compile(r"^\W*\d+[\W_]+")
"""`07 - ` in front of a song's name."""

NO_SEAL = NotApplicable(reason="no seal to compare with")

_HASHED = "Size and time, a hash of all the file's bytes and one of its decoded samples"
_SKETCH = (
    "what was done is told from the seal's sketch of the stem: a hash, the highest sample and the level of "
    "every quarter second"
)

COPY_AGAIN = "Copy it again from where it is whole, and verify the copy again."

UNTOLD = "other audio (`stemaudit verify` with the show's folder tells what was done)"

ROT = frozenset(
    {ChangeKind.METADATA, ChangeKind.DIFFERS, ChangeKind.SAMPLE, ChangeKind.MUTED, ChangeKind.UNREADABLE,
     ChangeKind.OTHER, ChangeKind.LENGTH, ChangeKind.SILENT, ChangeKind.DAMAGED, ChangeKind.BROKEN_OFF}
)  # fmt: skip
"""What a disk can do to a stem. It does not turn one up, or exchange its sides."""


def _hits(seal: SealCheck, *states: DeltaState) -> Iterator[tuple[StemDelta, Hit]]:
    for delta in seal.deltas:
        if delta.state not in states:
            continue
        first = delta.changes[0] if delta.changes else None
        facts: dict[str, Fact] = {
            "path": delta.path,
            "was": delta.was,
            "same_as": delta.same_as,
            "sealed_at": seal.sealed_at,
            "how": changes_in_words(delta.changes) or UNTOLD,
            "changes": tuple(change.kind.value for change in delta.changes),
            "frames": next((change.frames for change in delta.changes if change.frames is not None), None),
            "gain_db": next((c.value for c in delta.changes if c.kind is ChangeKind.GAIN), None),
        }
        at_s = next((change.from_s for change in delta.changes if change.from_s is not None), None)
        yield delta, Hit(songs=(delta.song,), stem=delta.stem, at_s=at_s if first else None, facts=facts)


@rule(
    id="changed-since-seal",
    family="seal",
    severity=Severity.ERROR,
    scope="show",
    message="not as it was sealed: {how}",
    cure="If this is the bounce you want, listen to the song and seal it anew (stemaudit seal with --song). "
    "If not, fetch the sealed one from the copy that still has it.",
    again=None,
    means="A stem's file is not the one that was sealed. An error where its audio differs, a note where "
    "only metadata or the container do.",
    on_stage="The song that was rehearsed is not the one that plays.",
    measured=_HASHED + "; " + _SKETCH + ".",
    source="own judgement; xxh3_128 (the xxHash specification)",
)
def changed_since_seal(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if show.seal is None:
        yield NO_SEAL
        return
    for delta, hit in _hits(show.seal, DeltaState.CHANGED):
        if not delta.audio_differs:
            yield _harmless(hit)
            continue
        if delta.was is not None:
            hit = replace(hit, message="was {was} when it was sealed, and is not as it was: {how}")
        yield replace(hit, cure=COPY_AGAIN) if _is_bad_copy(delta) else hit


def _is_bad_copy(delta: StemDelta) -> bool:
    """Nobody bounces a stem in which a few samples differ, or that has lost its end."""
    kinds = {change.kind for change in delta.changes}
    lone = bool(kinds) and kinds <= {ChangeKind.SAMPLE, ChangeKind.METADATA}
    return lone or not kinds.isdisjoint({ChangeKind.BROKEN_OFF, ChangeKind.DAMAGED})


@rule(
    id="decayed-since-seal",
    family="seal",
    severity=Severity.ERROR,
    scope="show",
    message="same size and time as sealed, other content: {how}",
    cure="Copy the stem again from a machine or drive where the seal holds, and do not trust this disk: "
    "check it, and the rest of what lies on it.",
    again=None,
    means="The file has the size and the time it had when the show was sealed, and other bytes: nobody "
    "saved it, the disk, the cable or the memory changed it. An error in the audio, a note outside it.",
    on_stage="A click, a burst of noise, a stem that does not open; and more to come from that disk.",
    measured=_HASHED + ". Times count as the same within 2 s and beside whole quarters of an hour, as FAT "
    "drives and other time zones shift them.",
    source="own judgement; Microsoft, FAT32 File System Specification, 2000 (steps of 2 s)",
)
def decayed_since_seal(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if show.seal is None:
        yield NO_SEAL
        return
    for delta, hit in _hits(show.seal, DeltaState.DECAYED):
        if not delta.audio_differs:
            yield _harmless(hit)
        elif all(change.kind in ROT for change in delta.changes):
            yield hit
        else:
            yield replace(
                hit,
                cure="A disk hardly does that: a program saved the stem and left its time as it was. Listen "
                "to it, and fetch the sealed one from another copy if it is not the bounce you want.",
            )


@rule(
    id="missing-since-seal",
    family="seal",
    severity=Severity.ERROR,
    scope="show",
    message="sealed, and no longer there",
    cure="Copy it back from a machine or drive that has it. If it is meant to be gone, seal the show again.",
    again=None,
    means="A stem of the seal is not in the folder, or in another song's. A warning where the same audio "
    "lies in its song under another name or all of a song's folder was renamed, a note where only the "
    "folder's number is another.",
    on_stage="The player shows a missing file, and the song plays without it.",
    measured="Names, whatever their Unicode form, letter case and separators, and with the letters that "
    "other file systems put in place of those they refuse; then the hashes of all bytes and of the decoded "
    "samples.",
    source="own judgement",
)
def missing_since_seal(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if show.seal is None:
        yield NO_SEAL
        return
    gone = dict(show.seal.songs_gone)
    for delta, hit in _hits(show.seal, DeltaState.MISSING):
        if delta.song not in gone:
            yield hit
    for song, stems in gone.items():
        yield Hit(
            songs=(song,),
            message="the whole song is no longer there; it was sealed with {words}",
            facts={"stems": stems, "words": count(stems, "stem"), "sealed_at": show.seal.sealed_at},
        )
    renamed = dict(show.seal.songs_moved)
    of_folder: dict[str, list[StemDelta]] = {}
    for delta, hit in _hits(show.seal, DeltaState.MOVED):
        folder = (delta.was or "").rpartition("/")[0]
        if delta.was_song is not None:
            yield _lost(delta, hit)
        elif folder not in renamed:
            yield _moved(delta, hit)
        else:
            of_folder.setdefault(folder, []).append(delta)
    for folder, deltas in of_folder.items():
        yield _renamed(folder, renamed[folder], deltas, show.seal.sealed_at)


def _renamed(was: str, now: str, deltas: Sequence[StemDelta], sealed_at: str) -> Hit:
    """A song's whole folder, told once. Another number is another place in the set list, and no more."""
    others = [delta for delta in deltas if _file(delta.was or "") != _file(delta.path)]
    facts: dict[str, Fact] = {"was": was, "renamed_stems": len(others), "sealed_at": sealed_at}
    message = "was called {was} when it was sealed"
    if others:
        facts |= {"number": count(len(others), "stem"), "first": others[0].path.rpartition("/")[2],
                  "first_was": (others[0].was or "").rpartition("/")[2]}  # fmt: skip
        more = ", the first" if len(others) > 1 else ""
        message += "; {number} under another name" + more + ": {first}, was {first_was}"
    if not others and _title(was) == _title(now):
        return Hit(
            songs=(deltas[0].song,), severity=Severity.NOTE, message=message, facts=facts,
            cure="Nothing, if the player finds it under its new number. Seal the show again to have it known "
            "so.",
        )  # fmt: skip
    return Hit(
        songs=(deltas[0].song,), severity=Severity.WARNING, message=message, facts=facts,
        cure="The audio is the same. If the player or the set list looks for it under its old name, name it "
        "so again; else seal the show again.",
    )  # fmt: skip


def _file(path: str) -> str:
    return path.rpartition("/")[2].casefold()


def _title(folder: str) -> str:
    """A song's folder without its number."""
    return _NUMBER.sub("", _file(folder))


def _moved(delta: StemDelta, hit: Hit) -> Hit:
    return replace(
        hit, severity=Severity.WARNING,
        message="was {was} when it was sealed; " + ("{how}" if delta.changes else "the audio is the same"),
        cure="If the player looks for it under its old name, name it so again; else seal the show again.",
    )  # fmt: skip


def _lost(delta: StemDelta, hit: Hit) -> Hit:
    """The song plays without it, wherever it lies now."""
    assert delta.was_song is not None
    song, stem = delta.was_song, (delta.was or "").rpartition("/")[2]
    return replace(
        hit, songs=(song,), stem=stem,
        message="is no longer in this song: it lies in another one, as {path}",
        cure="Move it back. If it is meant to be there, seal the show again.",
    )  # fmt: skip


def _harmless(hit: Hit) -> Hit:
    return replace(
        hit, severity=Severity.NOTE,
        cure="Nothing: it sounds the same to the bit. Seal the show again if it is meant to be so.",
    )  # fmt: skip


@rule(
    id="new-since-seal",
    family="seal",
    severity=Severity.NOTE,
    scope="show",
    message="not there when the show was sealed",
    cure="Listen to it with its song, and seal the show again.",
    again=None,
    means="A stem that the seal does not know.",
    on_stage="Nothing by itself; nobody has rehearsed with it yet.",
    measured="Names, as for missing-since-seal; a renamed stem is none. A hash tells one that holds the "
    "audio of a sealed stem.",
    source="own judgement",
)
def new_since_seal(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if show.seal is None:
        yield NO_SEAL
        return
    for delta, hit in _hits(show.seal, DeltaState.NEW):
        yield (
            hit
            if delta.same_as is None
            else replace(hit, message="not there when the show was sealed; the same audio as {same_as}")
        )


RULES = (changed_since_seal, decayed_since_seal, missing_since_seal, new_since_seal)
