"""What a role sounds like in this show: a few numbers a stem, and how far a stem lies from a role's."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.rules.customs import robust_spread
from audit.rules.once import once_a_show
from audit.rules.parts import sounding_parts

BANDS = 8
"""Of the fingerprint's 32 bands four each are taken together: three quarters of an octave."""

FLOOR_DB = -40.0
LEAST_SPREADS = (*[4.0] * BANDS, 0.5, 0.12, 4.0)
"""By how much a stem may differ from its like in another song and be no stranger: a band's dB, onsets a
second (logarithm to the base of 2), how tonal it is, the width in dB. Own judgement."""

LEAST_ACTIVE_S = 5.0

Profile = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """The stem that stands for a role in a song: its loudest."""

    song: str
    role: Role
    stem: StemEvidence
    profile: Profile


def profile_of(part: PartEvidence) -> Profile | None:
    """Band levels against the whole (dB), onsets a second (log2), tonality, stereo width (dB of the side
    against the mid, −30 for mono); None for a part of which not all of it is known."""
    prints, onsets, chroma = part.measures.fingerprint, part.measures.onsets, part.measures.chroma
    active_s = part.measures.activity.active_s
    if prints is None or not prints.spectrum_db or onsets is None or chroma is None:
        return None
    if active_s < LEAST_ACTIVE_S:
        return None
    each = len(prints.spectrum_db) // BANDS
    bands = []
    for first in range(0, each * BANDS, each):
        power = sum(10.0 ** (db / 10.0) for db in prints.spectrum_db[first : first + each])
        bands.append(max(FLOOR_DB, 10.0 * math.log10(max(power, 1e-12))))
    stereo = part.measures.stereo
    width_db = -30.0 if stereo is None else max(-30.0, min(6.0, -stereo.mid_side_db))
    return (*bands, math.log2(0.25 + len(onsets.times_s) / active_s), chroma.tonal, width_db)


def voices(song: SongEvidence) -> dict[Role, Voice]:
    """One voice for each role that the names tell and that sounds."""
    found: dict[Role, tuple[float, Voice]] = {}
    for stem in song.stems:
        parts = sounding_parts(stem)
        if len(stem.parts) != 1 or not parts or parts[0].role_is_guess or not parts[0].audience:
            continue
        profile = profile_of(parts[0])
        role, level = parts[0].role, parts[0].measures.levels.rms_dbfs
        if profile is None or role in (Role.OTHER, Role.FULL_MIX, Role.EFFECTS):
            continue
        if role not in found or level > found[role][0]:
            found[role] = level, Voice(song=song.name, role=role, stem=stem, profile=profile)
    return {role: voice for role, (_, voice) in found.items()}


@once_a_show
def voices_of(show: ShowEvidence) -> Mapping[str, Mapping[Role, Voice]]:
    return {song.name: voices(song) for song in show.songs}


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How two roles' profiles tell two stems apart. Distances: mean square over the features, in spreads."""

    own: float  # how far both lie from their own roles, added up
    other: float  # and from each other's
    first_other: float
    second_other: float

    @property
    def gain(self) -> float:
        """By how much they fit better when exchanged."""
        return self.own - self.other


def likeness(
    first: Profile, second: Profile, firsts: Sequence[Profile], seconds: Sequence[Profile]
) -> Likeness:
    """Two stems of a song against what their two roles are in other songs."""
    centres = [[median(values) for values in zip(*role, strict=True)] for role in (firsts, seconds)]
    spreads = [
        max(least, robust_spread(a), robust_spread(b))
        for least, a, b in zip(
            LEAST_SPREADS, zip(*firsts, strict=True), zip(*seconds, strict=True), strict=True
        )
    ]

    def distance(stem: Profile, centre: Sequence[float]) -> float:
        off = [min(4.0, abs(a - b) / s) ** 2 for a, b, s in zip(stem, centre, spreads, strict=True)]
        return sum(off) / len(off)

    return Likeness(
        own=distance(first, centres[0]) + distance(second, centres[1]),
        other=distance(first, centres[1]) + distance(second, centres[0]),
        first_other=distance(first, centres[0]) - distance(first, centres[1]),
        second_other=distance(second, centres[1]) - distance(second, centres[0]),
    )
