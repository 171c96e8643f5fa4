"""A role's place in the mix against its place in the show's other songs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.customs import robust_spread
from audit.rules.once import once_a_show
from audit.rules.parts import listed, sounding_parts
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.scrambled import full_scale_noise, noise_by_song
from audit.units import power_to_db

JUDGED = frozenset({
    Role.DRUMS, Role.PERCUSSION, Role.BASS, Role.GUITAR, Role.KEYS, Role.PIANO, Role.ORGAN, Role.SYNTH,
    Role.PAD, Role.STRINGS, Role.BRASS, Role.WOODWIND, Role.LEAD_VOCAL, Role.BACKING_VOCALS, Role.CHOIR,
})  # fmt: skip
"""Pitched and drum roles. Effects and loops are as loud as the song wants them."""

ROUNDING = 1e-9

CURE = (
    "If the song is meant to be so, leave it. If not, bring the {role} {by:.0f} dB {remedy}: look for a "
    "fader, a gain or a plug-in that another bounce did not have."
)
CARE = (
    " Turn PA and in-ears down before you play it: a file's level says nothing of the sound pressure there, "
    "which local rules and qualified crew decide."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleLevel:
    """How loud a role is in a song."""

    lufs: float  # its stems together
    in_mix: float  # LU over the rest of the mix


@rule(
    id="role-level-outlier",
    family="level",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    heeds=(full_scale_noise,),
    limit=Limit(
        value=6.0,
        unit="LU",
        more={
            "spreads": 3.0,
            "least_spread_lu": 2.0,
            "few": 2.0,
            "usual_share": 0.75,
            "usual_roles": 3,
            "songs": 5,
            "active_s": 10.0,
            "jump_lu": 10.0,
            "jump_songs": 4,
        },
    ),
    message="{role}: {by:.1f} LU {direction} in the mix than in the other songs ({level:+.1f} LU against the "
    "rest of the mix, usually {usual:+.1f}; limit {limit:.1f} LU)",
    cure=CURE,
    cure_in_general="If the song is meant to be so, leave it. If not, bring the role back to its usual "
    "level: look for a fader, a gain or a plug-in that another bounce did not have.",
    again="about {by:.0f} dB {lower_higher}, unless the song is meant so",
    means="A role is far louder or quieter in this song's mix than in the show's other songs.",
    on_stage="The balance that the sound engineer has set for the show is wrong for this song: the part "
    "drowns the others, or is gone.",
    measured="The loudness of the role's stems while they sound (gated) against that of the mix's other "
    "stems, both added up as energies: the loudness of their sums where stems have nothing in common, an "
    "approximation where they have. Compared with the median of the other songs that have the role, at least "
    "{songs:.0f} songs with this one: past {limit:g} LU and past {spreads:.0f} robust deviations of the "
    "others, one of which counts as {least_spread_lu:.0f} LU at least, as {usual_share:.0%} at least of "
    "what roles differ by in this show (the median of {usual_roles:.0f} or more), and the more the fewer "
    "the others are ({few:.0f}/n more): a few songs may lie close by chance. The role's loudness by itself "
    "has to lie off the same way by {limit:g} LU too: a stem far too loud makes every other one quieter "
    "in the mix, a full arrangement makes all of them quieter, and none of them is to blame. With "
    "{jump_songs:.0f} songs only, it has to be {jump_lu:.0f} LU off both ways, and {limit:g} LU from "
    "every other song. "
    "Pitched and drum roles only, where they sound for {active_s:.0f} s or more, and in no song in "
    "which a stem is noise (full-scale-noise).",
    source="ITU-R BS.1770-5 (the measure; 1 LU is 1 dB). Limits: own judgement.",
)
def role_level_outlier(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    noise = noise_by_song(show, limit.of(full_scale_noise))
    if noise[song.name]:
        yield NotApplicable(reason="noise in place of a stem's sound: see full-scale-noise")
        return
    levels = {
        name: found for name, found in role_levels_by_song(show, limit["active_s"]).items() if not noise[name]
    }
    usual_spread = spread_of_roles(show, limit["active_s"], limit["jump_songs"], limit["usual_roles"])
    compared = False
    for role, own in levels[song.name].items():
        others = [found[role] for name, found in levels.items() if name != song.name and role in found]
        if len(others) + 1 < limit["jump_songs"]:
            continue
        compared = True
        usual = median(other.in_mix for other in others)
        by = own.in_mix - usual
        alone = own.lufs - median(other.lufs for other in others)
        bound, alone_bound = _bounds(own, others, usual_spread, limit)
        if abs(by) <= bound + ROUNDING or math.copysign(1.0, by) * alone <= alone_bound + ROUNDING:
            continue
        stems = [stem.name for stem in song.stems if role in stem.roles and not stem.silent]
        yield Hit(
            stem=stems[0] if len(stems) == 1 else None,
            value=by,
            limit=bound,
            cure=CURE + CARE if by >= limit["jump_lu"] else None,
            facts={
                "role": role.value,
                "by": abs(by),
                "direction": "louder" if by > 0 else "quieter",
                "remedy": "down" if by > 0 else "up",
                "lower_higher": "lower" if by > 0 else "higher",
                "level": own.in_mix,
                "usual": usual,
                "lufs": own.lufs,
                "stems": listed(stems),
                "files": tuple(stems),
            },
        )
    if not compared:
        yield NotApplicable(reason="no role that enough songs have to compare with")


def _bounds(
    own: RoleLevel, others: Sequence[RoleLevel], usual_spread: float, limit: Limit
) -> tuple[float, float]:
    """How far the role may be off in the mix, and by itself; in a few songs only what is gross counts."""
    levels = [other.in_mix for other in others]
    spread = max(
        robust_spread(levels) * (1.0 + limit["few"] / len(levels)),
        usual_spread * limit["usual_share"],
        limit["least_spread_lu"],
    )
    bound = max(limit.value, limit["spreads"] * spread)
    if len(others) + 1 >= limit["songs"]:
        return bound, limit.value
    nearest = min(abs(own.in_mix - level) for level in levels)
    return (max(bound, limit["jump_lu"]) if nearest > limit.value else math.inf), limit["jump_lu"]


def role_levels(song: SongEvidence, active_s: float) -> dict[Role, RoleLevel]:
    """Each judged role that sounds long enough beside others; empty where the song has no mix."""
    mixed = set(song.mix.from_stems) if song.mix else set()
    powers: dict[Role, float] = {}
    sounds_s: dict[Role, float] = {}
    for stem in song.stems:
        for part in sounding_parts(stem):
            lufs = part.measures.loudness.integrated_lufs
            if not part.audience or lufs is None or stem.name not in mixed:
                continue
            powers[part.role] = powers.get(part.role, 0.0) + 10.0 ** (lufs / 10.0)
            if not part.role_is_guess:
                sounds_s[part.role] = max(sounds_s.get(part.role, 0.0), part.measures.activity.active_s)
    return {
        role: RoleLevel(lufs=power_to_db(power), in_mix=power_to_db(power) - power_to_db(rest))
        for role, power in powers.items()
        if (rest := sum(other for name, other in powers.items() if name is not role)) > 0.0
        if role in JUDGED and sounds_s.get(role, 0.0) >= active_s
    }


@once_a_show
def role_levels_by_song(show: ShowEvidence, active_s: float) -> dict[str, dict[Role, RoleLevel]]:
    """The same of every song, by name."""
    return {song.name: role_levels(song, active_s) for song in show.songs}


@once_a_show
def spread_of_roles(show: ShowEvidence, active_s: float, songs: float, roles: float) -> float:
    """By how much a role's place in the mix differs from song to song, LU: the median over the roles that so
    many songs have; 0.0 with fewer roles. One role in a few songs may lie together by chance, all do not."""
    places: dict[Role, list[float]] = {}
    for levels in role_levels_by_song(show, active_s).values():
        for role, level in levels.items():
            places.setdefault(role, []).append(level.in_mix)
    spreads = [robust_spread(found) for found in places.values() if len(found) >= songs]
    return median(spreads) if len(spreads) >= roles else 0.0


RULES = (role_level_outlier,)
