"""A click, beat by beat, and what leaks."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickTempo:
    """A stretch of the click in one tempo, or a ramp from one to another."""

    at_s: float  # its first beat
    bpm_first: float  # the same where it is no ramp
    bpm_last: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickRun:
    """Beats of the click that follow one another without a break, whatever their tempo does."""

    first_beat: int  # index into ClickTrack.beats_s
    beats: int
    bpm_first: float  # of its first beats and of its last; the same where `steady`
    bpm_last: float
    steady: bool  # one tempo all the way
    tempi: tuple[ClickTempo, ...] = ()  # in order


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickGap:
    """Beats that are missing while the same grid goes on after them."""

    at_s: float  # where the first of them should have been
    beats: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickExtra:
    """A tick that stands on no beat: a doubled one, or one off the grid."""

    at_s: float
    off_s: float  # from the nearest beat of the grid; positive = after it
    instead: bool  # True: that beat itself is missing, so it was moved rather than added


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickChange:
    """From here on the click counts at another multiple of its tempo: 2.0 double time, 0.5 half time."""

    at_s: float
    ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickPause:
    """Music without click between two runs: a free section."""

    start_s: float  # the last beat before it, and the first after it
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickJump:
    """Where the click goes on at the same tempo, but beside the beats that it had before."""

    last_s: float  # the last beat before it
    at_s: float  # the first after it
    by_s: float  # how much later than its place; negative = earlier
    beat_s: float
    kept: tuple[str, ...]  # stems whose strokes keep to the beats before it,
    went: tuple[str, ...]  # and stems whose strokes go with the click
    click_alone: bool  # enough keep to them, and next to none goes along


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickMiscount:
    """A bar of another length in the click alone: the song's stems go on in the bars that it had before."""

    at_s: float  # where that bar begins, as the click counts
    next_bar_s: float
    beats: int  # too many; negative = too few
    bar: int  # beats of the usual bar
    kept: tuple[str, ...]  # stems that go on in the old bars


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickTrack:
    """A click, beat by beat. Seconds from the file's first frame; a beat's time is where its sound begins
    (the first rise above 5 % of the tick's peak, corrected per kind of tick sound)."""

    beats_s: tuple[float, ...]  # ascending; extras are not among them
    accents: tuple[bool, ...]  # one a beat
    runs: tuple[ClickRun, ...]
    bpm: float | None  # of the longest run, its median; None with fewer than two beats
    metre: str | None  # "4/4"; the most frequent one; None where no accents tell
    count_in_beats: int | None  # beats before the bar the music begins in; None: no music to tell by
    first_beat_s: float
    music_s: float | None = None  # when the music begins, counting along left out; None: no music
    gaps: tuple[ClickGap, ...] = ()
    extras: tuple[ClickExtra, ...] = ()
    changes: tuple[ClickChange, ...] = ()
    pauses: tuple[ClickPause, ...] = ()
    subdivision: int = 1  # ticks a beat, lower ones between the beats included
    jumps: tuple[ClickJump, ...] = ()
    miscounts: tuple[ClickMiscount, ...] = ()

    @property
    def beats_a_bar(self) -> int | None:
        """Of its most frequent metre; None where no accents tell."""
        return int(self.metre.split("/")[0]) if self.metre is not None else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """Click or timecode that was found in a part that should not hold it."""

    level_dbfs: float  # peak of its ticks, or height of timecode's wave, as they lie in the part
    relative_db: float | None  # its loudness against the part's; negative = under it. None: no loudness
    best_at_s: float  # where it is heard best: what lies over it is quietest there
    delay_ms: float | None = None  # positive = later than the source. None: read by itself, no source
    spread: float = 0.0  # of its gain from place to place, share of the gain
    in_rest: bool = False  # the part rests for 2 s or more, so that it is heard alone
    low_hz: float | None = None  # the band in which it was found
    high_hz: float | None = None
    places: int = 0  # where it was looked for
    surety: float = 0.0  # its gain over the usual size of chance
