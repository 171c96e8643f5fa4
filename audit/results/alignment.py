"""A stem against its song's click and its other stems."""

from __future__ import annotations

import math
from dataclasses import dataclass

MULTIPLES = (1, 2, 3, 4, 6, 8)
"""Notes to a beat."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """How a stem lies against another one of its song."""

    stem: str
    lag_ms: float  # median; positive = plays after it
    meetings: int  # onsets of both that belong together


@dataclass(frozen=True, slots=True, kw_only=True)
class MeetingLag:
    """A lag at which a stem's strokes meet those of the other stems, against the click's beat."""

    lag_ms: float
    height: float  # meetings above chance, over its strokes and the others


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """Where a stem's onsets lie in the beat, by the feel that the song's other stems share."""

    offset_ms: float  # median against the click; positive = late
    from_others_ms: float  # median against the other stems' pattern (the click's where there is none)
    iqr_ms: float  # interquartile range of the single onsets
    onsets: int  # that could be used
    share: float  # 0 … 1: part of the stem's onsets that fit
    against: tuple[Against, ...]  # the other stems it could be compared with
    confidence: float  # 0 … 1
    error_ms: float = 0.0  # standard error of the offset; allows for sections that push or lie back
    # −1 … 1: strokes on the beats less those half-way between them, over both; its own offset taken off
    on_beat: float | None = None
    # 0 … 1: shares of its strokes' strength at the quarters of the beat; its own offset taken off
    quarters: tuple[float, float, float, float] | None = None
    # median against the parts of the click's beat that its strokes lie on (whole, half, third or quarter),
    # whatever the other stems do; None where they lie on none (swing)
    grid_ms: float | None = None
    half_later_ms: float | None = None  # the lag about half a beat later than `offset_ms` that fits best,
    half_earlier_ms: float | None = None  # and earlier, both against the click; None: none does
    lags: tuple[MeetingLag, ...] = ()  # at which it meets the other stems best, a beat to either side

    @property
    def click_ms(self) -> float:
        """Against the click alone, as well as it can be told."""
        return self.offset_ms if self.grid_ms is None else self.grid_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """How a stem slides against the click."""

    ppm: float  # positive = later and later: it plays too slowly
    low_ppm: float  # 95 % bounds
    high_ppm: float
    first_half_ppm: float
    second_half_ppm: float
    slide_ms: float  # from its first onset to its last
    onsets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongRate:
    """Onsets that meet the song's others only after their times are multiplied."""

    ratio: float  # content's duration over the file's: 160/147 = 44.1 kHz content that claims 48 kHz
    fit: float  # 0 … 1: share of its onsets that meet others' after it
    fit_as_is: float
    onsets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatPlace:
    """Where a stem's harmony fits the other stems' best, within two beats to either side; beats, positive =
    after them. Slow attacks lie late, by about as much in every song."""

    at_beats: float
    fit: float  # there: a correlation, −1 … 1
    halves_beats: tuple[float, float]  # in the first half of the song and in the second
    without_one_beats: float  # of the places without one other stem each, that farthest from the first
    by_stem: tuple[tuple[str, float], ...]  # against each other stem alone


@dataclass(frozen=True, slots=True, kw_only=True)
class OneBar:
    """How a stem's harmony fits the others' one bar from where it stands, on the better side."""

    shift_beats: float  # positive = late
    fit: float
    without_loudest: float  # without the stem that gains most there
    loudest: float  # the fit with that one alone
    gain_by_changes: float  # by how much it fits better there, by what begins and where chords turn alone
    gain_by_state: float  # and by what sounds alone
    sure: float  # that it fits better there than as it is
    sure_without_loudest: float
    saying_so: tuple[str, ...]
    against: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Beats:
    """At which lag of whole beats a stem's harmony fits the other stems' best, and how it fits as it is.

    Fits are correlations, −1 … 1. Sureness: bars that say so over the root of all that say anything.
    """

    shift_beats: float  # the best lag (of several alike the smallest); positive = late
    at_best: float
    at_best_without_loudest: float  # without the stem that says it loudest: whoever follows it fits no other
    at_zero: float  # as it is
    half_late: float  # half a beat after it is
    half_early: float
    gain_by_changes: float  # by how much it fits better there, by what begins and where chords turn alone
    gain_by_state: float  # and by what sounds alone
    second_beats: float
    at_second: float  # the next best lag, more than a beat away; a loop's length off it fits alike
    sure: float  # that the best lag is better than none
    sure_without_loudest: float  # the same without the stem that says it loudest
    usual: float  # how well the other stems fit one another
    backbeat: float  # strokes on the beats beside the others' turns of chord over those on them
    on_turns: float  # strokes where the others' chords turn beside those a beat after; 0: never there
    saying_so: tuple[str, ...]  # other stems that fit better at that lag
    against: tuple[str, ...]  # that fit better as it is
    place: BeatPlace | None = None
    a_bar: OneBar | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstAndLast:
    """On which beats a stem begins and ends: 0 is the click's first. Before it and after its last one the
    click's usual beat is counted on."""

    first_beats: float
    last_beats: float
    strokes: int
    on_beats: float  # 0 … 1: part of the click's beats between these two that it strikes on


@dataclass(frozen=True, slots=True, kw_only=True)
class BarTurns:
    """On which beat of the bar, by the click's accents, a stem's chords turn and its sounds begin. Shares of
    each beat of a bar, adding up to 1."""

    turns: tuple[float, ...]
    begins: tuple[float, ...]
    bars: int  # whole bars in which something turns
    sure: float  # that they turn rather where they mostly do than on the first beat: bars over their root


@dataclass(frozen=True, slots=True, kw_only=True)
class ByLength:
    """How a stem's strokes meet the others' moved by what its file is longer than theirs, and as they stand.
    Meetings are told in standard deviations above chance."""

    lag_ms: float  # positive = longer, and late if all of that stands before it
    beside_ms: float  # where they meet best, from there
    there: float
    as_is: float
    anywhere: float  # at any lag about a second around
    strokes: int
    others: int  # stems of the usual length that were asked


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """The pulse that the stems of a song share where none of them keeps to its click, or that one has of its
    own where others keep to it. Fits: 0 … 1, how its onsets gather at one place."""

    per_beat: float  # how many of it come to a beat of the click
    fit: float  # to this pulse
    on_click: float  # to the beat of the click, or its parts down to the eighth
    onsets: int
    # of one of its own: how its harmony fits the other stems' as it stands, over how these fit one another;
    # None: not known
    harmony: float | None = None
    turns: tuple[float, float] | None = (
        None  # how its chords' turns gather on the click, and at its own tempo
    )

    @property
    def tempo_ratio(self) -> float:
        """The stem's tempo over the click's: the nearest of those that the pulse may be a multiple of."""
        return min((self.per_beat / notes for notes in MULTIPLES), key=lambda one: abs(math.log(one)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rearranged:
    """A place from which on a stem fits the others only at another lag: bars more or fewer than they have."""

    at_s: float
    shift_beats: float  # from there on; positive = late, it has more
    sure_before: float  # that as it is is better, before
    sure_after: float  # that the lag is better, from there on
    sure_without_loudest: float
    at_best: float  # fit with the change
    at_zero: float  # and without
    while_playing: float  # 0 … 1: how much of that gain lies where both play, as it is and with the change
    saying_so: tuple[str, ...]
    against: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """A stem against its song's click and its other stems. None: it cannot be told."""

    phase: Phase | None
    drift: Drift | None
    wrong_rate: WrongRate | None
    beats: Beats | None = None
    rearranged: Rearranged | None = None
    bar_turns: BarTurns | None = None
    pulse: Pulse | None = None  # shared by the song's stems; None: one of them keeps to the click
    first_and_last: FirstAndLast | None = None
    by_length: ByLength | None = None  # None: its file is as long as the others', or too little meets
    own_pulse: Pulse | None = None  # None: it keeps to the click, or to nothing, or no other stem does
