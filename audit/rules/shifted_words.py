"""How a stem that is off by whole beats is told: by which evidence, and which way to move it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import common_length_s
from audit.findings import Fact, Severity
from audit.results import Beats, OneBar
from audit.rules.bars import USUAL_BEAT_S, beat_s, in_bars
from audit.rules.beat_habits import Beside
from audit.rules.first_and_last import USUAL_BAR, Framed
from audit.rules.likeness import alike
from audit.rules.off_the_bar import OffTheBar
from audit.rules.parts import listed
from audit.rules.rule import Hit

SAME_LENGTH_S = 0.01

APART_S = 0.04
"""Two lags so far apart are two: players lie up to this beside the beat."""

AS_WELL = 0.9
"""A lag that fits so nearly as well is named too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Off:
    """A stem that is off by whole beats. beside: by its role's habit alone. bar: by the click's bars; beats:
    None where only these tell."""

    stem: StemEvidence
    beats: Beats | None
    shift_beats: float  # positive = late
    saying_so: tuple[str, ...]
    sure: bool = True
    beside: Beside | None = None
    bar: OffTheBar | None = None
    framed: Framed | None = None  # told by where it begins and ends alone
    one_bar: OneBar | None = None  # told by how it fits a bar away, whatever lag fits best
    beside_ms: float = 0.0  # off within the beat as well

    @property
    def fit(self) -> float:
        """How well it fits moved by that."""
        if self.one_bar is not None:
            return self.one_bar.fit
        return self.beats.at_best if self.beats is not None else 0.0

    @property
    def or_by(self) -> tuple[float, str] | None:
        """Another lag that fits as well or better, in beats, and which of the two; None: there is none."""
        if self.beats is None:
            return None
        lags = ((self.beats.shift_beats, self.beats.at_best), (self.beats.second_beats, self.beats.at_second))
        for lag, fit in lags:
            if lag != self.shift_beats and fit >= AS_WELL * self.fit:
                return lag, "better" if AS_WELL * fit > self.fit else "as well"
        return None


def shift_hit(song: SongEvidence, off: Off, beside_ms: float = 0.0) -> Hit:
    """beside_ms: what it lies off within the beat, past its place."""
    off = replace(off, beside_ms=beside_ms)
    if off.bar is not None:
        return _bar_hit(song, off, off.bar)
    if off.framed is not None:
        return _framed_hit(song, off, off.framed)
    stem, beats = off.stem, off.beats
    assert beats is not None
    second, one_bar = off.or_by, off.one_bar
    facts: dict[str, Fact] = {
        **_place_facts(song, off),
        "fit": off.fit,
        "as_is_fit": beats.at_zero,
        "there": alike(off.fit),
        "here": alike(beats.at_zero),
        "or_by": f" (or {in_bars(second[0], song.click)} {_side(second[0])}, which fits {second[1]})"
        if second is not None
        else "",
        "sure": (one_bar or beats).sure,
        "sure_without_loudest": (one_bar or beats).sure_without_loudest,
    }
    if off.beside is not None:
        return _beside_hit(off, off.beside, facts)
    return Hit(
        stem=stem.name,
        value=off.shift_beats,
        severity=None if off.sure else Severity.WARNING,
        confidence=max(0.0, min(1.0, (one_bar or beats).sure_without_loudest / 4.0)),
        facts=facts,
    )


def _place_facts(song: SongEvidence, off: Off) -> dict[str, Fact]:
    """How far it is off and by whose word, of whatever evidence."""
    stem = off.stem
    rate_hz = stem.format.sample_rate_hz if stem.format is not None else 48_000
    beside_ms = off.beside_ms
    seconds = abs(off.shift_beats * (beat_s(song.click) or USUAL_BEAT_S) + beside_ms / 1000.0)
    return {
        "early_late": _side(off.shift_beats),
        "cure_way": "earlier" if off.shift_beats > 0.0 else "later",
        "span": in_bars(off.shift_beats, song.click),
        "seconds": seconds,
        "samples": round(seconds * rate_hz),
        "witnesses": listed(off.saying_so, 4),
        "first": next(iter(off.saying_so), song.click_stem or "the click"),
        "beside": (f"; within the beat {abs(beside_ms):.0f} ms {_side(beside_ms)}" if beside_ms else "")
        + _by_its_length(stem, song, seconds if off.shift_beats > 0.0 else -seconds),
        "agreeing": off.saying_so,
    }


def _by_its_length(stem: StemEvidence, song: SongEvidence, off_s: float) -> str:
    """What its file's length says of a stem that is off about as much: beats are told only by the beat."""
    lengths_s = {one.name: one.format.duration_s for one in song.stems if one.format is not None}
    own_s = lengths_s.pop(stem.name, None)
    usual_s = common_length_s(list(lengths_s.values()), SAME_LENGTH_S) if len(lengths_s) > 1 else None
    if own_s is None or usual_s is None:
        return ""
    longer_s = own_s - usual_s
    beat = beat_s(song.click) or USUAL_BEAT_S
    if longer_s * off_s <= 0.0 or not APART_S <= abs(longer_s - off_s) <= beat:
        return ""
    if longer_s > 0.0:
        return f"; its file is {longer_s:.3f} s longer: if something was put before it, it is late by that"
    return f"; its file is {-longer_s:.3f} s shorter: if its start was cut off, it is early by that"


def _bar_hit(song: SongEvidence, off: Off, bar: OffTheBar) -> Hit:
    return Hit(
        stem=off.stem.name,
        value=off.shift_beats,
        severity=None if off.sure else Severity.WARNING,
        confidence=bar.sure,
        message="{early_late} by {span} ({seconds:.3f} s, {samples} samples): its chords turn on beat "
        "{on_beat} of the click's bar ({of_turns}), {others_do} on the first{beside}",
        facts={
            **_place_facts(song, off),
            "on_beat": bar.place,
            "share": bar.share,
            "of_turns": alike(bar.share),
            "others_do": f"those of {listed(bar.on_first, 4)}"
            if bar.on_first
            else f"those of the {off.stem.role.value} in {bar.songs} other songs",
        },
    )


def is_note(off: Off, song: SongEvidence) -> bool:
    """Whole bars by its beginning and end alone: a part may come in a bar later and have the last one to
    itself."""
    bar = (song.click.beats_a_bar if song.click is not None else None) or USUAL_BAR
    return off.framed is not None and off.shift_beats % bar == 0.0


def _framed_hit(song: SongEvidence, off: Off, framed: Framed) -> Hit:
    return Hit(
        stem=off.stem.name,
        value=off.shift_beats,
        severity=Severity.NOTE if is_note(off, song) else Severity.WARNING,
        message="{early_late} by {span} ({seconds:.3f} s, {samples} samples): it begins {span} {side} "
        "{starting} and ends {span} {side} {ending}, and with nobody as it stands{beside}",
        facts={
            **_place_facts(song, off),
            "side": "after" if off.shift_beats > 0.0 else "before",
            "starting": listed(framed.starting, 3),
            "ending": listed(framed.ending, 3),
        },
    )


def _beside_hit(off: Off, beside: Beside, facts: dict[str, Fact]) -> Hit:
    habit = beside.habit
    return Hit(
        stem=off.stem.name,
        value=off.shift_beats,
        severity=Severity.WARNING,
        confidence=0.9 * beside.sure,
        message="{early_late} by {span} ({seconds:.3f} s, {samples} samples): its chords come {place} those "
        "of {witnesses}{usually}{beside}",
        facts={
            **facts,
            "place": _after(beside.place_s),
            "usually": f", in the show's other songs the {off.stem.role.value} {_after(habit.usual_s)} them"
            if habit.songs
            else "",
            "place_s": beside.place_s,
            "usual_s": habit.usual_s,
            "usual_songs": habit.songs,
        },
    )


def _after(seconds: float) -> str:
    """`0.25 s after`; `with` where it is next to none."""
    if abs(seconds) < 0.05:
        return "with"
    return f"{abs(seconds):.2f} s {'after' if seconds > 0.0 else 'before'}"


def _side(late: float) -> str:
    return "late" if late > 0.0 else "early"
