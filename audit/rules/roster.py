"""Who is in the song: roles that are missing, parts that are there twice, a mix beside its parts."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import CREW_ROLES, Role, Stem
from audit.findings import Severity
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule

OLD_WORDS = frozenset(
    {"old", "alt", "alternate", "backup", "bak", "draft", "wip", "orig", "original", "previous"}
    | {"viejo", "ancien", "vecchio", "velho"}
)
"""Marks of what is not the current one ("alt" is old in German, the second choice in English)."""

COPY_WORDS = frozenset({"copy", "kopie", "copie", "copia", "cópia", "kopia", "kopi"})
NUMBERED = re.compile(r"\(?\d{1,3}\)?")


def song_roles(song: SongEvidence) -> frozenset[Role]:
    """The roles that the song has, part by part; by the names where a stem could not be read."""
    roles: set[Role] = set()
    for stem in song.stems:
        roles.update(stem.roles)
        if not stem.parts:
            roles.update(stem.stem.channel_roles)
    return frozenset(roles)


_SEVERAL_MISSING = "{missing}: {least:.0f} to {value:.0f} % of the other songs have them, limit {limit:.0f} %"


@rule(
    id="missing-role",
    family="files",
    severity=Severity.ERROR,
    scope="song",
    limit=Limit(value=80.0, unit="% of the other songs", more={"songs": 5}),
    message="{missing}: {value:.0f} % of the other songs have it, limit {limit:.0f} %",
    cure="If the song needs it, ask for the stem and bounce it from the same session as the rest. If the "
    "song is meant to be so, this note may stay.",
    means="A role that the settings require is missing. Without settings: a role that at least {limit:.0f} "
    "% of at least {songs:.0f} other songs have (warning for timecode, note otherwise).",
    on_stage="Lights and video stand still without timecode; a part nobody bounced is a part nobody hears.",
    measured="The roles of all stems and channels, song against song. A song that holds only click, guide "
    "or timecode is normal and is not asked for music; nor is one whose music is in a full mix or in stems "
    "of unknown role.",
    source="own judgement: what four of five songs have is the habit of the show",
)
def missing_role(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    others = [song_roles(other) for other in show.songs if other is not song and other.name != song.name]
    if len(others) < limit["songs"]:
        yield NotApplicable(reason=f"fewer than {limit['songs']:.0f} other songs to compare with")
        return
    own = song_roles(song)
    music = own - CREW_ROLES
    asked = set(Role) - {Role.OTHER, Role.FULL_MIX}
    if Role.FULL_MIX in own or music <= {Role.OTHER}:
        asked &= CREW_ROLES
    share = {role: 100.0 * sum(role in roles for roles in others) / len(others) for role in asked - own}
    missing = [role for role in Role if share.get(role, 0.0) >= limit.value]
    if not missing:
        return
    worst = Role.TIMECODE in missing and music
    usual = max(missing, key=lambda role: share[role])
    yield Hit(
        severity=Severity.WARNING if worst else Severity.NOTE,
        value=share[usual],
        message=None if len(missing) == 1 else _SEVERAL_MISSING,
        facts={
            "missing": ", ".join(f"no {role.value}" for role in missing),
            "roles": tuple(role.value for role in missing),
            "shares": tuple(share[role] for role in missing),
            "least": min(share[role] for role in missing),
        },
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What a version mark says of the order. `kind`: old < plain < (number | word, which do not "
    "compare)."""

    kind: str
    numbers: tuple[int, ...] = ()

    @property
    def tier(self) -> int:
        return {"old": 0, "plain": 1}.get(self.kind, 2)


def read_mark(version: str | None) -> Mark:
    """`v2` and `(1)` are numbers, `2025-03-14` a date, `FINAL` and `new` words, `old` is older than "
    "anything."""
    if not version:
        return Mark(kind="plain")
    words = re.findall(r"[^\W\d_]+", version.casefold())
    if OLD_WORDS & set(words):
        return Mark(kind="old")
    numbers = tuple(map(int, re.findall(r"\d+", version)))
    if COPY_WORDS & set(words) or NUMBERED.fullmatch(version):
        return Mark(kind="copy", numbers=numbers or (1,))
    if not numbers:
        return Mark(kind="word")
    if words:
        return Mark(kind="number", numbers=numbers)
    year_last = len(numbers) == 3 and numbers[-1] >= 2000
    return Mark(kind="date", numbers=numbers[::-1] if year_last else numbers)


def newest_by_mark(stems: Sequence[Stem]) -> Stem | None:
    """The one whose mark stands above all others'; None where the marks do not tell (`v2` beside "
    "`FINAL`)."""
    marks = [(read_mark(stem.version), stem) for stem in stems]
    top = max(mark.tier for mark, _ in marks)
    best = [(mark, stem) for mark, stem in marks if mark.tier == top]
    if len(best) == 1:
        return best[0][1]
    if len({mark.kind for mark, _ in best}) > 1:
        return None
    ranked = sorted(best, key=lambda item: item[0].numbers, reverse=True)
    return ranked[0][1] if ranked[0][0].numbers > ranked[1][0].numbers else None


def newest_by_date(stems: Sequence[Stem]) -> Stem | None:
    """The one that was saved last; None where two share the last date, as after a careless copy."""
    ranked = sorted(stems, key=lambda stem: stem.modified_ns, reverse=True)
    return ranked[0] if ranked[0].modified_ns > ranked[1].modified_ns else None


def _which_is_newer(stems: Sequence[Stem]) -> tuple[Stem | None, str]:
    by_mark, by_date = newest_by_mark(stems), newest_by_date(stems)
    if by_mark is None and by_date is None:
        return None, "which is newer cannot be told from marks or dates"
    if by_mark is None:
        return by_date, "by its date the newest is {newest}"
    if by_date is None or by_date is by_mark:
        return by_mark, "by its mark the newest is {newest}"
    return by_mark, "by its mark the newest is {newest}, though {saved_last} was saved later"


_VERSIONS = "plays together with {others}: the names differ only by a version mark; "


@rule(
    id="two-versions",
    family="files",
    severity=Severity.WARNING,
    scope="song",
    message=_VERSIONS + "by its mark the newest is {newest}",
    cure="Keep the version that is meant, move the other out of the song's folder, and check that the "
    "player plays the right one.",
    means="Two files claim the same role and differ only by a version mark (v2, FINAL, (1), a date).",
    on_stage="Both play: the part is twice as loud, or flams against its own older edit; or the player "
    "picks the old one.",
    measured="Names without their version mark. Which is newer: the order of the marks, then the date of "
    "change.",
    source="own judgement",
)
def two_versions(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    groups: dict[tuple[str, Role], list[Stem]] = {}
    for evidence in song.stems:
        if evidence.stem.version_key:
            groups.setdefault((evidence.stem.version_key, evidence.stem.role), []).append(evidence.stem)
    for stems in groups.values():
        marks = {stem.version for stem in stems}
        if len(marks) < 2 or all(mark and NUMBERED.fullmatch(mark) for mark in marks):
            continue  # "Vox (1)" beside "Vox (2)" without a "Vox" are two voices, not two versions
        newest, verdict = _which_is_newer(stems)
        first = newest or stems[0]
        saved_last = newest_by_date(stems)
        rest = tuple(stem.file for stem in stems if stem is not first)
        yield Hit(
            stem=first.file,
            message=_VERSIONS + verdict,
            facts={
                "others": listed(rest),
                "files": (first.file, *rest),
                "newest": newest.file if newest else None,
                "saved_last": saved_last.file if saved_last else None,
            },
        )


_SEVERAL_MIXES = (
    "would play on top of its own parts, and so would {others}: {value:.0%} of it is the sum of {listed}; "
    "limit {limit:.0%}"
)


@rule(
    id="mix-beside-parts",
    family="files",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    limit=Limit(value=0.6, unit="share of its energy"),
    message="would play on top of its own parts: {value:.0%} of it is the sum of {listed}; limit {limit:.0%}",
    cure="Mute the full mix in the player or move it out of the song's folder; the report's sum leaves it "
    "out.",
    means="A full mix and its parts would both play.",
    on_stage="Everything is there twice: about 6 dB too loud, hollow where the two differ, and no fader "
    "helps.",
    measured="The share of the full mix's energy that the best-fitting sum of the other audience stems "
    "explains (audit.measure).",
    source="own judgement: unrelated music explains next to nothing, the same parts nearly all, a mastered "
    "mix most",
)
def mix_beside_parts(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    heard = {stem.name for stem in song.stems if stem.audience and not stem.silent}
    fits = [fit for fit in song.parts_fits if fit.stem in heard and heard & set(fit.parts)]
    if not fits:
        yield NotApplicable(reason="no full mix beside parts")
        return
    proved = sorted(
        (fit for fit in fits if fit.explained >= limit.value), key=lambda fit: fit.explained, reverse=True
    )
    if proved:
        best = proved[0]
        yield Hit(
            stem=best.stem,
            value=best.explained,
            message=None if len(proved) == 1 else _SEVERAL_MIXES,
            facts={
                "others": listed([fit.stem for fit in proved[1:]]),
                "listed": listed(best.parts, most=3),
                "parts": best.parts,
                "mixes": tuple(fit.stem for fit in proved),
            },
        )


RULES = (missing_role, two_versions, mix_beside_parts)
