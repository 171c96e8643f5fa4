"""Stems whose beginning is missing: cut inside the first sound, or without the silence before bar 1."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role, common_length_s
from audit.findings import Severity
from audit.results import ClickTrack, HardStart, Head
from audit.rules.bars import beat_s, behind_a_quarter_s
from audit.rules.endings import Ending, endings
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import clock, count

MAY_BEGIN_INSIDE = frozenset({Role.LOOP, Role.EFFECTS, Role.FULL_MIX})
"""Loops and effects are cut out of longer sounds, and every round of them begins so."""


@rule(
    id="cut-head",
    family="length",
    severity=Severity.WARNING,
    scope="song",
    needs=("format", "audio"),
    limit=Limit(
        value=8.0,
        unit="ms",
        more={
            "beats": 1.0,
            "alike_db": 3.0,
            "farther": 2.0,
            "farther_db": 1.5,
            "at_once_db": -20.0,
            "hard_start": 3.0,
            "start_ms": 50.0,
            "on_beat_ms": 60.0,
            "in_place": 0.5,
            "steady": 0.5,
            "of_quarter": 0.4,
        },
    ),
    message="its first sound, at {place}, lacks its attack: about {missing:.0f} ms are cut off; later "
    "sounds are like it from there on ({inside:.1f} dB off) and none from its beginning ({beginning:.1f} dB "
    "off, limit {bound:.1f} dB)",
    cure="Listen to its first note beside a later one. If it is cut, open the session, move the start of the "
    "region or of the bounce to before the note, and bounce again from the same bar 1 as the others.",
    again="from before its first note",
    means="The first sound begins inside itself, without its attack. Or the file starts at its first note "
    "while the other stems are silent for {beats:g} beat and more before bar 1, and it is shorter by as "
    "much: its silence was trimmed off, and it plays early from the first note to the last.",
    on_stage="The song starts with a clipped, weak first note; or a whole part plays the song some beats "
    "ahead of the band.",
    measured="The first 100 ms of sound, in four bands of a millisecond's resolution, are laid over the "
    "later sounds of the same stem, from their beginning and from inside them. Asked "
    "for: three later sounds that it is like from inside, to {alike_db:g} dB, at one place, {limit:g} ms and "
    "more after they began; the beginning of every later sound is {farther:g} times and {farther_db:g} dB "
    "less like it; it is there at once (within {at_once_db:g} dB in 3 ms): swells have no attack to lose. "
    "Or it starts with a step {hard_start:g} times as sharp as anything after it, "
    "not at the very start of its file. Loops and effects are not asked. Where "
    "at least half of a song's stems begin so together, it is one note: songs that follow without a pause "
    "do. No stem is told whose first sound lies no later beside the quarters of the beat than its others "
    "do, and {in_place:g} of what it would lack, if half of these lie within {steady:g} of it and it is no "
    "more than {of_quarter:g} of a quarter: a side chain may duck every note like it until none is heard to "
    "begin. Trimmed silence: the file begins with sound (within {start_ms:g} ms), ends earlier than the "
    "length that the others share by no less than their shortest silence at the start and by no more than "
    "their longest, and its first sound would then lie on a beat or half a beat, to {on_beat_ms:g} ms; its "
    "harmony does not say that it fits as it is.",
    source="Own measurement: of 419 clean stems of songs none is told by its later sounds; of 623 none "
    "starts with so sharp a step, of 600 cut 40 ms into their first sound 286 do. The limits are own "
    "judgement.",
)
def cut_head(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    music = [stem for stem in song.stems if stem.audience and not stem.silent]
    if not music:
        yield NotApplicable(reason="no stem with music")
        return
    # A song that runs straight on from the one before begins in full flow.
    if not song.settings.segue:
        yield from _without_attack(music, song.click, limit)
    yield from (_lead_hit(lead, limit) for lead in trimmed_heads(song, limit))


def _without_attack(music: Sequence[StemEvidence], click: ClickTrack | None, limit: Limit) -> Iterator[Hit]:
    """The stems that begin inside their first sound; told once where at least half of them do."""
    cut = [(stem, head) for stem in music if (head := _cut_before_its_place(stem, click, limit))]
    hard = [(stem, start) for stem in music if (start := _starts_hard(stem, limit))]
    names = {stem.name for stem, _ in (*hard, *cut)}
    if len(names) >= 2 and 2 * len(names) >= len(music):
        yield _together([stem for stem in music if stem.name in names], cut)
        return
    yield from (_cut_hit(stem, head, limit) for stem, head in cut)
    by_likes = {stem.name for stem, _ in cut}
    yield from (_hard_hit(stem, start, limit) for stem, start in hard if stem.name not in by_likes)


def _cut_before_its_place(stem: StemEvidence, click: ClickTrack | None, limit: Limit) -> Head | None:
    """Its head, where that is cut and does not begin where its notes do."""
    head = _cut(stem, limit)
    return None if head is None or _begins_in_place(stem, head, click, limit) else head


def _first_part(stem: StemEvidence) -> PartEvidence | None:
    """Its first part that is heard; None where that may begin inside a sound."""
    part = next((part for part in stem.parts if part.audience and not part.silent), None)
    return None if part is None or part.role in MAY_BEGIN_INSIDE else part


def _starts_hard(stem: StemEvidence, limit: Limit) -> HardStart | None:
    part = _first_part(stem)
    start = part.measures.hard_start if part is not None else None
    if start is None or start.sharper < limit["hard_start"] or 1000.0 * start.at_s <= limit["start_ms"]:
        return None
    return start


def _hard_hit(stem: StemEvidence, start: HardStart, limit: Limit) -> Hit:
    return Hit(
        stem=stem.name,
        at_s=start.at_s,
        value=start.sharper,
        limit=limit["hard_start"],
        unit="times",
        message="its first sound, at {place}, starts with a step of {step:.0f} dBFS, {sharper:.0f} times as "
        "sharp as anything after it (limit {bound:g}): its beginning is cut off, or this one sound begins so",
        facts={
            "place": clock(start.at_s),
            "step": start.step_dbfs,
            "sharper": start.sharper,
            "bound": limit["hard_start"],
        },
    )


def _bound_db(head: Head, limit: Limit) -> float:
    return max(limit["farther"] * head.like_inside_db, head.like_inside_db + limit["farther_db"])


def _cut(stem: StemEvidence, limit: Limit) -> Head | None:
    """The head of its first part that is heard, where it is cut."""
    part = _first_part(stem)
    head = part.measures.head if part is not None else None
    if head is None:
        return None
    told = (
        head.agreed
        and head.start_db >= limit["at_once_db"]
        and head.missing_ms >= limit.value
        and head.like_inside_db <= limit["alike_db"]
        and head.like_beginning_db >= _bound_db(head, limit)
    )
    return head if told else None


def _begins_in_place(stem: StemEvidence, head: Head, click: ClickTrack | None, limit: Limit) -> bool:
    """Whether nothing is missing before it: a cut one begins later than a programmed part's notes do. Not
    told by a sound that begins with its file, which may be cut where the beat is."""
    phase = stem.alignment.phase if stem.alignment is not None else None
    beat = beat_s(click)
    if click is None or beat is None or phase is None or 1000.0 * head.at_s <= limit["start_ms"]:
        return False
    behind_s = behind_a_quarter_s(head.at_s, click)
    # Half a quarter of the beat late is half a quarter early.
    told_apart = head.missing_ms <= limit["of_quarter"] * 250.0 * beat
    if behind_s is None or not told_apart or phase.iqr_ms > limit["steady"] * head.missing_ms:
        return False
    quarter_ms = 250.0 * beat
    late_ms = (1000.0 * behind_s - phase.click_ms + 0.5 * quarter_ms) % quarter_ms - 0.5 * quarter_ms
    return late_ms <= limit["in_place"] * head.missing_ms


def _cut_hit(stem: StemEvidence, head: Head, limit: Limit) -> Hit:
    bound = _bound_db(head, limit)
    return Hit(
        stem=stem.name,
        at_s=head.at_s,
        value=head.missing_ms,
        facts={
            "place": clock(head.at_s),
            "missing": head.missing_ms,
            "inside": head.like_inside_db,
            "beginning": head.like_beginning_db,
            "bound": bound,
        },
    )


def _together(stems: Sequence[StemEvidence], cut: Sequence[tuple[StemEvidence, Head]]) -> Hit:
    return Hit(
        severity=Severity.NOTE,
        value=max((head.missing_ms for _, head in cut), default=None),
        message="{stems} begin inside their first sound, without its attack ({listed}): a song that follows "
        "without a pause, or all were cut",
        cure="If this song follows another without a pause, say so in the settings (segue = true). If not, "
        "bounce all stems again from a little earlier.",
        facts={"stems": count(len(stems), "stem"), "listed": listed([stem.name for stem in stems], 4)},
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """A stem that begins at once, though the others do not, and is shorter by the silence it lacks."""

    stem: StemEvidence
    first_s: float
    missing_s: float
    beats: float
    others_first_s: float  # the earliest first sound of the others


def trimmed_heads(song: SongEvidence, limit: Limit) -> Iterator[Lead]:
    """The stems of whose file the silence before bar 1 was trimmed off."""
    beat = beat_s(song.click)
    music = [ending for ending in endings(song) if ending.stem.audience]
    if beat is None or song.click is None:
        return
    for ending in music:
        others = [other for other in music if other is not ending]
        if len(others) < 2 or _first_s(ending) > limit["start_ms"] / 1000.0:
            continue
        lead = _lead(ending, others, beat)
        if lead is not None and _is_trimmed(lead, song.click, limit["beats"] * beat, limit):
            yield lead


def _lead(ending: Ending, others: Sequence[Ending], beat: float) -> Lead | None:
    """By how much it is shorter than the others, where these have a length in common and their first sounds
    lie where its own would without that lead."""
    common = common_length_s([other.end_s for other in others], 0.01)
    if common is None:
        return None
    first_s, missing_s = _first_s(ending), common - ending.end_s
    leads = sorted(_first_s(other) for other in others)
    if not leads[0] - 0.5 * beat <= missing_s + first_s <= leads[-1] + 0.5 * beat:
        return None
    return Lead(
        stem=ending.stem, first_s=first_s, missing_s=missing_s, beats=missing_s / beat,
        others_first_s=leads[0],
    )  # fmt: skip


def _is_trimmed(lead: Lead, click: ClickTrack, least_s: float, limit: Limit) -> bool:
    """Whether the others wait, and it lacks, so long and more; moved by that it begins on a beat."""
    return (
        lead.others_first_s - lead.first_s >= least_s
        and lead.missing_s >= least_s
        and _on_beat(lead.missing_s + lead.first_s, click.beats_s, limit["on_beat_ms"] / 1000.0)
        and not _fits_as_it_is(lead.stem)
    )


def _first_s(ending: Ending) -> float:
    rate_hz = ending.stem.format.sample_rate_hz if ending.stem.format is not None else 48_000
    firsts = [
        first for part in ending.stem.parts if (first := part.measures.activity.first_sound_frame) is not None
    ]
    return min(firsts, default=0) / rate_hz


def _on_beat(at_s: float, beats_s: Sequence[float], within_s: float) -> bool:
    """On a beat of the click, or half way between two."""
    after = bisect_left(beats_s, at_s)
    near = beats_s[max(0, after - 1) : after + 1]
    places = [*near, sum(near) / len(near)] if near else []
    return any(abs(at_s - place) <= within_s for place in places)


def _fits_as_it_is(stem: StemEvidence) -> bool:
    beats = stem.alignment.beats if stem.alignment is not None else None
    return beats is not None and beats.at_zero >= max(0.14, 0.85 * beats.at_best)


def _lead_hit(lead: Lead, limit: Limit) -> Hit:
    rate_hz = lead.stem.format.sample_rate_hz if lead.stem.format is not None else 48_000
    return Hit(
        stem=lead.stem.name,
        at_s=lead.first_s,
        value=1000.0 * lead.missing_s,
        limit=1000.0 * limit["beats"] * lead.missing_s / lead.beats,
        message="begins with its first note, while the others are silent until {others_first}; its file is "
        "{missing_s:.3f} s ({missing_beats:.1f} beats, limit {least_beats:g}) shorter than theirs: the "
        "silence before its first note was trimmed off, and it plays that much early",
        cure="Bounce it again from the same bar 1 as the others, without trimming the start; or put "
        "{samples} samples of silence before it.",
        facts={
            "others_first": clock(lead.others_first_s),
            "missing_s": lead.missing_s,
            "missing_beats": lead.beats,
            "least_beats": limit["beats"],
            "samples": round(lead.missing_s * rate_hz),
        },
    )


RULES = (cut_head,)
