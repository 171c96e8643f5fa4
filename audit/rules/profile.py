"""What a role sounds like in this show: a few numbers a stem, and how far a stem lies from a role's."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.rules.customs import robust_spread
from audit.rules.foreign import foreign_stem, strangers
from audit.rules.once import once_a_show
from audit.rules.parts import sounding_parts

BANDS = 8
"""Of the fingerprint's 32 bands four each are taken together: three quarters of an octave."""

FLOOR_DB = -40.0
LEAST_SPREADS = (*[4.0] * BANDS, 0.5, 0.12, 4.0)
"""By how much a stem may differ from its like in another song and be no stranger: a band's dB, onsets a
second (logarithm to the base of 2), how tonal it is, the width in dB. Own judgement."""

FARTHEST = 4.0
"""Spreads: one feature alone says no more than so much."""

LEAST_ACTIVE_S = 5.0

Profile = tuple[float, ...]


TONAL = BANDS + 1
"""Where in a profile the share of tones stands."""

LOW_BANDS = 2
"""Of its bands, 40 to 116 Hz: where a bass has its fundamentals, E1 to A2."""


def low_db(profile: Profile) -> float:
    """How much of a stem lies there, against the whole."""
    return 10.0 * math.log10(sum(10.0 ** (db / 10.0) for db in profile[:LOW_BANDS]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """A stem that plays a role in a song."""

    role: Role
    stem: StemEvidence
    profile: Profile
    leads: bool  # the loudest of its role: what other songs are compared with


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


def voices(song: SongEvidence) -> tuple[Voice, ...]:
    """The stems that sound and whose names tell their roles."""
    found: list[tuple[float, Role, StemEvidence, Profile]] = []
    for stem in song.stems:
        parts = sounding_parts(stem)
        if len(stem.parts) != 1 or not parts or parts[0].role_is_guess or not parts[0].audience:
            continue
        profile = profile_of(parts[0])
        if profile is not None and parts[0].role not in (Role.OTHER, Role.FULL_MIX, Role.EFFECTS):
            found.append((parts[0].measures.levels.rms_dbfs, parts[0].role, stem, profile))
    leading: dict[Role, StemEvidence] = {}
    for _, role, stem, _ in sorted(found, key=lambda one: -one[0]):
        leading.setdefault(role, stem)
    return tuple(
        Voice(role=role, stem=stem, profile=profile, leads=leading[role] is stem)
        for _, role, stem, profile in found
    )


@once_a_show
def voices_of(show: ShowEvidence) -> Mapping[str, tuple[Voice, ...]]:
    """Those of every song, by its name."""
    return {song.name: voices(song) for song in show.songs}


@once_a_show
def leading_of(show: ShowEvidence) -> Mapping[Role, Mapping[str, Profile]]:
    """What each role sounds like, by song. A stem that belongs to another song says nothing of this one's."""
    found: dict[Role, dict[str, Profile]] = {}
    foreign = {
        song.name: {stem.name for stem, _ in strangers(song, show, foreign_stem.own_limit())}
        for song in show.songs
        if any(stem.elsewhere for stem in song.stems)  # else nobody fits another song
    }
    for name, heard in voices_of(show).items():
        for voice in heard:
            if voice.leads and voice.stem.name not in foreign.get(name, ()):
                found.setdefault(voice.role, {})[name] = voice.profile
    return found


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


@dataclass(frozen=True, slots=True)
class Usual:
    """What a role sounds like: medians of its profiles, and their robust spreads."""

    centre: Profile
    spreads: Profile

    @classmethod
    def of(cls, profiles: Sequence[Profile]) -> Usual:
        columns = list(zip(*profiles, strict=True))
        return cls(
            centre=tuple(median(column) for column in columns),
            spreads=tuple(
                max(least, robust_spread(column))
                for least, column in zip(LEAST_SPREADS, columns, strict=True)
            ),
        )

    def distance(self, profile: Profile) -> float:
        """How far a stem lies from it: mean square over the features, in its spreads."""
        return _distance(profile, self.centre, self.spreads)


def likeness(first: Profile, second: Profile, firsts: Usual, seconds: Usual) -> Likeness:
    """Two stems of a song against what their two roles are in other songs."""
    spreads = [max(a, b) for a, b in zip(firsts.spreads, seconds.spreads, strict=True)]
    own = _distance(first, firsts.centre, spreads), _distance(second, seconds.centre, spreads)
    other = _distance(first, seconds.centre, spreads), _distance(second, firsts.centre, spreads)
    return Likeness(
        own=sum(own), other=sum(other), first_other=own[0] - other[0], second_other=own[1] - other[1]
    )


def _distance(profile: Profile, centre: Sequence[float], spreads: Sequence[float]) -> float:
    off = [
        min(FARTHEST, abs(a - b) / spread) ** 2 for a, b, spread in zip(profile, centre, spreads, strict=True)
    ]
    return sum(off) / len(off)
