"""Interrupted copies: a file of full size whose rest was never written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import clock

SECTOR_BYTES = 512
LARGEST_BLOCK_BYTES = 1 << 24


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroTail:
    """Exact zeros from a block boundary of the file to its end."""

    stem: StemEvidence
    from_frame: int  # first frame that is all zeros
    block_bytes: int  # the largest power of two whose multiple the zeros can begin at
    odds: float  # one chance in so many that a cut made by ear falls on such a boundary
    seconds: float
    before_dbfs: float


def tail_of(stem: StemEvidence, limit: Limit) -> ZeroTail | None:
    """The stem's tail of zeros, where it is long enough, follows real sound and begins at a sector boundary.

    The last frame that is not all zeros may be half written, so the zeros begin at some byte of it or right
    behind it: a boundary within those `frame_bytes` bytes is a match, and one position in
    `block_bytes / frame_bytes` matches by chance.
    """
    form, audio = stem.format, stem.audio
    if form is None or audio is None or form.data_offset_bytes is None or not form.frame_bytes:
        return None
    zeros = min((part.measures.activity.zero_tail_frames for part in stem.parts), default=0)
    seconds = zeros / form.sample_rate_hz
    if zeros >= audio.frames or seconds < limit.value:
        return None
    last = [part for part in stem.parts if part.measures.activity.zero_tail_frames == zeros]
    before = max(part.measures.activity.before_tail_rms_dbfs for part in last)
    usual = max(part.measures.levels.active_rms_dbfs for part in last)
    if before <= limit["before_dbfs"] or before < usual - limit["under_own_db"]:
        return None
    begin = form.data_offset_bytes + (audio.frames - zeros - 1) * form.frame_bytes
    block = _largest_block(begin, begin + form.frame_bytes)
    if block < SECTOR_BYTES:
        return None
    return ZeroTail(
        stem=stem,
        from_frame=audio.frames - zeros,
        block_bytes=block,
        odds=block / form.frame_bytes,
        seconds=seconds,
        before_dbfs=before,
    )


def _largest_block(after: int, until: int) -> int:
    """The largest power of two with a multiple in (after, until]."""
    block = 1
    while block < LARGEST_BLOCK_BYTES and until // (2 * block) * 2 * block > after:
        block *= 2
    return block


def _size_words(size_bytes: int) -> str:
    """A power of two of bytes: `512 bytes`, `4 KiB`, `2 MiB`."""
    if size_bytes < 1 << 10:
        return f"{size_bytes} bytes"
    return f"{size_bytes >> 20} MiB" if size_bytes >= 1 << 20 else f"{size_bytes >> 10} KiB"


@rule(
    id="zero-filled-tail",
    family="files",
    severity=Severity.ERROR,
    scope="song",
    needs=("format", "audio"),
    limit=Limit(
        value=0.25,
        unit="s",
        more={"block_bytes": 4096, "odds": 400, "before_dbfs": -60.0, "under_own_db": 30.0},
    ),
    message="breaks off at {place} ({before:.0f} dBFS): the last {value:.2f} s are zeros from a block of "
    "{block_words} of the file on, while the song goes on; limit {limit:g} s",
    cure="Copy this file again from its source, let the copy finish, eject the disk properly, compare the "
    "two.",
    again="whole: this one holds nothing but zeros from {place} on",
    means="An interrupted copy: the file has its full size, but from a block boundary on only zeros were "
    "written.",
    on_stage="The part falls silent in mid-song and never comes back; length and header look right in "
    "every player.",
    measured="Exact zeros to the end of the file for {limit} s or more, after sound above "
    "{before_dbfs:.0f} dBFS and no more than {under_own_db:.0f} dB under the stem's own level, while "
    "another stem (not timecode) sounds on. They begin within one frame of a multiple of {block_bytes:.0f} "
    "bytes that chance would hit less than once in {odds:.0f} (24-bit stereo: once in 683), or of 512 "
    "bytes in two stems that break off at different places (once in 7000). Uncompressed files only.",
    source="own judgement: disks and file systems write whole blocks, musicians do not stop on them; odds "
    "computed",
)
def zero_filled_tail(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not any(stem.format and stem.format.frame_bytes for stem in song.stems):
        yield NotApplicable(reason="no uncompressed stem")
        return
    if sum(not stem.silent for stem in song.stems) < 2:
        yield NotApplicable(reason="no other stem to compare with")
        return
    tails = [tail for stem in song.stems if (tail := tail_of(stem, limit)) and _others_go_on(tail, song)]
    # stems cut at one place by an editor share one boundary: only different places count as more evidence
    by_place = sorted({tail.from_frame: tail.odds for tail in tails}.values(), reverse=True)
    several = len(by_place) >= 2 and by_place[0] * by_place[1] >= limit["odds"]
    for tail in tails:
        alone = tail.block_bytes >= limit["block_bytes"] and tail.odds >= limit["odds"]
        if alone or several:
            rate = tail.stem.format.sample_rate_hz if tail.stem.format else 0
            at_s = tail.from_frame / rate
            yield Hit(
                stem=tail.stem.name,
                value=tail.seconds,
                at_s=at_s,
                sample=tail.from_frame,
                confidence=1.0 - 1.0 / tail.odds,
                facts={
                    "place": clock(at_s),
                    "block": tail.block_bytes,
                    "block_words": _size_words(tail.block_bytes),
                    "before": tail.before_dbfs,
                    "odds_against_chance": tail.odds,
                },
            )


def _others_go_on(tail: ZeroTail, song: SongEvidence) -> bool:
    """Whether another stem still sounds a quarter of a second into the zeros. Timecode always does."""
    form = tail.stem.format
    if form is None:
        return False
    since = tail.from_frame / form.sample_rate_hz + 0.25
    return any(
        last is not None and other.format is not None and last / other.format.sample_rate_hz > since
        for other in song.stems
        if other is not tail.stem
        for part in other.parts
        if part.role is not Role.TIMECODE
        for last in [part.measures.activity.last_sound_frame]
    )


RULES = (zero_filled_tail,)
