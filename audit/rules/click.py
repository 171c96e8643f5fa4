"""Rules on the click: whether there is one, and whether its beats are all there and on the grid."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.results import ClickExtra, ClickTrack
from audit.rules.asked import count_in_beats
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import clock, count

MOST_TOLD = 6
"""More faults of one kind in a click are told in one line."""

NO_CLICK = NotApplicable(reason="no click in the song")
NOT_FOUND = NotApplicable(reason="no click found in the click stem: see click-missing")


def _sample(song: SongEvidence, at_s: float) -> int | None:
    """A place as a frame of the click stem."""
    rate = next(
        (stem.format.sample_rate_hz for stem in song.stems if stem.name == song.click_stem and stem.format),
        None,
    )
    return None if rate is None else round(at_s * rate)


def _beats_a_bar(click: ClickTrack) -> int:
    return int(click.metre.partition("/")[0]) if click.metre else 4


def _beat_s(click: ClickTrack) -> float:
    return 60.0 / click.bpm if click.bpm else 0.5


def _starts_mid_song(click: ClickTrack) -> bool:
    """Music sounds a bar or more before the first beat."""
    bar_s = _beats_a_bar(click) * _beat_s(click)
    return click.music_s is not None and click.first_beat_s - click.music_s >= bar_s


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
    message="{missing} missing; the count goes on after {it} as if nothing had happened",
    cure="Bounce the click again; in the session look for a hole in the click track or a muted region.",
    again="with the {missing} at {place} that {is_are} missing now",
    means="One beat of the click, or up to a bar, is missing, and the beats after it stand on the same grid.",
    on_stage="The band loses the count in the middle of a song, every night at the same place.",
    measured="Intervals between beats against the intervals around them: a whole number of beats, to within "
    "2 ms or 0.3 % of a beat (more only as far as the tempo itself moves). Where accents tell the bar, the "
    "bar has to lack those beats, so a held beat is none. Longer silences, and other grids after them, are "
    "free sections: one note lists them. Under a voice the tick's own waveform is searched for before it is "
    "called missing.",
    source="Own judgement: up to a bar is an accident, more is an arrangement.",
)
def click_gap(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    click = song.click
    if click is None:
        yield NO_CLICK if song.click_stem is None else NOT_FOUND
        return
    if len(click.gaps) > MOST_TOLD:
        yield _gap(
            song,
            click.gaps[0].at_s,
            sum(gap.beats for gap in click.gaps),
            message="{missing} missing in {places} places; the count goes on each time",
            places=len(click.gaps),
        )
    else:
        yield from (_gap(song, gap.at_s, gap.beats) for gap in click.gaps)
    yield from _free_sections(song, click)


def _gap(song: SongEvidence, at_s: float, beats: int, message: str | None = None, **facts: int) -> Hit:
    return Hit(
        stem=song.click_stem,
        at_s=at_s,
        sample=_sample(song, at_s),
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
    shortest_s = (_beats_a_bar(click) + 1.2) * _beat_s(click)
    free = [(p.start_s, p.end_s) for p in click.pauses if p.end_s - p.start_s > shortest_s]
    words = [f"{clock(start, millis=False)} to {clock(end, millis=False)}" for start, end in free]
    first_s = free[0][0] if free else None
    if click.music_s is not None and _starts_mid_song(click):
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
    "off the grid of the beats around it.",
    on_stage="The band stumbles: it hears two beats where there is one, or a beat that rushes or drags.",
    measured="A tick without which the beats around it are evenly spaced, or that stands beside the middle "
    "of two beats' distance; more than {limit:g} ms off, and further than beats around it usually lie. "
    "Steps, ramps and tempo maps drawn from a live take are tempo.",
    source="Friberg & Sundberg 1995, JASA 98, 2524–2531: a displaced tone is noticed from about 6 ms in "
    "fast, 2.5 % in slow sequences. The limit: own judgement, just below that, as a programmed "
    "click has none.",
)
def click_extra(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    click = song.click
    if click is None:
        yield NO_CLICK if song.click_stem is None else NOT_FOUND
        return
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
        sample=_sample(song, extra.at_s),
        message=message,
        facts={
            "side": "after" if extra.off_s > 0 else "before",
            "place": clock(extra.at_s),
            "off_ms": 1000.0 * extra.off_s,
            "instead_of_beat": extra.instead,
            **facts,
        },
    )


@rule(
    id="click-tempo",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=0.1, unit="%"),
    message="the click counts in {what} time from here on",
    cure="If the song is meant to be counted so, nothing is to be done; else bounce the click again.",
    again="at the tempo and metre of the song's current session",
    means="The click has not the tempo or metre that the settings name (within {limit:g} %). Without "
    "settings: from some beat on it counts exactly twice or half as fast.",
    on_stage="A band that expects the other count plays at half or double speed for a bar.",
    measured="The tempo of each run of beats against the settings: the steady run that is nearest; 6/8 "
    "may be "
    "counted in six or in two. Eight even beats followed by eight of half or twice their "
    "length are half or double time, and a note.",
    source="Common practice.",
)
def click_tempo(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    click = song.click
    if click is None:
        yield NO_CLICK if song.click_stem is None else NOT_FOUND
        return
    yield from _against_settings(song, click, limit)
    for change in click.changes:
        yield Hit(
            stem=song.click_stem,
            at_s=change.at_s,
            sample=_sample(song, change.at_s),
            severity=Severity.NOTE,
            facts={"what": "double" if change.ratio > 1.0 else "half", "ratio": change.ratio},
        )


def _against_settings(song: SongEvidence, click: ClickTrack, limit: Limit) -> Iterator[Hit]:
    """Tempo and metre against the song's entry. One run of beats at the tempo is enough: others may ramp."""
    asked, metre = song.settings.bpm, song.settings.metre
    tempi = [run.bpm_first for run in click.runs if run.steady] or ([click.bpm] if click.bpm else [])
    if asked is not None and tempi:
        own = min(tempi, key=lambda bpm: abs(bpm - asked))
        off = round(100.0 * (own / asked - 1.0), 9)  # 119.88 of 120 is −0.1 %, not a hair more
        if abs(off) > limit.value:
            twice = any(abs(own / asked / ratio - 1.0) < 0.001 for ratio in (0.5, 2.0))
            yield Hit(
                stem=song.click_stem,
                value=off,
                message=_TWICE if twice else _TEMPO,
                cure=_TEMPO_CURE,
                facts={"own": own, "asked": asked, "what": "twice" if own > asked else "half"},
            )
    if metre is not None and click.metre is not None and not _counts(click, metre):
        yield Hit(
            stem=song.click_stem,
            message="the click counts {metre}, the settings say {asked_metre}",
            cure=_TEMPO_CURE,
            facts={"metre": click.metre, "asked_metre": metre},
        )


_TEMPO = "the click runs at {own:.2f} beats a minute, the settings say {asked:.2f}: {value:+.2f} % (limit "
_TEMPO += "{limit:g} %)"
_TWICE = (
    "the click counts {what} as fast as the settings say: {own:.2f} beats a minute instead of {asked:.2f}"
)
_TEMPO_CURE = (
    "Bounce the click again from the song's current session, or put the right number into the settings."
)


def _counts(click: ClickTrack, metre: str) -> bool:
    """Whether a click with that many beats a bar may be of the metre: 6/8 is counted in six or in two."""
    beats, _, note = metre.partition("/")
    ways = {int(beats)}
    if int(note) >= 8 and int(beats) % 3 == 0:
        ways.add(int(beats) // 3)
    return click.beats_a_bar in ways


@rule(
    id="click-count-in",
    family="timing",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    limit=Limit(value=5.0, unit="songs"),
    message="{own} of count-in; {agreeing:.0f} other songs have {usual}",
    cure="If the song is meant to start so, nothing is to be done; else put the count-in before the music "
    "and bounce all stems again, so that they stay in line.",
    again="with as long a count-in as the show uses, all stems of the song with it",
    means="The click gives fewer beats before the music than the settings ask. Without settings: fewer bars "
    "than the show's other songs have, where at least {limit:g} of them agree; then it is a note.",
    on_stage="The band, used to the longer count, misses the first bar.",
    measured="Beats of the click before the bar in which the first stem for the audience sounds, in bars of "
    "the song's own metre. Songs that begin without click are left out.",
    source="Common practice.",
)
def click_count_in(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    asked = count_in_beats(song, show)
    if asked is not None and song.click is not None and song.click.count_in_beats is not None:
        if song.click.count_in_beats < asked:
            yield Hit(
                stem=song.click_stem,
                value=float(song.click.count_in_beats),
                limit=float(asked),
                unit="beats",
                at_s=song.click.first_beat_s,
                message="{own} of count-in, the settings ask {asked}",
                facts={
                    "own": count(song.click.count_in_beats, "beat"),
                    "asked": count(asked, "beat"),
                },
            )
        return
    bars = _count_in_bars(song)
    if bars is None or song.click is None:
        yield NotApplicable(reason="no count-in to be told")
        return
    others = [
        other
        for entry in show.songs
        if entry.name != song.name and (other := _count_in_bars(entry)) is not None
    ]
    usual, agree = max(Counter(others).items(), key=lambda entry: (entry[1], entry[0]), default=(0.0, 0))
    if agree < limit.value:
        yield NotApplicable(reason="too few songs agree on a count-in")
        return
    if bars < usual:
        yield Hit(
            stem=song.click_stem,
            value=bars,
            limit=usual,
            unit="bars",
            at_s=song.click.first_beat_s,
            severity=Severity.NOTE,
            facts={
                "own": count(song.click.count_in_beats or 0, "beat"),
                "usual": f"{usual:g} bar{'' if usual == 1.0 else 's'}",
                "bars": bars,
                "usual_bars": usual,
                "agreeing": agree,
            },
        )


def _count_in_bars(song: SongEvidence) -> float | None:
    """Bars of count-in; None without click, metre or music, and where the music begins without click."""
    click = song.click
    if click is None or click.count_in_beats is None or click.metre is None or _starts_mid_song(click):
        return None
    return click.count_in_beats / _beats_a_bar(click)


RULES = (click_missing, click_gap, click_extra, click_tempo, click_count_in)
