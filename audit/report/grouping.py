"""What is said once instead of many times: alike findings, the unanswered, what was passed over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from audit.facts import Role
from audit.findings import Finding, ShowAudit, SongAudit
from audit.units import count


@dataclass(frozen=True, slots=True, kw_only=True)
class Alike:
    """Findings of one rule and severity with the same cure, in the order in which they were found."""

    findings: tuple[Finding, ...]

    @property
    def first(self) -> Finding:
        return self.findings[0]

    @property
    def same_words(self) -> bool:
        """Whether they differ in nothing but the place."""
        return len({f.message for f in self.findings}) == 1


def group_alike(findings: Iterable[Finding]) -> list[Alike]:
    """Findings that one cure answers, as groups; a group stands where its first finding stood."""
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in findings:
        key = (finding.rule, finding.severity.value, finding.advice)
        groups.setdefault(key, []).append(finding)
    return [Alike(findings=tuple(group)) for group in groups.values()]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unheard:
    """A stem (None: the song as a whole) and the one reason why so many rules have no answer about it."""

    stem: str | None
    reason: str
    rules: tuple[str, ...]


def group_unmeasured(song: SongAudit) -> list[Unheard]:
    """The song's unanswered questions, one entry a stem and reason."""
    groups: dict[tuple[str | None, str], list[str]] = {}
    for entry in song.unmeasured:
        groups.setdefault((entry.stem, entry.reason), []).append(entry.rule)
    return [
        Unheard(stem=stem, reason=reason, rules=tuple(dict.fromkeys(rules)))
        for (stem, reason), rules in groups.items()
    ]


def guessed_stems(audit: ShowAudit) -> dict[str, list[str]]:
    """Names that say nothing of their part and are taken as heard by the audience -> the songs of each."""
    found: dict[str, list[str]] = {}
    for song in audit.songs:
        for stem in song.evidence.stems:
            if any(part.role_is_guess and part.audience for part in stem.parts):
                found.setdefault(stem.name, []).append(song.evidence.name)
    return found


def timecode_named_as_music(audit: ShowAudit) -> list[str]:
    """Stems whose name speaks of music while all of them is timecode; their song before them."""
    return [
        f"{song.evidence.name}, {stem.name}"
        for song in audit.songs
        for stem in song.evidence.stems
        if stem.parts
        and set(stem.roles) == {Role.TIMECODE}
        and stem.stem.is_heard(stem.stem.role)
        and not stem.stem.role_is_guess
        and not any(role is Role.TIMECODE for role in stem.stem.channel_roles)
    ]


def since_seal(audit: ShowAudit) -> str:
    """That all is as sealed, as far as a scan can see; "" where it is not (findings tell), or no seal."""
    seal = audit.evidence.seal
    if seal is None or seal.deltas or seal.songs_gone or audit.incomplete:
        return ""
    return (
        f"As sealed on {seal.sealed_at[:10]}, as far as a scan can see: {count(seal.stems, 'stem')} "
        "(stemaudit verify reads them all again)."
    )


def not_asked(audit: ShowAudit) -> str:
    """What no rule could ask as the settings name nothing to ask it of; empty where they do, or no song."""
    settings = audit.evidence.settings
    wanting = [
        (bool(settings.machines), "machine", "load"), (bool(settings.outputs), "patch", "outputs"),
    ]  # fmt: skip
    missing = [(name, what) for there, name, what in wanting if not there]
    if not missing or not audit.songs:
        return ""
    names = " and no ".join(name for name, _ in missing)
    whats = " and ".join(what for _, what in missing)
    return f"Not checked: {whats}, as the settings name no {names}."


def not_compared(audit: ShowAudit) -> str:
    """That the show's other songs were not asked for what they would tell; empty where they were."""
    if not audit.evidence.partial or not audit.songs:
        return ""
    alone = "Heard by itself" if len(audit.songs) == 1 else "Heard by themselves"
    return f"{alone}: missing stems, odd levels, shared timecode show only in a scan of the whole show."


def reasons_passed_over(audit: ShowAudit) -> list[tuple[str, int]]:
    """Why files were passed over and how many for each reason, most first; stems are told by name instead,
    and what could not be read is told where it says so."""
    passed_over = audit.evidence.show.passed_over
    told = (entry.reason for entry in passed_over if not (entry.stem or entry.packed or entry.unread))
    return Counter(told).most_common()


def folders_set_aside(audit: ShowAudit) -> list[str]:
    """Folders with audio in them that were not audited; one that many songs have is named once."""
    folders = {song.evidence.name: song.evidence.song.folder for song in audit.songs}
    inside: dict[str, list[str]] = {}
    for entry in audit.evidence.show.passed_over:
        if entry.holds_audio:
            song = folders.get(entry.song, ".") if entry.song else "."
            own = entry.path if song == "." else entry.path.removeprefix(f"{song}/")
            inside.setdefault(own, []).append(entry.path)
    return [f"{own} ({len(paths)} songs)" if len(paths) > 1 else paths[0] for own, paths in inside.items()]


def stems_set_aside(audit: ShowAudit) -> dict[tuple[str | None, str], list[str]]:
    """Stems' files that were not audited, and archives in which a song may be, by song (None: in no song) and
    reason."""
    stems: dict[tuple[str | None, str], list[str]] = {}
    for entry in audit.evidence.show.passed_over:
        if entry.stem or entry.packed:
            stems.setdefault((entry.song, entry.reason), []).append(entry.path.rsplit("/", 1)[-1])
    return stems


def left_out_of_mix(audit: ShowAudit) -> dict[tuple[tuple[str, str], ...], list[str]]:
    """What a loudness does not contain, silence apart: (stem, reason) pairs -> the songs alike in it."""
    songs: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for song in audit.songs:
        mix = song.evidence.mix
        left = tuple((stem, why) for stem, why in mix.left_out if why != "silent") if mix else ()
        if left:
            songs.setdefault(left, []).append(song.evidence.name)
    return songs
