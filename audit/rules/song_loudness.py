"""A song in the PA: its mix against the show's other songs, or against what the settings ask."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Fact, Severity
from audit.rules.asked import loudness_lufs
from audit.rules.customs import robust_spread
from audit.rules.identity import copies_in_force, duplicate_audio
from audit.rules.once import once_a_show
from audit.rules.parts import sounding_parts
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, Unanswered, rule
from audit.rules.scrambled import full_scale_noise, noise_by_song
from audit.units import power_to_db

HALL = (
    " The sound engineer has to know of it before the show. A file's level says nothing of the sound "
    "pressure in the hall or in an ear: local rules and qualified crew decide."
)
LOUD_CURE = (
    "Turn PA and in-ears down before you play it. If the song is meant to be so, leave it. If not, bring "
    "its stems {by:.0f} dB down, all by the same amount, so that its balance stays."
)
ALONE_CURE = (
    "Turn PA and in-ears down before you play it. If the song is meant to be so, leave it. If not, bring "
    "{stem} down to where it is in the other songs."
)
QUIET_CURE = (
    "If the song is meant to be so, leave it. If not, bring its stems {by:.0f} dB up, all by the same "
    "amount; turn PA and in-ears down before you play the new files."
)
ROUNDING = 1e-9


@rule(
    id="song-loudness-outlier",
    family="level",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    heeds=(full_scale_noise, duplicate_audio),
    limit=Limit(
        value=6.0,
        unit="LU",
        more={
            "spreads": 3.0,
            "least_spread_lu": 2.0,
            "songs": 8,
            "shared_roles": 0.5,
            "tolerance_lu": 2.0,
            "jump_lu": 10.0,
            "jump_songs": 5,
            "alike_roles": 0.75,
        },
    ),
    message="the mix is {by:.1f} LU {direction} than the songs like it ({lufs:.1f} LUFS, usually "
    "{usual:.1f}; limit {limit:.1f} LU)",
    cure="If the song is meant to be so, leave it. If not, bring its stems to the others' loudness, all "
    "by the same amount, so that its balance stays.",
    again=None,
    means="The song's stems together are far louder or quieter than those of the show's other songs with "
    "a similar line-up: a note, from {jump_lu:g} LU on a warning. Against a target in the settings, past "
    "{tolerance_lu:g} LU: a warning.",
    on_stage="The sound engineer has to ride the playback when this song starts, and may not know in time; "
    "a song far too loud is in the PA and in the ears before anyone reaches a fader.",
    measured="Integrated loudness of the sum of the audience's stems at unity gain, against the median of "
    "the songs that share at least {shared_roles:.0%} of its roles (at least {songs:g} songs with this "
    "one); past {limit:g} LU and past {spreads:g} robust deviations of those songs, one of which counts "
    "as {least_spread_lu:g} LU at least. Of {jump_lu:g} LU and more {jump_songs:g} songs are enough. Then "
    "songs that share only two roles count too, if the song's loudest stem stands {limit:g} LU above theirs "
    "as well; and a song is too quiet only beside those that share {alike_roles:.0%} of its roles: an "
    "interlude or an intro of few voices may be quiet. Nothing is said of songs in which a stem is noise "
    "(full-scale-noise) or two cancel each other (duplicate-audio): their loudness follows from that.",
    source="ITU-R BS.1770-5 (the measure). No standard sets a target for playback stems: the limits are "
    "own judgement.",
)
def song_loudness_outlier(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    lufs = _mix_lufs(song)
    if song.mix_failure is not None:
        yield Unanswered(reason=f"the song's mix was not measured: {song.mix_failure}")
        return
    if lufs is None:
        yield NotApplicable(reason="no mix for the audience whose loudness could be told")
        return
    spoilt = _spoilt(show, limit.of(full_scale_noise), limit.of(duplicate_audio))
    if song.name in spoilt:
        yield NotApplicable(reason="its loudness is that of noise, or of stems that cancel each other")
        return
    target = loudness_lufs(song, show)
    if target is not None:
        yield from _against_target(show, lufs, target, limit)
        return
    likenesses = _likenesses(song, show, spoilt)
    jump = _jump(song, lufs, likenesses, limit)
    if jump is not None:
        yield jump
        return
    peers = [other.lufs for other in likenesses if other.shared >= limit["shared_roles"]]
    if len(peers) + 1 < limit["songs"]:
        if len(likenesses) + 1 < limit["jump_songs"]:
            yield NotApplicable(reason="too few songs with a similar line-up to compare with")
        return
    usual = median(peers)
    bound = _bound(peers, limit.value, limit)
    if abs(lufs - usual) > bound:
        yield Hit(
            value=lufs - usual,
            limit=bound,
            severity=Severity.NOTE,
            cure="If the song is meant to be so, leave it. If not, bring its stems {by:.0f} dB {remedy}, "
            "all by the same amount, so that its balance stays.",
            facts=_compared(lufs, usual, len(peers)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Likeness:
    """Another song of the show as something to compare with."""

    lufs: float
    loudest_lufs: float  # of its stems
    shared: float  # roles in both mixes over roles in either (Jaccard index), 0 … 1
    both: int  # roles in both mixes


def _likenesses(song: SongEvidence, show: ShowEvidence, spoilt: Collection[str]) -> list[_Likeness]:
    """The other songs that have a mix and at least one role of this one in it, but those that are spoilt."""
    roles = _mixed_roles_by_song(show)
    return [
        _Likeness(
            lufs=lufs,
            loudest_lufs=max((level for _, level in _mixed_levels(other)), default=-math.inf),
            shared=_shared_roles(roles[song.name], roles[other.name]),
            both=len(roles[song.name] & roles[other.name]),
        )
        for other in show.songs
        if other.name != song.name
        and other.name not in spoilt
        and (lufs := _mix_lufs(other)) is not None
        and roles[song.name] & roles[other.name]
    ]


def _jump(song: SongEvidence, lufs: float, others: Sequence[_Likeness], limit: Limit) -> Hit | None:
    """A step that startles whoever stands before the PA, or a song that hardly comes out of it."""
    alike = [other for other in others if other.shared >= limit["shared_roles"]]
    very_alike = [other for other in others if other.shared >= limit["alike_roles"]]
    related = [other for other in others if other.both >= 2]
    loudest = max(_mixed_levels(song), key=lambda pair: pair[1], default=("", -math.inf))
    return (
        _louder(lufs, loudest, alike, limit)
        or (_louder(lufs, loudest, related, limit) if _stands_out(loudest[1], related, limit) else None)
        or _quieter(lufs, very_alike, limit)
    )


def _louder(lufs: float, loudest: tuple[str, float], peers: Sequence[_Likeness], limit: Limit) -> Hit | None:
    """loudest: the song's loudest stem, with its loudness."""
    compared = _jump_from(lufs, peers, limit)
    if compared is None or compared.value is None or compared.value < 0.0:
        return None
    alone = abs(_without(lufs, loudest[1]) - (lufs - compared.value)) <= limit.value
    if not alone:
        return replace(compared, cure=LOUD_CURE + HALL, facts={**compared.facts, "cause": ""})
    cause = {"stem": loudest[0], "cause": f": {loudest[0]} alone makes it so"}
    return replace(compared, cure=ALONE_CURE + HALL, facts={**compared.facts, **cause})


def _quieter(lufs: float, peers: Sequence[_Likeness], limit: Limit) -> Hit | None:
    compared = _jump_from(lufs, peers, limit)
    if compared is None or compared.value is None or compared.value > 0.0:
        return None
    return replace(compared, cure=QUIET_CURE + HALL, facts={**compared.facts, "cause": ""})


def _jump_from(lufs: float, peers: Sequence[_Likeness], limit: Limit) -> Hit | None:
    """The step from the middle of these songs, where they are enough and it is far enough."""
    if len(peers) + 1 < limit["jump_songs"]:
        return None
    levels = [peer.lufs for peer in peers]
    usual, bound = median(levels), _bound(levels, limit["jump_lu"], limit)
    if abs(lufs - usual) < bound - ROUNDING:
        return None
    return Hit(
        value=lufs - usual,
        limit=bound,
        message="the mix is {by:.1f} LU {direction} than the show's other songs ({lufs:.1f} LUFS, usually "
        "{usual:.1f}; limit {limit:.1f} LU){cause}",
        facts=_compared(lufs, usual, len(peers)),
    )


def _stands_out(loudest_lufs: float, peers: Sequence[_Likeness], limit: Limit) -> bool:
    """Whether the song's loudest stem is louder than theirs too: many stems alone make a sum louder."""
    return bool(peers) and loudest_lufs - median(other.loudest_lufs for other in peers) >= limit.value


def _without(lufs: float, stem_lufs: float) -> float:
    """The mix without one of its stems, as far as the two have nothing in common."""
    rest = 10.0 ** (lufs / 10.0) - 10.0 ** (stem_lufs / 10.0)
    return power_to_db(max(rest, 0.0))


def _bound(levels: Sequence[float], least_lu: float, limit: Limit) -> float:
    """A show whose songs vary widens its own limit."""
    return max(least_lu, limit["spreads"] * max(robust_spread(levels), limit["least_spread_lu"]))


def _compared(lufs: float, usual: float, songs: int) -> dict[str, Fact]:
    louder = lufs > usual
    return {
        "by": abs(lufs - usual),
        "direction": "louder" if louder else "quieter",
        "remedy": "down" if louder else "up",
        "lufs": lufs,
        "usual": usual,
        "songs_compared": songs,
    }


def _against_target(show: ShowEvidence, lufs: float, target: float, limit: Limit) -> Iterator[Hit]:
    asked = show.settings.loudness_tolerance_lu
    tolerance = limit["tolerance_lu"] if asked is None else asked
    if abs(lufs - target) > tolerance:
        louder = lufs > target
        yield Hit(
            value=lufs - target,
            limit=tolerance,
            message="the mix is {by:.1f} LU {direction} than the settings ask ({lufs:.1f} LUFS, asked "
            "{target:.1f}; tolerance {limit:.1f} LU)",
            cure="Bring its stems {by:.1f} dB {remedy}, all by the same amount, so that its balance "
            "stays; or give "
            "the song a loudness of its own in the settings.",
            facts={
                "by": abs(lufs - target),
                "direction": "louder" if louder else "quieter",
                "remedy": "down" if louder else "up",
                "lufs": lufs,
                "target": target,
            },
        )


CANCELS_S, CANCELS_DB = 0.001, 6.0
"""Copies that lie and are as loud as each other within this cancel where one is upside down."""


@once_a_show
def _spoilt(show: ShowEvidence, noise: Limit, copies: Limit) -> frozenset[str]:
    """The songs in whose mix a stem is noise, or two are one recording, one of them upside down: that is
    told, and their loudness tells nothing more."""
    mixed = {song.name: set(song.mix.from_stems) for song in show.songs if song.mix}
    noisy = {name for name, stems in noise_by_song(show, noise).items() if stems & mixed.get(name, set())}
    cancelled = {
        copy.first_song
        for copy in copies_in_force(show, copies)
        if copy.first_song == copy.second_song
        and copy.opposed
        and abs(copy.lag_s) <= CANCELS_S
        and abs(copy.level_db) <= CANCELS_DB
        and {copy.first, copy.second} <= mixed.get(copy.first_song, set())
    }
    return frozenset(noisy | cancelled)


def _mix_lufs(song: SongEvidence) -> float | None:
    return song.mix.loudness.integrated_lufs if song.mix else None


def _mixed_levels(song: SongEvidence) -> list[tuple[str, float]]:
    """The stems that sound in the song's mix, each with its loudness (LUFS)."""
    mixed = set(song.mix.from_stems) if song.mix else set()
    return [
        (stem.name, lufs)
        for stem in song.stems
        if stem.name in mixed
        for part in sounding_parts(stem)
        if part.audience and (lufs := part.measures.loudness.integrated_lufs) is not None
    ]


def _mixed_roles(song: SongEvidence) -> set[Role]:
    """The roles that sound in the song's mix."""
    mixed = set(song.mix.from_stems) if song.mix else set()
    return {
        part.role
        for stem in song.stems
        if stem.name in mixed
        for part in sounding_parts(stem)
        if part.audience
    }


@once_a_show
def _mixed_roles_by_song(show: ShowEvidence) -> dict[str, set[Role]]:
    """The same of every song, by name."""
    return {song.name: _mixed_roles(song) for song in show.songs}


def _shared_roles(ours: set[Role], theirs: set[Role]) -> float:
    """Roles in both mixes over roles in either (Jaccard index), 0 … 1."""
    either = ours | theirs
    return len(ours & theirs) / len(either) if either else 0.0


RULES = (song_loudness_outlier,)
