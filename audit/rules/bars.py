"""Beats and bars of a song's click, as rules say them."""

from __future__ import annotations

from bisect import bisect_right

from audit.evidence import SongEvidence
from audit.results import ClickTrack
from audit.rules.rule import NotApplicable
from audit.units import clock, count

NO_CLICK = NotApplicable(reason="no click in the song")
NOT_FOUND = NotApplicable(reason="no click found in the click stem: see click-missing")

USUAL_BEAT_S = 0.5
"""Where the click tells no tempo."""

WHOLE_BARS_S = 0.02
"""Lengths this near to whole bars are told in bars."""


def beat_s(click: ClickTrack | None) -> float | None:
    """Length of a beat in the click's longest run; None without a tempo."""
    return 60.0 / click.bpm if click is not None and click.bpm else None


def in_bars(beats: float, click: ClickTrack | None) -> str:
    """`2 bars`, `3 beats`: whole bars where the click's accents tell a metre. Always positive."""
    size = abs(beats)
    bar = click.beats_a_bar if click is not None else None
    if bar and size >= bar and size % bar == 0:
        return count(round(size / bar), "bar")
    return count(round(size), "beat")


def bars_of(seconds: float, click: ClickTrack | None, within_s: float) -> str | None:
    """`2 bars` for a length of whole bars at the click's tempo; None where it is none, or nothing tells."""
    beat, bar = beat_s(click), click.beats_a_bar if click is not None else None
    if beat is None or bar is None or click is None or len(click.runs) == 0:
        return None
    longest = max(click.runs, key=lambda run: run.beats)
    bars = round(abs(seconds) / (beat * bar))
    steady = longest.steady and bars >= 1 and abs(abs(seconds) - bars * beat * bar) <= within_s
    return count(bars, "bar") if steady else None


def bar_at(at_s: float, click: ClickTrack) -> int | None:
    """The bar that begins at a time or holds it, counted from 1, the count-in left out; None without a metre
    or in the count-in."""
    bar = click.beats_a_bar
    if bar is None:
        return None
    beat = bisect_right(click.beats_s, at_s + 0.02) - 1 - (click.count_in_beats or 0)
    return beat // bar + 1 if beat >= 0 else None


def click_sample(song: SongEvidence, at_s: float) -> int | None:
    """A place as a frame of the click stem."""
    rate = next(
        (stem.format.sample_rate_hz for stem in song.stems if stem.name == song.click_stem and stem.format),
        None,
    )
    return None if rate is None else round(at_s * rate)


def beats_a_bar(click: ClickTrack) -> int:
    """Of the metre that the accents tell; 4 where they do not."""
    return int(click.metre.partition("/")[0]) if click.metre else 4


def starts_mid_song(click: ClickTrack) -> bool:
    """Music sounds a bar or more before the first beat."""
    bar_s = beats_a_bar(click) * (beat_s(click) or USUAL_BEAT_S)
    return click.music_s is not None and click.first_beat_s - click.music_s >= bar_s


def behind_a_quarter_s(at_s: float, click: ClickTrack) -> float | None:
    """How far behind the nearest quarter of a beat a moment lies (negative: ahead of it); None outside the
    click."""
    if (beat := _beat_of(at_s, click)) is None:
        return None
    quarter = (click.beats_s[beat + 1] - click.beats_s[beat]) / 4.0
    quarters = (at_s - click.beats_s[beat]) / quarter
    return (quarters - round(quarters)) * quarter


def beats_at(at_s: float, click: ClickTrack) -> float | None:
    """How many beats after the click's first a moment lies; None outside the click."""
    if (beat := _beat_of(at_s, click)) is None:
        return None
    return beat + (at_s - click.beats_s[beat]) / (click.beats_s[beat + 1] - click.beats_s[beat])


def _beat_of(at_s: float, click: ClickTrack) -> int | None:
    """The beat that a moment belongs to; None outside the click."""
    beat = bisect_right(click.beats_s, at_s) - 1
    return beat if 0 <= beat < len(click.beats_s) - 1 else None


def span(seconds: float, click: ClickTrack | None = None) -> str:
    """`25 ms`, `3.20 s`, `1:12 min`: a length of time as one says it; `2 bars (4.00 s)` where it is that at
    the click's tempo."""
    bars = bars_of(seconds, click, WHOLE_BARS_S)
    if bars is not None:
        return f"{bars} ({span(seconds)})"
    if seconds < 1.0:
        return f"{seconds * 1000:.0f} ms"
    return f"{seconds:.2f} s" if seconds < 60.0 else f"{clock(seconds, millis=False)} min"
