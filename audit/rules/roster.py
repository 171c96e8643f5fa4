"""Who is in the song: roles that are missing, parts that are there twice, a mix beside its parts."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import CREW_ROLES, Role
from audit.findings import Fact, Severity
from audit.rules.asked import required_roles
from audit.rules.identity import duplicate_audio
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, Unanswered, rule
from audit.rules.version_fit import how_versions_fit
from audit.rules.versions import are_versions, newest_by_date, stem_sets, version_groups, which_is_newer
from audit.units import count


def song_roles(song: SongEvidence) -> frozenset[Role]:
    """The roles that the song has, part by part; by the names where a stem could not be read."""
    roles: set[Role] = set()
    for stem in song.stems:
        roles.update(stem.roles)
        if not stem.parts:
            roles.update(stem.stem.channel_roles)
    return frozenset(roles)


_REQUIRED = "{missing}, which the settings require"
_REQUIRED_CURE = (
    "Ask for the stem and bounce it from the same session as the rest. If it is there under a name that "
    "was not "
    "understood, say so in the settings, under [roles]."
)
_ALL_MISSING = "{missing}: {many} of the other songs have each of them, limit {limit:g} %"
_SEVERAL_MISSING = "{missing}: {least:.0f} to {value:.0f} % of the other songs have them, limit {limit:g} %"


@rule(
    id="missing-role",
    family="files",
    severity=Severity.ERROR,
    scope="song",
    limit=Limit(value=80.0, unit="% of the other songs", more={"songs": 5}),
    message="{missing}: {many} of the other songs have it, limit {limit:g} %",
    cure="If the song needs it, ask for the stem and bounce it from the same session as the rest. If the "
    "song is meant to be so, nothing is to be done.",
    again="the song's {wanted}",
    means="A role that the settings require is missing. Without settings: a role that at least {limit:g} "
    "% of at least {songs:.0f} other songs have (warning for timecode, note otherwise).",
    on_stage="Lights and video stand still without timecode; a part nobody bounced is a part nobody hears.",
    measured="The roles of all stems and channels, song against song. A song that holds only click, guide "
    "or timecode is normal and is not asked for music; nor is one whose music is in a full mix or in stems "
    "of unknown role.",
    source="own judgement: what four of five songs have is the habit of the show",
)
def missing_role(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not song.stems:
        yield NotApplicable(reason="a song without stems: it lacks more than a role")
        return
    own = song_roles(song)
    required = required_roles(song, show)
    if lacking := [role for role in required if role not in own]:
        yield Hit(message=_REQUIRED, cure=_REQUIRED_CURE, facts=_missing_facts(lacking))
    others = [song_roles(other) for other in show.songs if other.stems and other.name != song.name]
    if len(others) < limit["songs"]:
        yield NotApplicable(reason=f"fewer than {limit['songs']:g} other songs to compare with")
        return
    shares = {
        role: 100.0 * sum(role in roles for roles in others) / len(others)
        for role in _asked_of(own, required)
    }
    if usual := {role: share for role, share in shares.items() if share >= limit.value}:
        yield _unusual_hit(usual, has_music=bool(own - CREW_ROLES))


def _missing_facts(roles: Sequence[Role]) -> dict[str, Fact]:
    return {
        "missing": ", ".join(f"no {role.value}" for role in roles),
        "wanted": listed([role.value for role in roles]),
        "roles": tuple(role.value for role in roles),
    }


def _asked_of(own: Collection[Role], required: Collection[Role]) -> list[Role]:
    """The roles that a song may lack by what the others have: no music of one that has none, or has it in
    stems that say nothing of it; and no guide of a click alone."""
    asked = set(Role) - {Role.OTHER, Role.FULL_MIX, *required}
    if Role.FULL_MIX in own or set(own) - CREW_ROLES <= {Role.OTHER}:
        asked &= CREW_ROLES
    if set(own) <= CREW_ROLES:
        asked -= {Role.GUIDE}
    return [role for role in Role if role in asked and role not in own]


def _unusual_hit(shares: Mapping[Role, float], *, has_music: bool) -> Hit:
    """shares: of the roles that the song lacks, how many of the other songs have each, in per cent."""
    least, most = min(shares.values()), max(shares.values())
    alike = _ALL_MISSING if round(least) == round(most) else _SEVERAL_MISSING
    return Hit(
        severity=Severity.WARNING if Role.TIMECODE in shares and has_music else Severity.NOTE,
        value=most,
        message=alike if len(shares) > 1 else None,
        facts={
            **_missing_facts(list(shares)),
            "shares": tuple(shares.values()),
            "many": "all" if most > 99.95 else f"{most:.0f} %",
            "least": least,
        },
    )


def _versions_of_a_song(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    by_title: dict[str, list[list[SongEvidence]]] = {}  # versions share it: only they are laid side by side
    groups: list[list[SongEvidence]] = []
    for song in show.songs:
        alike = by_title.setdefault(song.song.title_key, [])
        group = next((some for some in alike if are_versions(some[0].song, song.song)), None)
        if group is None:
            alike.append(group := [])
            groups.append(group)
        group.append(song)
    for group in groups:
        if len(group) > 1:
            names = tuple(song.name for song in group)
            yield Hit(
                songs=names,
                severity=Severity.NOTE,
                message="{listed} are versions of one song by their names; all of them are audited",
                cure="Put the older one aside (a folder “Old” will do), so that nobody opens it by mistake.",
                facts={"listed": listed(names), "names": names},
            )


def _sets_of_stems(song: SongEvidence) -> Iterator[Hit]:
    audio = {evidence.name: evidence.audio for evidence in song.stems}
    rate = {stem.name: stem.format.sample_rate_hz for stem in song.stems if stem.format is not None}
    for group in stem_sets(evidence.stem for evidence in song.stems):
        hashes = [{a.content_hash for stem in stems if (a := audio[stem.file])} for stems in group.values()]
        if all(found == hashes[0] and None not in found for found in hashes):
            continue  # the same audio throughout: duplicate-audio speaks of it
        rates = {
            top: sorted({rate[stem.file] for stem in stems if stem.file in rate})
            for top, stems in group.items()
        }
        said = [
            f"{top or 'beside them'} ({', '.join(f'{hz / 1000:g} kHz' for hz in rates[top])})"
            if rates[top]
            else top
            for top in group
        ]
        yield Hit(
            message="the same stems lie in {sets}: all of them would play",
            cure="Keep the set that is meant in the song's folder and move the other out of it.",
            facts={"sets": listed(said), "folders": tuple(group), "stems": len(next(iter(group.values())))},
        )


_VERSIONS = "plays together with {others}: the names differ only by a version mark; "


@rule(
    id="two-versions",
    family="files",
    severity=Severity.WARNING,
    scope="song",
    message=_VERSIONS + "by its mark the newest is {newest}{fit}",
    cure="Keep the version that is meant, move the other out of the song's folder, and check that the "
    "player plays the right one.",
    again=None,
    means="Two files claim the same role and differ only by a version mark (v2, FINAL, (1), a date), or two "
    "folders of a song hold the same stems. Two songs that differ by such a mark are a note.",
    on_stage="Both play: the part is twice as loud, or flams against its own older edit; or the player "
    "picks the old one.",
    measured="Names without their version mark. Which is newer: the order of the marks, then the date of "
    "change. Which fits: the one as long as the song's other stems (10 ms), and the one whose bars are "
    "theirs to its end (as stale-arrangement hears it). Copies of one audio are no versions: "
    "duplicate-audio speaks of them. Folders: half of their stems, and two at least, have the same names.",
    source="own judgement",
    over_show=_versions_of_a_song,
    heeds=(duplicate_audio,),
)
def two_versions(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from _sets_of_stems(song)
    audio = {evidence.name: evidence.audio for evidence in song.stems}
    for stems in version_groups(evidence.stem for evidence in song.stems):
        hashes = {heard.content_hash if (heard := audio[stem.file]) else None for stem in stems}
        if len(hashes) == 1 and None not in hashes:
            continue
        newest, verdict = which_is_newer(stems)
        fit, fit_facts = how_versions_fit(song, show, stems, limit.of(duplicate_audio))
        first = newest or stems[0]
        saved_last = newest_by_date(stems)
        rest = tuple(stem.file for stem in stems if stem is not first)
        yield Hit(
            stem=first.file,
            message=_VERSIONS + verdict + "{fit}",
            facts={
                "others": listed(rest),
                "files": (first.file, *rest),
                "fit": fit,
                **fit_facts,
                "newest": newest.file if newest else None,
                "saved_last": saved_last.file if saved_last else None,
            },
        )


@rule(
    id="stems-in-archive",
    family="files",
    severity=Severity.WARNING,
    scope="song",
    message="all {stems} come from “{archive}”, an archive by its name: nothing else in the song's folder "
    "holds audio",
    cure="Fetch the song's current stems; or, if these are the ones that play, move them out of that folder.",
    again=None,
    means="The song has no stems but those in a folder called Old, Backup, Archive or the like.",
    on_stage="The night begins with an edit that somebody put away, or the player finds nothing to load.",
    measured="Names of folders. Such a folder is set aside wherever the song has other audio.",
    source="own judgement",
)
def stems_in_archive(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if song.song.archive is not None and song.stems:
        yield Hit(facts={"archive": song.song.archive, "stems": count(len(song.stems), "stem")})


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
    again=None,
    means="A full mix and its parts would both play.",
    on_stage="Everything is there twice: about 6 dB too loud, hollow where the two differ, and no fader "
    "helps.",
    measured="The share of the full mix's energy that the best-fitting sum of the other audience stems "
    "explains.",
    source="own judgement: unrelated music explains next to nothing, the same parts nearly all, a mastered "
    "mix most",
)
def mix_beside_parts(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    heard = {stem.name for stem in song.stems if stem.audience and not stem.silent}
    if song.mix_failure is not None and any(Role.FULL_MIX in stem.roles for stem in song.stems):
        yield Unanswered(reason=f"no full mix was compared with its parts: {song.mix_failure}")
        return
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


RULES = (missing_role, two_versions, stems_in_archive, mix_beside_parts)
