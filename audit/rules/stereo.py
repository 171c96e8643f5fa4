"""Rules on how the two sides of a stereo stem belong together."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import CREW_ROLES, Role
from audit.findings import Severity
from audit.results import SideDelay, Stereo
from audit.rules.customs import is_everywhere, parts_of
from audit.rules.parts import TIMECODE, listed, sounding_pairs, where_in
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.silence import silent_channel
from audit.units import count, power_to_db

MADE_WIDE = CREW_ROLES | {Role.PAD, Role.STRINGS, Role.SYNTH, Role.EFFECTS, Role.OTHER}
"""Of what may be made to lose most of itself in mono: a sampled string ensemble of a clean show correlates by
−0.87 and loses 12 dB."""

LIKE_LEVEL_DB = 9.0
"""Farther apart than this, sides cannot cancel: the mid stays above −6 dB of the side."""


@rule(
    id="dual-mono",
    family="level",
    severity=Severity.NOTE,
    scope="song",
    needs=("audio",),
    heeds=(silent_channel,),
    limit=Limit(value=-90.0, unit="dB"),
    message="{stems_text} with the same audio on both sides: {names}",
    cure="Bounce them as mono files if the session and the output patch allow it; leave them if stereo is "
    "agreed.",
    again=None,
    means="Both sides of a stereo file are identical: their difference lies {limit:g} dB or more below the "
    "signal.",
    on_stage="Nobody hears it. It costs twice the disk reads, voices and outputs for nothing.",
    measured="Energy of left minus right relative to left and right together. Never told of click, guide and "
    "timecode, which go to two ears or two outputs on purpose, nor of a role that is so in every song, three "
    "and more. One line a song.",
    source="Own judgement: −90 dB is what rounding to 16 bits leaves between two copies of one signal.",
)
def dual_mono(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    names: list[str] = []
    nearest_db = -math.inf
    for stem in song.stems:
        pairs = _both_sounding(stem, limit, without=CREW_ROLES)
        if not pairs:
            yield NotApplicable(reason="no stereo pair for the audience in it")
        for part, stereo in pairs:
            if stereo.difference_db <= limit.value and not is_everywhere(
                show, part.role, partial(_is_dual_mono, limit=limit)
            ):
                names.append(stem.name + where_in(stem, part))
                nearest_db = max(nearest_db, stereo.difference_db)
    if names:
        yield Hit(
            value=nearest_db if nearest_db > -math.inf else None,
            facts={
                "stems_text": count(len(names), "stem"),
                "stems": tuple(names),
                "names": listed(names),
            },
        )


def _is_dual_mono(part: PartEvidence, limit: Limit) -> bool:
    stereo = part.measures.stereo
    return stereo is not None and stereo.difference_db <= limit.value


def _opposed_over_show(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for role in Role:
        if is_everywhere(show, role, partial(_is_opposed, limit=limit)):
            yield Hit(
                songs=tuple(song.name for song in show.songs if any(role in s.roles for s in song.stems)),
                severity=Severity.NOTE,
                message="the sides of the {role} cancel in mono in every song that has such a stem",
                cure="If that is how the sound is made, leave it, and never sum it to mono. If not, look for "
                "a crossed cable or a polarity switch in its template.",
                facts={"role": role.value},
            )


@rule(
    id="opposite-polarity",
    family="level",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    heeds=(silent_channel,),
    limit=Limit(
        value=-0.9,
        unit="correlation",
        more={
            "mid_side_db": -6.0,
            "ahead": 0.2,
            "here": -0.3,
            "elsewhere": 0.3,
            "as_there": 0.2,
            "songs": 3,
            "nearly": -0.75,
            "loses_db": 9.0,
        },
    ),
    message="the sides cancel in mono{where}: correlation {value:+.2f} (limit {limit:+.2f}); in mono {loss}",
    cure="Flip the polarity of one side (left or right, not both) at its source and bounce again; look for a "
    "crossed cable, a polarity switch or a widener on the track.",
    again="with the polarity of one side flipped",
    means="Left and right are the same waveform with opposite sign: correlation {limit:+.1f} or lower, and "
    "the mid {mid_side_db:+.0f} dB or less against the side; or they are so but for a delay of up to 1 ms, "
    "or nearly so (warnings).",
    on_stage="In a mono PA, a mono fill, a single speaker or the middle of the room it thins out or "
    "vanishes; with a delay, its lows do.",
    measured="Correlation of the two sides and energy of mid over side, over the whole file. A side that "
    "is far quieter than the other cannot cancel it and is passed over. On timecode it is a warning: a "
    "decoder reads either polarity, but two sides joined to one output leave nothing. With a delay it is a "
    "warning: the lowest correlation over 1 ms either way at the limit or below, and farther from zero than "
    "the highest by {ahead:g} (a tone has both). Wide sounds with one side flipped do not come near the "
    "limit: it is a warning where the correlation is {here:+g} or lower, and {elsewhere:+g} or higher in "
    "every such stem of {songs:g} other songs and more; and where it is {nearly:+g} or lower and mono loses "
    "{loses_db:g} dB and more, but for pads, strings, synths and effects, which are made so wide. "
    "A role that is so in every song, three and more, is "
    "one note.",
    source="Own judgement: at correlation −0.9 two equal sides lose 13 dB in mono, 10·log10((1 + r)/2). "
    "Timecode: IEC 60461 (its bi-phase mark has no polarity).",
    over_show=_opposed_over_show,
)
def opposite_polarity(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for stem in song.stems:
        pairs = _both_sounding(stem, limit)
        if not pairs:
            yield NotApplicable(reason="no stereo pair with two sounding sides")
        for part, stereo in pairs:
            if not _is_opposed(part, limit):
                if (usual := _usually(part, stereo, song, show, limit)) is not None:
                    yield _unlike_elsewhere(stem, part, stereo, usual, limit)
                elif _nearly_cancels(part, limit):
                    if is_everywhere(show, part.role, partial(_nearly_cancels, limit=limit)):
                        yield NotApplicable(reason="made nearly so in every song")
                    else:
                        yield _nearly_cancelling(stem, part, stereo, limit)
                continue
            if is_everywhere(show, part.role, partial(_is_opposed, limit=limit)):
                yield NotApplicable(reason="made so in every song: said once")
            elif _cancels(stereo, limit):
                yield _cancelling(stem, part, stereo)
            elif part.measures.side_delay is not None:
                yield _late_and_opposed(stem, part, part.measures.side_delay)


def _usually(
    part: PartEvidence, stereo: Stereo, song: SongEvidence, show: ShowEvidence, limit: Limit
) -> float | None:
    """What the sides of such stems correlate by in the other songs, at least, where one side of this one must
    be upside down beside them; None where it need not be."""
    unlike = abs(stereo.imbalance_db) > LIKE_LEVEL_DB or part.role in CREW_ROLES | {Role.OTHER, Role.EFFECTS}
    if unlike or stereo.correlation > limit["here"]:
        return None
    by_song = [
        [
            one.measures.stereo.correlation
            for _, one in parts_of(other)
            if one.role is part.role and not one.silent and one.measures.stereo is not None
        ]
        for other in show.songs
        if other.name != song.name
    ]
    having = [min(values) for values in by_song if values]
    usual = min(having, default=-1.0)
    # Turned over it has to sound as it does there: +0.9 there and −0.35 here is another sound.
    as_there = -stereo.correlation >= usual - limit["as_there"]
    return usual if len(having) >= limit["songs"] and usual >= limit["elsewhere"] and as_there else None


def _unlike_elsewhere(
    stem: StemEvidence, part: PartEvidence, stereo: Stereo, usual: float, limit: Limit
) -> Hit:
    loss_db = _mono_loss_db(stereo)
    return Hit(
        stem=stem.name,
        value=stereo.correlation,
        limit=limit["here"],
        severity=Severity.WARNING,
        message="one side{where} seems upside down: the sides correlate by {value:+.2f} (limit "
        "{limit:+.2f}), those of the {role} in the other songs by {usual:+.2f} and more; in mono {loss}",
        facts={
            "where": where_in(stem, part),
            "role": part.role.value,
            "usual": usual,
            "loss": "nothing is left" if loss_db is None else f"it loses {loss_db:.0f} dB",
        },
    )


def _is_opposed(part: PartEvidence, limit: Limit) -> bool:
    measures = part.measures
    if measures.stereo is None or min(measures.peaks.channel_dbfs) < limit.of(silent_channel).value:
        return False
    delay = measures.side_delay
    late = (
        part.role is not Role.TIMECODE
        and delay is not None
        and delay.lowest_at_ms != 0.0
        and delay.lowest <= limit.value
        and -delay.lowest - max(0.0, delay.highest) >= limit["ahead"]
        and abs(measures.stereo.imbalance_db) <= LIKE_LEVEL_DB
    )
    return _cancels(measures.stereo, limit) or late


def _cancels(stereo: Stereo, limit: Limit) -> bool:
    return stereo.correlation <= limit.value and stereo.mid_side_db <= limit["mid_side_db"]


def _nearly_cancels(part: PartEvidence, limit: Limit) -> bool:
    """Whether mono loses so much of a part that is not made wide on purpose."""
    stereo = part.measures.stereo
    if stereo is None or part.role in MADE_WIDE or stereo.correlation > limit["nearly"]:
        return False
    if min(part.measures.peaks.channel_dbfs) < limit.of(silent_channel).value:
        return False
    loss_db = _mono_loss_db(stereo)
    return loss_db is None or loss_db >= limit["loses_db"]


def _nearly_cancelling(stem: StemEvidence, part: PartEvidence, stereo: Stereo, limit: Limit) -> Hit:
    return replace(
        _cancelling(stem, part, stereo),
        severity=Severity.WARNING,
        limit=limit["nearly"],
        message="the sides nearly cancel in mono{where}: correlation {value:+.2f} (limit {limit:+.2f}); in "
        "mono {loss}",
        cure="Listen to it in mono. If it thins out, flip the polarity of one side (left or right, not both) "
        "at its source and bounce again; look for a crossed cable, a polarity switch or a "
        "widener on the track.",
    )


def _cancelling(stem: StemEvidence, part: PartEvidence, stereo: Stereo) -> Hit:
    loss_db = _mono_loss_db(stereo)
    return Hit(
        stem=stem.name,
        value=stereo.correlation,
        severity=Severity.WARNING if part.role is Role.TIMECODE else None,
        facts={
            "where": where_in(stem, part),
            "loss": "nothing is left" if loss_db is None else f"it loses {loss_db:.0f} dB",
            "mono_loss_db": loss_db,
        },
    )


def _late_and_opposed(stem: StemEvidence, part: PartEvidence, delay: SideDelay) -> Hit:
    return Hit(
        stem=stem.name,
        value=delay.lowest,
        severity=Severity.WARNING,
        message="the {side} side{where} is the other upside down, {by_ms:.2f} ms late: correlation "
        "{value:+.2f} there (limit {limit:+.2f}); in mono its lows cancel",
        cure="Flip the polarity of one side at its source and bounce again, unless the sound is made of it; "
        "then never sum it to mono.",
        facts={
            "where": where_in(stem, part),
            "side": "right" if delay.lowest_at_ms > 0.0 else "left",
            "by_ms": abs(delay.lowest_at_ms),
        },
    )


def _mono_loss_db(stereo: Stereo) -> float | None:
    """How far the mid lies below all of the energy; None where nothing is left of it."""
    mid_over_side = 10.0 ** (stereo.mid_side_db / 10.0)
    kept_db = power_to_db(mid_over_side / (1.0 + mid_over_side))
    return -kept_db if kept_db > -math.inf else None


@rule(
    id="channel-imbalance",
    family="level",
    severity=Severity.NOTE,
    scope="song",
    needs=("audio",),
    heeds=(silent_channel,),
    limit=Limit(value=12.0, unit="dB"),
    message="the {quiet} side{where} is {value:.1f} dB quieter than the {loud} (limit {limit:g} dB)",
    cure="If it is panned on purpose, leave it. If not, check the pan and both outputs of the bounce and "
    "print it again.",
    again=None,
    means="One side of a stereo file is {limit:g} dB or more quieter than the other.",
    on_stage="One half of the audience hears little of it. A part panned hard is made so on purpose.",
    measured="Energy of left over right for the whole file. Not told of timecode, of which one side is "
    "used, nor where a side is silent (silent-channel), nor where the role leans that way in every song, "
    "three and more.",
    source="Own judgement: 12 dB is a quarter of the amplitude, past what panning a stereo sound usually "
    "does.",
)
def channel_imbalance(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for stem in song.stems:
        pairs = _both_sounding(stem, limit, without=TIMECODE)
        if not pairs:
            yield NotApplicable(reason="no stereo pair with two sounding sides")
        for part, stereo in pairs:
            if abs(stereo.imbalance_db) < limit.value:
                continue
            left_is_louder = stereo.imbalance_db > 0
            if is_everywhere(show, part.role, partial(_leans, left=left_is_louder, limit=limit)):
                yield NotApplicable(reason="made so in every song")
                continue
            yield Hit(
                stem=stem.name,
                value=abs(stereo.imbalance_db),
                facts={
                    "where": where_in(stem, part),
                    "loud": "left" if left_is_louder else "right",
                    "quiet": "right" if left_is_louder else "left",
                },
            )


def _leans(part: PartEvidence, left: bool, limit: Limit) -> bool:
    stereo = part.measures.stereo
    return stereo is not None and (stereo.imbalance_db if left else -stereo.imbalance_db) >= limit.value


def _both_sounding(
    stem: StemEvidence, limit: Limit, *, without: frozenset[Role] = frozenset()
) -> list[tuple[PartEvidence, Stereo]]:
    """Pairs of which neither side is silent, with their stereo measures.

    A silent side has no phase and no balance: it is silent-channel's subject, by the limit in force there.
    """
    silent_dbfs = limit.of(silent_channel).value
    return [
        (part, part.measures.stereo)
        for part in sounding_pairs(stem, without=without)
        if part.measures.stereo is not None and min(part.measures.peaks.channel_dbfs) >= silent_dbfs
    ]


RULES = (dual_mono, opposite_polarity, channel_imbalance)
