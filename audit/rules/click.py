"""Rules on the click: whether there is one, and whether its beats are all there and on the grid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.results import ClickExtra, ClickTrack
from audit.rules.bars import (
    NO_CLICK,
    NOT_FOUND,
    USUAL_BEAT_S,
    beat_s,
    beats_a_bar,
    click_sample,
    starts_mid_song,
)
from audit.rules.click_counts import beats_too_few, beats_too_many
from audit.rules.click_jumps import moved_click, other_grids
from audit.rules.rule import Hit, Limit, Outcome, rule
from audit.units import clock, count

MOST_TOLD = 6
"""More faults of one kind in a click are told in one line."""


@rule(
    id="click-missing",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    message="no click in the click stem: it sounds, but not in even ticks",
    cure="Listen to it, quietly: another stem may bear its name. Bounce the click again from the song's "
    "session.",
    again="with even ticks",
    means="The stem that should hold the click sounds, but nothing in it comes round evenly.",
    on_stage="The band starts without a count and plays without time; whatever else is in the stem sounds in "
    "everybody's ears.",
    measured="Sounds are found by their rise against the 12 ms before, told apart by waveform and level, and "
    "searched for the most plausible even beat. From three even ticks on it is a click. A silent click is "
    "silent-stem's.",
    source="Own measurement: tone bursts, wood, metal, hi-hats and noise, from −50 to 0 dBFS, with a voice, "
    "eighths or a room about them.",
)
def click_missing(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if song.click_stem is None:
        yield NO_CLICK
    elif song.click is None:
        yield Hit(stem=song.click_stem)


@rule(
    id="click-gap",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=1, unit="beat", more={"moved_ms": 15.0}),
    message="{missing} missing; the count goes on after {it} as if nothing had happened",
    cure="Bounce the click again; in the session look for a hole in the click track or a muted region.",
    again="with the {missing} at {place} that {is_are} missing now",
    means="Beats of the click are missing, {limit:g} or more in a row, up to a bar, and those after them "
    "stand on the same grid. Or from some beat on all of it comes {moved_ms:g} ms or more later or earlier, "
    "and the song's stems keep to the old beats. Or one bar of the click is too short, and the stems go on "
    "in the old bars.",
    on_stage="The band loses the count in the middle of a song, every night at the same place.",
    measured="Intervals between beats against the intervals around them: a whole number of beats, to within "
    "2 ms or 0.3 % of a beat (more only as far as the tempo itself moves). Where accents tell the bar, the "
    "bar has to lack those beats, so a held beat is none. Longer silences, and other grids after them, are "
    "free sections: notes list them. Where the strokes of two stems and more (or of the only one) after such "
    "a place lie in the old beats as those before it do, in the click's do not, and next to no stem goes "
    "with the click, it is the click that was moved; three leave no doubt. So do three that go on in the old "
    "bars behind a bar of another length. Under a voice the tick's own waveform is searched for before it is "
    "called missing.",
    source="Own judgement: up to a bar is an accident, more is an arrangement.",
)
def click_gap(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    click = song.click
    if click is None:
        yield NO_CLICK if song.click_stem is None else NOT_FOUND
        return
    gaps = [gap for gap in click.gaps if gap.beats >= limit.value]
    if len(gaps) > MOST_TOLD:
        told = _gap(
            song,
            gaps[0].at_s,
            sum(gap.beats for gap in gaps),
            message="{missing} missing in {places} places; the count goes on each time",
            places=len(gaps),
        )
        yield replace(told, value=float(max(gap.beats for gap in gaps)))
    else:
        yield from (_gap(song, gap.at_s, gap.beats) for gap in gaps)
    yield from moved_click(song, click, limit["moved_ms"])
    yield from beats_too_few(song, click, limit.value)
    yield from _free_sections(song, click)
    yield from _other_grids(song, click)


def _gap(song: SongEvidence, at_s: float, beats: int, message: str | None = None, **facts: int) -> Hit:
    return Hit(
        stem=song.click_stem,
        value=float(beats),
        at_s=at_s,
        sample=click_sample(song, at_s),
        message=message,
        facts={
            "missing": count(beats, "beat"),
            "it": "it" if beats == 1 else "them",
            "is_are": "is" if beats == 1 else "are",
            "place": clock(at_s),
            "beats": beats,
            **facts,
        },
    )


def _free_sections(song: SongEvidence, click: ClickTrack) -> Iterator[Outcome]:
    """One note: where the music goes without click."""
    shortest_s = (beats_a_bar(click) + 1.2) * (beat_s(click) or USUAL_BEAT_S)
    free = [(p.start_s, p.end_s) for p in click.pauses if p.end_s - p.start_s > shortest_s]
    words = [f"{clock(start, millis=False)} to {clock(end, millis=False)}" for start, end in free]
    first_s = free[0][0] if free else None
    if click.music_s is not None and starts_mid_song(click):
        words.insert(0, f"{clock(click.music_s, millis=False)} to {clock(click.first_beat_s, millis=False)}")
        first_s = click.music_s
    if not words:
        return
    yield Hit(
        stem=song.click_stem,
        at_s=first_s,
        severity=Severity.NOTE,
        message="music without click: {where}",
        cure="If the song is meant to be free there, nothing is to be done.",
        again="",
        facts={"where": ", ".join(words)},
    )


def _other_grids(song: SongEvidence, click: ClickTrack) -> Iterator[Outcome]:
    """One note: where the click goes on beside its old beats."""
    places = other_grids(click)
    if places:
        yield Hit(
            stem=song.click_stem,
            at_s=places[0][0],
            severity=Severity.NOTE,
            message="the click goes on beside its old beats: {where}",
            cure="If the song is meant to wait there, nothing is to be done; else bounce the click again.",
            again="",
            facts={"where": ", ".join(words for _, words in places)},
        )


@rule(
    id="click-extra",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=5.0, unit="ms"),
    message="a tick too many, {value:.0f} ms {side} the beat (limit {limit:g} ms)",
    cure="Bounce the click again; in the session look for a doubled note, two click tracks at once, or a "
    "region that was moved.",
    again="without the tick off the beat at {place}",
    means="The click holds a tick that stands on no beat: a doubled one, or a beat more than {limit:g} ms "
    "off the grid of the beats around it. Or a bar has a beat too many, and the stems go on in the old bars.",
    on_stage="The band stumbles: it hears two beats where there is one, or a beat that rushes or drags.",
    measured="A tick without which the beats around it are evenly spaced, or that stands beside the middle "
    "of two beats' distance; more than {limit:g} ms off, and further than beats around it usually lie. "
    "Steps, ramps and tempo maps drawn from a live take are tempo. A longer bar, with four usual ones on "
    "either side, is music unless the strokes of three stems, laid bar over bar, go on in the old bars and "
    "next to none turns with the click.",
    source="Friberg & Sundberg 1995, JASA 98, 2524–2531: a displaced tone is noticed from about 6 ms in "
    "fast, 2.5 % in slow sequences. The limit: own judgement, just below that, as a programmed "
    "click has none.",
)
def click_extra(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    click = song.click
    if click is None:
        yield NO_CLICK if song.click_stem is None else NOT_FOUND
        return
    yield from beats_too_many(song, click)
    extras = [extra for extra in click.extras if 1000.0 * abs(extra.off_s) > limit.value]
    if len(extras) > MOST_TOLD:
        worst = max(extras, key=lambda extra: abs(extra.off_s))
        yield _extra(
            song,
            worst,
            "{number} ticks stand on no beat; the worst is {value:.0f} ms {side} it (limit {limit:g} ms)",
            number=len(extras),
        )
        return
    for extra in extras:
        yield _extra(
            song,
            extra,
            "this beat sounds {value:.0f} ms {side} its place (limit {limit:g} ms)"
            if extra.instead
            else None,
        )


def _extra(song: SongEvidence, extra: ClickExtra, message: str | None, **facts: int) -> Hit:
    return Hit(
        stem=song.click_stem,
        value=1000.0 * abs(extra.off_s),
        at_s=extra.at_s,
        sample=click_sample(song, extra.at_s),
        message=message,
        facts={
            "side": "after" if extra.off_s > 0 else "before",
            "place": clock(extra.at_s),
            "off_ms": 1000.0 * extra.off_s,
            "instead_of_beat": extra.instead,
            **facts,
        },
    )


RULES = (click_missing, click_gap, click_extra)
