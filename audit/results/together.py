"""What shows when stems are heard together, in a song or over the show."""

from __future__ import annotations

from dataclasses import dataclass

from audit.results.sound import Loudness, Peaks


@dataclass(frozen=True, slots=True, kw_only=True)
class MixMeasures:
    """The song as the audience hears it: the sum of its stems at unity gain."""

    loudness: Loudness
    peaks: Peaks
    sample_rate_hz: int
    from_stems: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]  # (stem, reason)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputSum:
    """One output of the interface: the stems that are patched to it, added up at the set gains."""

    output: int  # counted from 1
    peaks: Peaks
    from_stems: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsFit:
    """How well the other stems, added up, explain a stem called a full mix."""

    stem: str
    explained: float  # 0 … 1: share of its energy that the best sum of the parts accounts for
    parts: tuple[str, ...]
    clicks: tuple[int, ...] = ()  # frames at which it clicks and they do, so that nothing of it is its own


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonSource:
    """Two stems of a song that seem to hold the same source."""

    first: str
    second: str
    lag_ms: float  # positive = the second plays after the first
    lag_frames: float
    likeness: float  # 0 … 1: correlation at that lag, every half octave that both have weighing alike
    coherence: float  # 0 … 1: the same, whatever the phase of each of these bands
    turned_deg: float  # 0 … 180: by how much the phases are turned, all alike; 180 is upside down
    level_db: float  # of the second over the first, where both sound
    together_s: float  # how long both sound


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyFit:
    """A stem's harmony against its song's other stems at the same times. Fits are correlations, −1 … 1."""

    semitones: int  # how far above the others it stands where it fits best, −5 … 6; 0: in their key
    fit_as_is: float
    fit_turned: float  # transposed by that
    first_half_gain: float  # by how much the transposed stem fits better, in each half of what sounds
    second_half_gain: float
    first_half_fit: float  # as it is
    second_half_fit: float
    seconds: float  # of both sounding
    voices: float  # classes that it plays at once: about 1 for a line, 3 for chords
    others: int  # stems it was compared with
    parallel: float = 0.0  # best fit, so transposed, with one other stem alone that is a line too
    long_gain: float = 0.0  # by how much the transposed stem fits better over eight seconds: the scale
    changes_as_is: float = 0.0  # correlation of what comes and goes, each class's mean over the song left out
    changes_turned: float = 0.0
    first_half_changes: float = 0.0  # as it is
    second_half_changes: float = 0.0
    thirds: float = 0.0  # whether the transposed stem is major and minor where the others are
    on_fifth: float = 0.0  # share of what it plays on the fifth of the others' chords, as it is
    on_ninth: float = 0.0  # and on the ninth
    agree: int = 0  # other stems that alone fit better to it transposed so
    disagree: int = 0  # and worse
    lead: float = 0.0  # 0 … 1: by how much more that explains than another stem transposed would
    or_semitones: int = 0  # how far above it may stand as well; 0: nowhere else

    @property
    def gain(self) -> float:
        return self.fit_turned - self.fit_as_is

    @property
    def evidence(self) -> float:
        """By how much it fits better transposed: chords, scale and changes together, −6 … 6."""
        return self.gain + self.long_gain + self.changes_turned - self.changes_as_is


@dataclass(frozen=True, slots=True, kw_only=True)
class RhythmFit:
    """How a stem's onsets gather in the beats of a click, 0 … 1, at the subdivision where they do so most."""

    fit: float
    first_half: float  # at the same subdivision
    second_half: float
    onsets: int  # that lie under the click


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """How a stem that fits badly at home fits another song of the show."""

    song: str
    key: KeyFit | None  # against that song's stems
    rhythm: RhythmFit | None  # on that song's click
    copy: str | None = None  # that song's stem with the same audio


@dataclass(frozen=True, slots=True, kw_only=True)
class SameAudio:
    """Two stems that are one recording though their samples differ: at another level, moved, stored
    otherwise."""

    first_song: str
    first: str
    second_song: str
    second: str
    lag_frames: int  # positive = the second plays after the first
    lag_s: float
    level_db: float  # of the second over the first
    likeness: float  # 0 … 1: median correlation of the excerpts laid over each other
    share: float  # 0 … 1: part of the excerpts that are the same
    opposed: bool  # upside down
