"""Every measurement's dataclass. Plain Python; −inf for silence, None for "does not exist"."""

from __future__ import annotations

from array import array
from dataclasses import dataclass
from enum import Enum

from audit.timecode import FrameRate, Label


class FaultKind(str, Enum):
    """What can be wrong with a container before one sample is listened to."""

    UNREADABLE = "unreadable"
    EMPTY = "empty"
    TRUNCATED = "truncated"
    UNFINISHED = "unfinished"
    DAMAGED = "damaged"
    WRONG_EXTENSION = "wrong-extension"
    NOT_ON_DISK = "not-on-disk"


class Cause(str, Enum):
    """Why something could not be read, which decides whether it is a finding, and what the cure is."""

    FILE = "file"  # what stands in the file
    FORMAT = "format"  # a sound file, as far as can be told, of a kind that is not decoded here
    PERMISSION = "permission"  # this user may not read it
    OURS = (
        "ours"  # nothing is known of the file: the decoder crashed or hung, the system ran out of something
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerFault:
    """One thing wrong with the file as a file."""

    kind: FaultKind
    detail: (
        str  # one plain sentence part, no full stop: "the header promises 48 000 frames, 24 000 are there"
    )
    value: float | None = None  # in `unit`, where a number says how bad
    unit: str | None = None
    at_frame: int | None = None
    cause: Cause = Cause.FILE  # of UNREADABLE


@dataclass(frozen=True, slots=True, kw_only=True)
class Peaks:
    """Highest sample and highest value of the interpolated waveform, over the channels of a part."""

    sample_dbfs: float
    sample_at_frame: int
    true_dbtp: float  # never below sample_dbfs
    true_at_s: float
    channel_dbfs: tuple[float, ...]  # sample peak of each channel


@dataclass(frozen=True, slots=True, kw_only=True)
class Clipping:
    """Runs of three or more samples at full scale of one sign, summed over the part's channels."""

    runs: int  # of 3 and more
    long_runs: int  # of 10 and more
    longest_frames: int
    longest_at_frame: int | None
    first_at_frame: int | None
    over_full_scale: int  # samples above ±1.0 (float files only)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatTops:
    """Plateaus at the part's own maximum: three or more equal samples that the waveform enters and leaves
    at a corner. Clipping that was turned down later leaves them; limiters, basses and square waves do not."""

    level_dbfs: float  # the level of the highest plateaus; -inf where there are none
    plateaus: int
    longest_frames: int
    first_at_frame: int | None
    share: float  # part of the sounding frames that stand at that level (a square wave: near 1)
    touches: int = 0  # how often those channels come to exactly their maximum, in plateaus or single samples


@dataclass(frozen=True, slots=True, kw_only=True)
class Loudness:
    """ITU-R BS.1770-5 / EBU Tech 3341, 3342. None: no block passed the gates (silence, or under 400 ms)."""

    integrated_lufs: float | None
    max_momentary_lufs: float | None
    max_momentary_at_s: float | None  # centre of the loudest 400 ms
    max_short_term_lufs: float | None
    range_lu: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """RMS (peak sense: a full-scale sine reads −3.01 dBFS), crest factor, DC offset and mean."""

    rms_dbfs: float
    active_rms_dbfs: float  # over the sounding 100 ms steps only
    crest_db: float | None
    dc_offset: float  # standing under the sound, worst channel, full scale 1.0, signed (measure.offset)
    dc_worst_window: float  # the same over the worst full 10 s; equals dc_offset for shorter files
    dc_worst_at_s: float
    dc_mean: float = 0.0  # plain mean of the worst channel: lopsided waveforms have one without an offset


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """Where a part sounds. Sound: |sample| above −70 dBFS."""

    first_sound_frame: int | None  # None: it never sounds
    last_sound_frame: int | None
    active_s: float  # 100 ms steps whose RMS is above −60 dBFS
    end_rms_dbfs: float  # RMS of the last 50 ms of the file
    zero_tail_frames: int  # exact zeros at the very end, all channels of the part
    before_tail_rms_dbfs: float  # RMS of the 50 ms before those zeros


@dataclass(frozen=True, slots=True, kw_only=True)
class Stereo:
    """How the two sides of a pair belong together. Energies over the whole file."""

    correlation: float  # −1 … 1; 0.0 where a side is silent
    difference_db: float  # energy of L−R relative to L and R together; −inf for identical sides
    mid_side_db: float  # energy of the mid relative to the side; +inf where the side is empty
    imbalance_db: float  # level of left over right; ±inf where one side is silent


@dataclass(frozen=True, slots=True, kw_only=True)
class SideDelay:
    """Correlation of a pair's sides over lags of up to 1 ms either way."""

    lowest: float  # −1 … 1
    lowest_at_ms: float  # positive: the right side is late
    highest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling:
    """How far up a part's sound reaches, from its loud windows: where the spectrum breaks off, and whether it
    is mirrored at half of an older sampling rate (audit.measure.ceiling)."""

    edge_hz: float | None  # half way down its steepest fall; None: it falls nowhere from a filled height
    drop_db: float  # of the averaged spectrum there, over 700 Hz
    held_drop_db: float  # of the max-held spectrum
    breaks: int  # windows that fall by 30 dB and more there
    steady: float  # 0 … 1: their share of the windows that do so anywhere
    lines_db: (
        float  # mean over median power of the 10 Hz bins below it: 0 for noise, far more for single partials
    )
    windows: int  # loud ones that were looked at, 100 ms each, all channels
    mirror_hz: float | None  # half of the older rate at which the spectrum is mirrored most
    mirror: float  # 0 … 1: how far what lies above it is an image of what lies below
    mirror_beside: float  # the same about centres beside it


class Reading(str, Enum):
    """Another way to read a file's bytes than its header says."""

    REVERSED = "bytes in reverse order"
    SHIFTED = "bytes shifted"
    UNSIGNED = "unsigned samples"
    INTEGER_16 = "16-bit samples"
    INTEGER_24 = "24-bit samples"
    INTEGER_32 = "32-bit samples"
    FLOAT_32 = "32-bit float samples"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scrambled:
    """What of a file's samples looks like bytes in the wrong places, or like no audio (measure.scrambled)."""

    windows: int  # that sound: 1024 frames every half second
    reading: Reading | None  # the way of reading that makes sense of them; None: none does, or none is needed
    readable: int  # windows that it makes smooth
    even: int  # windows whose samples have every value equally often, up to full scale
    first_at_frame: int | None  # of the first of those windows
    roughness: float  # of that window as it is: 2 for samples without any relation
    roughness_read: float  # and in that reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Nature:
    """What one channel's waveform looks like, apart from its name."""

    timecode_share: float  # 0 … 1: sounding time whose zero crossings keep a bi-phase mark pattern
    tick_share: float  # 0 … 1: how far the sound is made of short, evenly spaced ticks in silence


class JumpKind(str, Enum):
    """How timecode leaves its count."""

    MISSING = "missing"  # frames cannot be read, or are not there, while the count goes on
    STRAY = "stray"  # one frame with another number between two that follow each other
    REPEATED = "repeated"
    FORWARD = "forward"  # the numbers move on by more than the time
    HELD = "held"  # by less: the code was stopped and went on
    BACKWARD = "backward"
    SLIPPED = "slipped"  # the count goes on, its frames do not lie in the rhythm of those before
    TURNED = "turned"  # the tape changes its direction


@dataclass(frozen=True, slots=True, kw_only=True)
class TimecodeJump:
    """A place where timecode is not what it should be after the frame before."""

    kind: JumpKind
    at_s: float  # end of the last good frame
    before: Label
    after: Label  # of the next good frame
    frames: float  # how many are missing, repeated, passed over or gone back; a fraction where SLIPPED
    silent: bool = False  # MISSING, and the signal itself is gone


@dataclass(frozen=True, slots=True, kw_only=True)
class TimecodeRun:
    """Frames that count on from first to last (a few may be missing). In the order of time."""

    first: Label
    last: Label
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TimecodeTrack:
    """Linear timecode as it was read (IEC 60461). Seconds from the file's first frame."""

    channel: int  # 0-based
    frames: int  # that were read
    first: Label
    last: Label
    start_s: float  # first edge of the first frame
    end_s: float  # end of the last
    rate: FrameRate  # the standard's rate that it is; drop-frame as it counts, else as its flag says
    frames_per_s: float  # by the clock of the file
    off_ppm: float  # from that rate; positive = fast
    drop_flags: int  # frames that carry the drop-frame flag
    dropped_minutes: int  # minutes whose first two numbers were left out, as drop-frame counting does
    plain_minutes: int  # minutes that drop-frame counting would have shortened and that were not
    user_bits: tuple[int, ...]  # the eight binary groups of the first frame, group 1 first
    user_bits_change: bool
    backward: bool  # most frames are played backwards
    level_dbfs: float  # peak of the square wave, mean of all frames, without DC
    lowest_level_dbfs: float  # of a single frame
    lowest_level_at_s: float
    edge_error: float  # rms distance of the ones' middle edges from mid-cell, share of a bit cell
    jumps: tuple[TimecodeJump, ...]  # the first MOST_JUMPS of them (audit.measure.ltc_counting)
    jump_count: int
    runs: tuple[TimecodeRun, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Onsets:
    """Where sounds begin in a part. Packed: a song has thousands."""

    times_s: array[float]  # "d", seconds from the file's first frame, ascending
    strengths_db: array[float]  # "f", by how much the level rises, all bands added; one each


@dataclass(frozen=True, slots=True, kw_only=True)
class Chroma:
    """Which pitch classes sound when. Packed: hop k is centred on k · hop_s from the file's first frame."""

    hop_s: float
    classes: array[int]  # "B", twelve a hop, C first, around the stem's own tuning; the strongest is 255
    levels: array[int]  # "B", one a hop, of its tones together: half dB above −120 dBFS; 0: none
    tonal: float  # 0 … 1: share of what sounds that is tones; drums and noise are low
    tuning_cents: float | None  # against A = 440 Hz, −50 … 50; None: its tones agree on none
    tuning_agreed: float  # 0 … 1: how far they agree


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """Sound that stops dead and goes on as suddenly, with one value in between."""

    at_frame: int
    frames: int
    value: float  # 0.0: silence; else the sample value that is held
    level_dbfs: float  # RMS of the sound before it
    channels: tuple[int, ...] = ()  # 0-based


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """A block of samples that was played again."""

    at_frame: int  # where the second copy begins
    frames: int  # of the block
    times: int  # how often it was played again
    lag_frames: int  # from copy to copy
    channels: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpliceClick:
    """A place that the sound around it cannot have made."""

    at_frame: int
    size_dbfs: float  # of the wrong sample, or of the jump
    above_db: float  # over what the sound around it leaves unforetold
    channels: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """What is damaged in a part: the first MOST_PLACES of each kind (audit.measure.damage), and how many."""

    holes: tuple[Hole, ...] = ()
    hole_count: int = 0
    longest_hole_frames: int = 0
    repeats: tuple[Repeat, ...] = ()
    repeat_count: int = 0
    clicks: tuple[SpliceClick, ...] = ()
    click_count: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprint:
    """What is heard, without its level: which of 32 bands from 40 to 2800 Hz rise when. Packed: bit b of word
    k is set where band b rises by 1 dB from hop k − 1 to hop k, which is centred on k · hop_s."""

    hop_s: float
    words: array[int]  # "I", one a hop, the lowest band in the lowest bit
    spectrum_db: tuple[float, ...]  # each band's part of the whole, lowest first; empty for silence


@dataclass(frozen=True, slots=True, kw_only=True)
class PartMeasures:
    """One part of a stem: the channels that share a role (nearly always all of them)."""

    channels: tuple[int, ...]  # 0-based
    peaks: Peaks
    clipping: Clipping
    flat_tops: FlatTops
    loudness: Loudness
    levels: Levels
    activity: Activity
    stereo: Stereo | None  # for pairs only
    nature: Nature
    timecode: TimecodeTrack | None = None  # None: no frame of timecode can be read
    onsets: Onsets | None = None
    chroma: Chroma | None = None
    ceiling: Ceiling | None = None
    side_delay: SideDelay | None = None  # for pairs only, neither side silent
    damage: Damage | None = None
    fingerprint: Fingerprint | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickRun:
    """Beats of the click that follow one another without a break, whatever their tempo does."""

    first_beat: int  # index into ClickTrack.beats_s
    beats: int
    bpm_first: float  # of its first beats and of its last; the same where `steady`
    bpm_last: float
    steady: bool  # one tempo all the way


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


@dataclass(frozen=True, slots=True, kw_only=True)
class StemMeasures:
    """All that one pass over a stem taught."""

    frames: int  # decoded
    parts: tuple[PartMeasures, ...]
    bits_in_use: int | None  # significant bits of the PCM samples; None for float, lossy or silent files
    content_hash: str | None  # of the decoded samples, channels and rate; None for silence
    not_finite: int  # samples that are NaN or infinite (measured as silence)
    not_finite_at_frame: int | None
    md5_checked: bool | None  # None: the container stores no checksum
    scrambled: Scrambled | None = None
    distinct_values: int = 0  # of samples that leave the lowest bit alone, counted to 4096 (measure.bits)


@dataclass(frozen=True, slots=True, kw_only=True)
class MixMeasures:
    """The song as the audience hears it: the sum of its stems at unity gain."""

    loudness: Loudness
    peaks: Peaks
    sample_rate_hz: int
    from_stems: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]  # (stem, reason)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsFit:
    """How well the other stems, added up, explain a stem called a full mix."""

    stem: str
    explained: float  # 0 … 1: share of its energy that the best sum of the parts accounts for
    parts: tuple[str, ...]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """How a stem lies against another one of its song."""

    stem: str
    lag_ms: float  # median; positive = plays after it
    meetings: int  # onsets of both that belong together


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
class Beats:
    """At which lag of whole beats a stem's harmony fits the other stems' best, and how it fits as it is.

    Fits are correlations, −1 … 1. Sureness: bars that say so over the root of all that say anything.
    """

    shift_beats: float  # the best lag (of several alike the smallest); positive = late
    at_best: float
    at_best_without_loudest: float  # without the stem that says it loudest: whoever follows it fits no other
    at_zero: float  # as it is
    gain_by_changes: float  # by how much it fits better there, by what begins and where chords turn alone
    gain_by_state: float  # and by what sounds alone
    second_beats: float
    at_second: float  # the next best lag, more than a beat away; a loop's length off it fits alike
    sure: float  # that the best lag is better than none
    sure_without_loudest: float  # the same without the stem that says it loudest
    usual: float  # how well the other stems fit one another
    backbeat: float  # strokes on the beats beside the others' turns of chord over those on them
    saying_so: tuple[str, ...]  # other stems that fit better at that lag
    against: tuple[str, ...]  # that fit better as it is


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
