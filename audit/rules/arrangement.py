"""The rule on stems that follow another arrangement than the others from some bar on."""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import common_length_s
from audit.findings import Severity
from audit.results import Rearranged
from audit.rules.astray import astray, astray_by_default
from audit.rules.bars import bar_at, beat_s, in_bars
from audit.rules.camps import Place, agree, two_camps
from audit.rules.endings import endings
from audit.rules.foreign import foreign_stem
from audit.rules.keys import key_mismatch
from audit.rules.parts import listed
from audit.rules.phases import TUNES
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import clock, count

NOBODY = "no click, or fewer than three stems whose harmony can be compared"


@rule(
    id="stale-arrangement",
    family="length",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    heeds=(key_mismatch, foreign_stem),
    limit=Limit(
        value=1.0,
        unit="bar",
        more={
            "before": 2.0,
            "tune_before": 3.0,
            "far_before": 3.0,
            "after": 2.5,
            "without": 1.8,
            "far": 4.0,
            "far_without": 3.0,
            "fit": 0.08,
            "gain": 0.05,
            "while_playing": 0.25,
            "length_ms": 20.0,
            "length_share": 0.65,
        },
    ),
    message="from {place} on it follows another arrangement: {span} {more_fewer} than {witnesses}; before it "
    "fits them as it stands{length}",
    cure="Find the current version of this stem and bounce it again over the whole song; if this one is the "
    "current one, the others are old.",
    again="of the song's current arrangement, over the whole song",
    means="Up to some bar the stem fits the others; from there on it fits them only {limit:g} bar or more "
    "early or late: somebody cut or repeated bars in one version of the song and not in this stem.",
    on_stage="All is well until that bar, then one part plays the wrong section to the end of the song.",
    measured="What every bar of the stem says for and against a lag of one to eight bars (shifted-by-beats) "
    "is added up from the end backward; the highest sum marks the place. Asked "
    "for: a correlation of {fit:g} with the change; at least two other stems, more than twice as many as "
    "say the opposite; the bars before outweigh their spread {before:g} times ({far_before:g} where it is "
    "past {far:g} bars: of many lags one is likelier to fit by chance; {tune_before:g} for tunes, which fit "
    "somewhere else as well) for the stem as it stands, "
    "the bars after it {after:g} times for the lag, and {without:g} times without the stem that says it "
    "loudest ({far_without:g} past {far:g} bars); {while_playing:.0%} of the gain lie where both play: who "
    "rests later than others is arranged so. A file that is longer or shorter than the song by that "
    "many bars, within {length_ms:g} ms, lowers these to {length_share:.0%}. The place is told to about a "
    "bar; a change within the first or last four bars, or by a whole loop of the harmony, cannot be told. "
    "Two camps of equal size are one warning. Not asked of stems that stand in another key or belong to "
    "another song: their chords fit nobody (key-mismatch, foreign-stem).",
    source="The bounds: own measurement, as for shifted-by-beats.",
)
def stale_arrangement(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if all(stem.alignment is None or stem.alignment.beats is None for stem in song.stems):
        yield NotApplicable(reason=NOBODY)
        return
    elsewhere = astray(song, show, limit)
    in_key = [stem for stem in song.stems if stem.name not in elsewhere]
    for stem in in_key:
        change = stem.alignment.rearranged if stem.alignment is not None else None
        if change is not None and is_rearranged(change, song, stem, limit):
            yield _change_hit(song, stem, change, limit)
    camps = two_camps(
        [
            Place(stem=stem.name, beats=change.shift_beats, saying_so=change.saying_so)
            for stem in in_key
            if stem.alignment is not None
            and (change := stem.alignment.rearranged) is not None
            and min(change.sure_before / limit["before"], change.sure_after / limit["after"]) >= 1.0
            and change.at_best - change.at_zero >= limit["gain"]
        ]
    )
    if camps is not None:
        more, fewer, size = camps
        yield Hit(
            value=size / ((song.click.beats_a_bar if song.click is not None else None) or 4),
            severity=Severity.WARNING,
            message="two arrangements: from some bar on {more} have {span} more than {fewer}; each camp "
            "holds together",
            cure="Find out which version is the current one, and bounce the stems of the other again.",
            facts={
                "span": in_bars(size, song.click),
                "more": listed(more, 4),
                "fewer": listed(fewer, 4),
                "more_stems": more,
                "fewer_stems": fewer,
            },
        )


def is_rearranged(change: Rearranged, song: SongEvidence, stem: StemEvidence, limit: Limit) -> bool:
    """Whether the evidence is enough to say that a stem leaves the arrangement."""
    bar = song.click.beats_a_bar if song.click is not None else None
    by_length = _length_says_so(change, song, stem, limit)
    share = limit["length_share"] if by_length else 1.0
    far = abs(change.shift_beats) > limit["far"] * (bar or 4)
    before = limit["far_before" if far else "before"]
    if stem.role in TUNES:
        before = max(before, limit["tune_before"])
    return (
        (by_length or change.while_playing >= limit["while_playing"])
        and change.sure_before >= share * before
        and change.sure_after >= share * limit["after"]
        and change.sure_without_loudest >= share * limit["far_without" if far else "without"]
        and change.at_best >= limit["fit"]
        and change.at_best - change.at_zero >= limit["gain"]
        and agree(change.saying_so, change.against)
    )


def follows_another_arrangement(song: SongEvidence, stem: StemEvidence, show: ShowEvidence) -> bool:
    """Whether stale-arrangement, by its own limit, would speak of this stem alone."""
    change = stem.alignment.rearranged if stem.alignment is not None else None
    assert stale_arrangement.limit is not None
    if change is None or not is_rearranged(change, song, stem, stale_arrangement.limit):
        return False
    return stem.name not in astray_by_default(show, song.name)


def _length_says_so(change: Rearranged, song: SongEvidence, stem: StemEvidence, limit: Limit) -> bool:
    """Whether the file is longer or shorter than half of the music by as much as the lag."""
    lengths_s = [ending.end_s for ending in endings(song) if ending.stem.audience]
    common_s = common_length_s(lengths_s, 0.01) if len(lengths_s) > 2 else None
    beat = beat_s(song.click)
    if common_s is None or beat is None or stem.format is None:
        return False
    off_s = stem.format.duration_s - common_s - change.shift_beats * beat
    return abs(off_s) <= limit["length_ms"] / 1000.0


def _change_hit(song: SongEvidence, stem: StemEvidence, change: Rearranged, limit: Limit) -> Hit:
    bar = bar_at(change.at_s, song.click) if song.click is not None else None
    a_bar = (song.click.beats_a_bar if song.click is not None else None) or 4
    rate_hz = stem.format.sample_rate_hz if stem.format is not None else 48_000
    more = change.shift_beats > 0.0
    span = in_bars(change.shift_beats, song.click)
    says_so = _length_says_so(change, song, stem, limit)
    return Hit(
        stem=stem.name,
        value=change.shift_beats / a_bar,
        at_s=change.at_s,
        sample=round(change.at_s * rate_hz),
        confidence=min(1.0, min(change.sure_before, change.sure_without_loudest) / 4.0),
        facts={
            "place": f"bar {bar} ({clock(change.at_s, millis=False)})" if bar else clock(change.at_s),
            "bar": bar,
            "span": span,
            "more_fewer": "more" if more else ("fewer" if abs(change.shift_beats) >= a_bar else "less"),
            "shift_beats": change.shift_beats,
            "witnesses": listed(change.saying_so, 4),
            "agreeing": change.saying_so,
            "length": f"; its file is {span} {'longer' if more else 'shorter'} too" if says_so else "",
            "sure_before": change.sure_before,
            "sure_after": change.sure_after,
            "sure_without_loudest": change.sure_without_loudest,
            "stems": count(len(change.saying_so), "stem"),
        },
    )


RULES = (stale_arrangement,)
