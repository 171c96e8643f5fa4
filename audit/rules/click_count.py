"""Rules on what the click counts: its tempo and metre, and the beats before the music."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.results import ClickTrack
from audit.rules.asked import count_in_beats
from audit.rules.bars import NO_CLICK, NOT_FOUND, beats_a_bar, click_sample, starts_mid_song
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import count


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
            sample=click_sample(song, change.at_s),
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
    if click is None or click.count_in_beats is None or click.metre is None or starts_mid_song(click):
        return None
    return click.count_in_beats / beats_a_bar(click)


RULES = (click_tempo, click_count_in)
