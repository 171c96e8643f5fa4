"""How the stems are stored, against what the show usually does: rate, depth, origin times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.traits import DEPTH, RATE, compare_show, compare_song
from audit.rules.wrong_rate import at_wrong_rate, wrong_rate_header
from audit.units import clock, count

ORIGIN_TOLERANCE_S = 0.001
"""A millisecond: origins written at different rates round to different frames, and nobody hears less."""


def _rate_over_show(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from compare_show(RATE, show)


@rule(
    id="sample-rate-mismatch",
    family="format",
    severity=Severity.ERROR,
    scope="song",
    needs=("format",),
    heeds=(wrong_rate_header,),
    message="{found}, the show's is {usual_words}",
    cure="Bounce again from the session at the show's sample rate; if there is no session, convert with a "
    "good resampler, then compare the length with the song's other stems.",
    again="bounced at the show's sample rate, not converted afterwards",
    means="The file is not at the show's sample rate: that of the settings, else that of most files. A tie "
    "is said once, with both camps, and so is a show in which most songs have another rate than most files.",
    on_stage="Played without conversion, 44.1 kHz in a 48 kHz show runs 8.8 % fast and 1.5 semitones "
    "sharp. With it, the laptop resamples in real time, or the interface changes its clock between two "
    "songs.",
    measured="Sample rate by the header against the rate in the settings, or that most files of the show "
    "have, and most songs (a song counts as most of its files are). A role that is at another rate in each "
    "of at least 3 songs is said once. What wrong-rate-header tells is not told here.",
    source="common practice; 48000/44100 = 1.088, 12 log2(1.088) = 1.47 semitones",
    over_show=_rate_over_show,
)
def sample_rate_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    # To convert what only its header tells wrongly would keep it at the wrong speed.
    yield from compare_song(RATE, song, show, without=at_wrong_rate(song, limit.of(wrong_rate_header)))


def _depth_over_show(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from compare_show(DEPTH, show)


@rule(
    id="bit-depth-mismatch",
    family="format",
    severity=Severity.WARNING,
    scope="song",
    needs=("format",),
    message="{found}, the show's is {usual_words}",
    cure="Bounce again from the session at the show's bit depth, with dither where the depth goes down.",
    again="bounced at the show's bit depth",
    means="The file does not have the show's bit depth: that of the settings, else that of most files (as "
    "for sample rates). Lossy files have none. Click, guide or timecode that is so in the whole show, in at "
    "least 3 songs, is a note.",
    on_stage="Nothing breaks; but such a file came another way than the rest, and 16 bit has a noise floor "
    "that quiet stems turned up will show.",
    measured="Valid bits of a sample by the header (32-bit float counts as a depth of its own) against "
    "the settings, or what most files of the show have.",
    source="common practice",
    over_show=_depth_over_show,
)
def bit_depth_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if song.stems and not DEPTH.stems(song):
        yield NotApplicable(reason="lossy files have no bit depth")
        return
    yield from compare_song(DEPTH, song, show)


@rule(
    id="origin-time-mismatch",
    family="format",
    severity=Severity.WARNING,
    scope="song",
    needs=("format",),
    message="time stamps of the recording differ: {listed}{common}",
    cure="Place the stems by their start, not by their time stamp; or bounce them again from one start "
    "point.",
    again=None,
    means="The time references in the Broadcast WAV headers differ between a song's stems of music.",
    on_stage="A program that places stems by their time stamp puts these in another place than the rest.",
    measured="The bext TimeReference divided by the file's own sample rate, compared to a millisecond; "
    "files without one are left out, and so are click, guide and timecode, which often come from another "
    "session.",
    source="EBU Tech 3285 v2, bext chunk: TimeReference, first sample since midnight",
)
def origin_time_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    origins = _origins_s(song)
    if len(origins) < 2:
        yield NotApplicable(reason="fewer than two stems carry a time stamp")
        return
    agree = {name: sum(_are_one(at, other) for _, other in origins) for name, at in origins}
    most = max(agree.values())
    if most < len(origins):
        common_s = next(at for name, at in origins if agree[name] == most)
        yield _origins_hit(origins, common_s if 2 * most > len(origins) else None)


def _origins_s(song: SongEvidence) -> list[tuple[str, float]]:
    """The time stamps of the stems of music, by name."""
    return [
        (stem.name, form.time_reference_frames / form.sample_rate_hz)
        for stem in song.stems
        if (form := stem.format)
        and form.time_reference_frames is not None
        and form.sample_rate_hz
        and stem.audience
    ]


def _are_one(first_s: float, second_s: float) -> bool:
    return abs(first_s - second_s) <= ORIGIN_TOLERANCE_S


def _origins_hit(origins: Sequence[tuple[str, float]], common_s: float | None) -> Hit:
    """common_s: what most of them have; None: nothing, and all are named."""
    odd = [(name, at) for name, at in origins if common_s is None or not _are_one(at, common_s)]
    rest = count(len(origins) - len(odd), "other stem")
    return Hit(
        stem=odd[0][0] if common_s is not None and len(odd) == 1 else None,
        facts={
            "listed": listed([f"{name} at {clock(at)}" for name, at in odd], most=4),
            "common": f"; {rest} at {clock(common_s)}" if common_s is not None else "",
            "files": tuple(name for name, _ in odd),
            "origins_s": tuple(at for _, at in odd),
            "common_s": common_s,
        },
    )


RULES = (sample_rate_mismatch, bit_depth_mismatch, origin_time_mismatch)
