"""The rule on steps that no music makes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import ClickTrack, Damage, SpliceClick
from audit.rules.bars import USUAL_BEAT_S, beat_s, beats_a_bar, beats_at
from audit.rules.clipping import clips, sample_clipping
from audit.rules.damage import more_places, on_channels
from audit.rules.parts import CLICK_AND_TIMECODE, seconds_at, sounding_parts
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import clock

_NOTHING = Damage()

_HOLDS = (
    "freezes{on} at {place}: {held} samples keep one value while the sound before and after moves on, a "
    "tick{more}"
)
_RECURS = (
    "clicks{on} at {place} and comes back with the loop: a jump of {size:.0f} dBFS, {value:.0f} dB above "
    "what the sound around it can make (limit {limit:g} dB){more}"
)
_RECURS_CURE = (
    "Listen to it at {place}. A record's crackle, or a glitch that is meant, may stay; if it is where the "
    "loop was cut, fade it there and bounce again."
)
_HOLDS_CURE = (
    "Bounce this stem again, offline if it can be done, with a larger buffer if not; listen to it at {place}."
)


@rule(
    id="splice-click",
    family="damage",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    heeds=(sample_clipping,),
    limit=Limit(value=24.0, unit="dB", more={"faint_db": 45.0, "recurs_ms": 0.1, "recurs": 3}),
    message="clicks{on} at {place}: a jump of {size:.0f} dBFS, {value:.0f} dB above what the sound around it "
    "can make (limit {limit:g} dB){more}",
    cure="Listen to it at {place}. If it is a cut without a crossfade, fade it there and bounce again.",
    cure_in_general="Listen to the place. If it is a cut without a crossfade, fade it there and bounce "
    "again.",
    again="without the click at {place}",
    means="One wrong sample, a jump, or a join where samples are missing: a step that is {limit:g} dB above "
    "what the sound before and after it lets expect. Or the sound freezes on one value for a moment.",
    on_stage="A tick that no player made, in every show at the same place.",
    measured="Residual of linear prediction (order 24, 20 ms on either side) against its own robust spread. "
    "It is alone within 20 ms, one to three wrong samples or one jump explain it, and the sound goes on as "
    "before. Attacks, pulses and square waves are not like that; crackle and glitches are many, and "
    "clicks at even distances are music. Single wrong samples under loud sound show below 3 kHz or in the "
    "highest 3 kHz, and count where the whole band holds them in the same size, which no jump explains. "
    "Eight samples or more, up to 2 ms, that are exactly equal are an output that ran dry where prediction "
    "leaves {limit:g} dB above half a code and more on both sides, or a step ends them that is far larger "
    "than the sound's own. A note where all of them are more than {faint_db:g} dB under the stem's "
    "peak, and in a loop those of which {recurs:g} and more lie whole bars of the click from each other "
    "(within {recurs_ms:g} ms): others are told alone. In a stem that sample-clipping tells, nothing within "
    "5 ms of a sample at full scale is told, nor in a full mix what its parts hold at the same "
    "place. Click and timecode are not judged. Under hiss that fills all bands no wrong sample is found.",
    source="Own measurement; linear prediction with matched filters for clicks is common in restoration "
    "(from memory). The limit: own measurement on clean and planted stems.",
)
def splice_click(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    of_parts = {fit.stem: frozenset(fit.clicks) for fit in song.parts_fits}
    for stem in song.stems:
        parts = sounding_parts(stem, without=CLICK_AND_TIMECODE)
        if not parts:
            yield NotApplicable(reason="no sound in it but click or timecode, which are made of steps")
        for part in parts:
            yield from _clicks(stem, part, song.click, of_parts.get(stem.name, frozenset()), limit)


def _clicks(
    stem: StemEvidence, part: PartEvidence, click: ClickTrack | None, of_parts: Set[int], limit: Limit
) -> Iterator[Outcome]:
    if stem.format is None or not stem.format.sample_rate_hz:
        return
    found, number = _told(part, of_parts, limit)
    coming_back = (
        _of_the_loop(found, stem.format.sample_rate_hz, click, limit) if part.role is Role.LOOP else []
    )
    alone = [place for place in found if place not in coming_back]
    if coming_back and alone:
        yield _hit(stem, part, alone, len(alone), limit)
    elif found:
        yield _hit(stem, part, found, number, limit, recurring=not alone)


def _told(part: PartEvidence, of_parts: Set[int], limit: Limit) -> tuple[list[SpliceClick], int]:
    """The clicks that are past the limit, and how many there are with those whose places were not kept. In
    what is clipped nothing at full scale counts, nor what nobody can look at; in a full mix nothing that its
    parts hold at these frames."""
    damage = part.measures.damage or _NOTHING
    clipped = clips(part.measures, limit.of(sample_clipping))
    found = [
        place
        for place in damage.clicks
        if place.above_db > limit.value
        and not (clipped and place.at_full_scale)
        and place.at_frame not in of_parts
    ]
    return found, len(found) + (0 if clipped else damage.click_count - len(damage.clicks))


def _hit(
    stem: StemEvidence,
    part: PartEvidence,
    found: Sequence[SpliceClick],
    number: int,
    limit: Limit,
    *,
    recurring: bool = False,
) -> Hit:
    """recurring: all of them come back with the loop."""
    first = found[0]
    at_s = seconds_at(stem, first.at_frame)
    faint_dbfs = part.measures.peaks.sample_dbfs - limit["faint_db"]
    faint = max(place.size_dbfs for place in found) < faint_dbfs
    message, cure = _words(first, recurring=recurring)
    return Hit(
        stem=stem.name,
        severity=Severity.NOTE if faint or recurring else None,
        value=first.above_db,
        message=message,
        cure=cure,
        sample=first.at_frame,
        at_s=at_s,
        facts={
            # The other side may hold a smaller one, which its own sound hides.
            "on": on_channels(stem, part, first.channels).removesuffix(" only"),
            "place": clock(at_s or 0.0),
            "size": first.size_dbfs,
            "held": first.held_frames,
            "clicks": number,
            "recurring": recurring,
            "more": more_places(stem, found, number),
        },
    )


def _words(first: SpliceClick, *, recurring: bool) -> tuple[str | None, str | None]:
    """Message and cure; None: the rule's own."""
    if recurring:
        return _RECURS, _RECURS_CURE
    return (_HOLDS, _HOLDS_CURE) if first.held_frames else (None, None)


def _of_the_loop(
    found: Sequence[SpliceClick], rate_hz: int, click: ClickTrack | None, limit: Limit
) -> list[SpliceClick]:
    """Those that come back every time the loop comes round, at the same place of the bar, as the pops of a
    record do. What happens once in a file does not."""
    if click is None:
        return []
    bar = beats_a_bar(click)
    near = limit["recurs_ms"] / 1000.0 / (beat_s(click) or USUAL_BEAT_S)
    placed = [(one, place) for one in found if (place := beats_at(one.at_frame / rate_hz, click)) is not None]

    def again(first: float, second: float) -> bool:
        bars = (first - second) / bar
        return abs(bars - round(bars)) * bar <= near

    return [
        one
        for one, place in placed
        if sum(again(place, other) and abs(place - other) > 0.5 for _, other in placed) + 1 >= limit["recurs"]
    ]


RULES = (splice_click,)
