"""A role's place in the mix against its place in the show's other songs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.customs import robust_spread
from audit.rules.parts import listed, sounding_parts
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import power_to_db

JUDGED = frozenset({
    Role.DRUMS, Role.PERCUSSION, Role.BASS, Role.GUITAR, Role.KEYS, Role.PIANO, Role.ORGAN, Role.SYNTH,
    Role.PAD, Role.STRINGS, Role.BRASS, Role.WOODWIND, Role.LEAD_VOCAL, Role.BACKING_VOCALS, Role.CHOIR,
})  # fmt: skip
"""Pitched and drum roles. Effects and loops are as loud as the song wants them."""


@rule(
    id="role-level-outlier",
    family="level",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=6.0,
        unit="LU",
        more={"spreads": 3.0, "least_spread_lu": 2.0, "songs": 5, "active_s": 10.0, "roles": 3},
    ),
    message="the {role} is {by:.1f} LU {direction} in the mix than in the other songs ({level:+.1f} LU "
    "against the mix, usually {usual:+.1f}; limit {limit:.1f} LU)",
    cure="If the song is meant to be so, leave it. If not, bring the {role} {by:.0f} dB {remedy}: look for a "
    "fader, a gain or a plug-in that another bounce did not have.",
    means="A role is far louder or quieter in this song's mix than in the show's other songs.",
    on_stage="The balance that the sound engineer has set for the show is wrong for this song: the part "
    "drowns the others, or is gone.",
    measured="The role's stems together while they sound (their gated loudness, added up as energies: the "
    "loudness of their sum where they have nothing in common, an approximation where they have) against the "
    "loudness of the song's mix, compared with the median of the other songs that have the role; at least "
    "{songs:.0f} songs with it. Where a song has {roles:.0f} such roles and more, what they all share is "
    "the song's doing and is taken off: one stem far too loud makes every other one quieter against the "
    "mix. Past {limit:.0f} LU and past {spreads:.0f} robust deviations of the other songs, one of which "
    "counts as {least_spread_lu:.0f} LU at least. Pitched and drum roles only; those that sound for less "
    "than {active_s:.0f} s in a song do not count there.",
    source="ITU-R BS.1770-5 (the measure; 1 LU is 1 dB). Limits: own judgement.",
)
def role_level_outlier(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    levels = {other.name: role_levels(other, limit["active_s"]) for other in show.songs}
    own = levels[song.name]
    compared: dict[Role, tuple[float, float, float]] = {}  # deviation, usual, bound
    for role, level in own.items():
        others = [found[role] for name, found in levels.items() if name != song.name and role in found]
        if len(others) + 1 >= limit["songs"]:
            usual = median(others)
            bound = limit["spreads"] * max(robust_spread(others), limit["least_spread_lu"])
            compared[role] = level - usual, usual, max(limit.value, bound)
    if not compared:
        yield NotApplicable(reason="no role that enough songs have to compare with")
        return
    shared = median(off for off, _, _ in compared.values()) if len(compared) >= limit["roles"] else 0.0
    for role, (off, usual, bound) in compared.items():
        by = off - shared
        if abs(by) > bound:
            louder = by > 0
            stems = [stem.name for stem in song.stems if role in stem.roles and not stem.silent]
            yield Hit(
                stem=stems[0] if len(stems) == 1 else None,
                value=by,
                limit=bound,
                facts={
                    "role": role.value,
                    "by": abs(by),
                    "direction": "louder" if louder else "quieter",
                    "remedy": "down" if louder else "up",
                    "level": own[role],
                    "usual": usual,
                    "shared_lu": shared,
                    "stems": listed(stems),
                },
            )


def role_levels(song: SongEvidence, active_s: float) -> dict[Role, float]:
    """Each judged role's loudness against the song's mix, in LU; empty where there is no mix."""
    mix = song.mix.loudness.integrated_lufs if song.mix else None
    if mix is None or song.mix is None:
        return {}
    powers: dict[Role, float] = {}
    sounds_s: dict[Role, float] = {}
    mixed = set(song.mix.from_stems)
    for stem in song.stems:
        for part in sounding_parts(stem):
            lufs = part.measures.loudness.integrated_lufs
            if part.role in JUDGED and not part.role_is_guess and lufs is not None and stem.name in mixed:
                powers[part.role] = powers.get(part.role, 0.0) + 10.0 ** (lufs / 10.0)
                sounds_s[part.role] = max(sounds_s.get(part.role, 0.0), part.measures.activity.active_s)
    return {
        role: power_to_db(power) - mix
        for role, power in powers.items()
        if sounds_s[role] >= active_s and math.isfinite(power_to_db(power))
    }


RULES = (role_level_outlier,)
