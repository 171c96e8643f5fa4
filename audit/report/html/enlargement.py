"""The place of a fault, large: its samples as paths, what the line in it stands at, and what it says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from audit.evidence import SongEvidence
from audit.findings import Finding
from audit.report.enlarged import Shown
from audit.report.figures import figure
from audit.report.html.pictures import highest, wave
from audit.report.words import listed
from audit.results import Excerpt, Place
from audit.units import clock, to_db


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One picture of a place: a channel's samples."""

    name: str  # `channel 2`, `the click`
    path: str
    filled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Enlarged:
    """The place, large."""

    rows: tuple[Row, ...]
    caption: str
    edge: str  # what the upper edge stands for: `−12.3 dBFS`
    at_pct: float | None  # where the line stands, in percent of the width
    from_pct: float  # where what the fault takes begins
    wide_pct: float  # how much of it the fault takes; 0: a point
    sides: tuple[str, str]  # what stands before and after the line; empty where that needs no words
    full_scale_y: float | None  # the height of full scale, 0 … 100 from above; None: off the picture
    beats_pct: tuple[float, ...]


def enlarge(
    finding: Finding,
    shown: Shown,
    excerpts: Mapping[Place, Excerpt],
    song: SongEvidence | None,
) -> Enlarged | None:
    """None where the place could not be read again. song: whose click's beats are drawn."""
    excerpt = excerpts.get(shown.place)
    if excerpt is None:
        return None
    top = max(highest(excerpt.traces) * 1.08, 1e-5)
    size_s, moment_s = shown.size_s, shown.moment_s
    beats = song.click.beats_s if song is not None and song.click is not None else ()
    end_s = excerpt.first_s + excerpt.span_s
    near = [beat for beat in beats if excerpt.first_s <= beat <= end_s] if excerpt.span_s >= 0.3 else []
    beside = excerpts.get(shown.beside) if shown.beside is not None else None
    begins_s = (moment_s or 0.0) + min(0.0, size_s)
    before, after = (finding.measured.get(side) for side in ("before", "after"))
    told = finding.rule == "timecode-jump" and isinstance(before, str) and isinstance(after, str)
    return Enlarged(
        rows=(*(_click_rows(beside) if beside else ()), *_rows(excerpt, top, alone=beside is None)),
        caption=_caption(finding, shown, excerpt, beside=beside is not None, beats=bool(near)),
        edge=figure(to_db(top), "dBFS", changed=True),
        at_pct=None if moment_s is None else percent((moment_s - excerpt.first_s) / excerpt.span_s),
        from_pct=percent((begins_s - excerpt.first_s) / excerpt.span_s) or 0.0,
        wide_pct=percent(min(abs(size_s), excerpt.span_s) / excerpt.span_s) or 0.0,
        sides=(str(before), str(after)) if told else ("", ""),
        full_scale_y=round(50.0 - 50.0 / top, 1) if top >= 1.0 else None,
        beats_pct=tuple(round(100.0 * (beat - excerpt.first_s) / excerpt.span_s, 2) for beat in near),
    )


def _rows(excerpt: Excerpt, top: float, *, alone: bool) -> tuple[Row, ...]:
    """A row a channel; beside the click the first one only, which tells as much."""
    traces = excerpt.traces if alone else excerpt.traces[:1]
    return tuple(
        Row(
            name=f"channel {trace.channel + 1}" if alone else "this stem",
            path=wave(trace, top),
            filled=trace.lows != trace.highs,
        )
        for trace in traces
    )


def _click_rows(click: Excerpt) -> tuple[Row, ...]:
    """At a scale of its own: it is there to tell the time."""
    top = max(highest(click.traces[:1]) * 1.08, 1e-5)
    return tuple(
        Row(name="the click", path=wave(trace, top), filled=trace.lows != trace.highs)
        for trace in click.traces[:1]
    )


def _caption(finding: Finding, shown: Shown, excerpt: Excerpt, *, beside: bool, beats: bool) -> str:
    where = shown.moment_s if shown.moment_s is not None else excerpt.first_s + excerpt.span_s / 2
    if beside:
        side = "late" if shown.size_s > 0.0 else "early"
        return (
            f"{span_words(excerpt.span_s)} around the beat at {clock(where)}: above the click, below "
            f"this stem; shaded: by what it is {side}"
        )
    drawn = "one dot a sample" if excerpt.column_frames == 1 else f"{excerpt.column_frames} samples a column"
    channels = [str(trace.channel + 1) for trace in excerpt.traces]
    many = f", channels {listed(channels)}" if len(channels) > 1 else ""
    turned = ": where one rises the other falls" if finding.rule == "opposite-polarity" else ""
    ticks = "; the ticks are the click’s beats" if beats else ""
    return f"{span_words(excerpt.span_s)} around {clock(where)}{many}, {drawn}{turned}{ticks}"


def percent(share: float) -> float | None:
    """A share of the picture's width; None outside."""
    return round(100.0 * share, 2) if 0.0 <= share <= 1.0 else None


def span_words(seconds: float) -> str:
    return f"{1000.0 * seconds:.3g} ms" if seconds < 1.0 else f"{seconds:.3g} s"
