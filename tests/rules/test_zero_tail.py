"""zero-filled-tail: interrupted copies, and the many stems that stop hard for musical reasons."""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

RATE_HZ = 48000
FRAME_BYTES = 6  # 24-bit stereo
HEADER_BYTES = 44
FRAMES = 60 * RATE_HZ


def zeros_from_byte(first_zero_byte: int, *, frames: int = FRAMES, frame_bytes: int = FRAME_BYTES) -> int:
    """How many whole frames of zeros end a file whose bytes from this one on are all zero.

    From the file's layout alone: frame n begins at byte header + n x frame_bytes; one that is half written is
    not all zeros.
    """
    return frames - math.ceil((first_zero_byte - HEADER_BYTES) / frame_bytes)


def cut(file: str, *, byte: int, before_dbfs: float = -20.0, **more: Any) -> StemEvidence:
    """A stem whose copy stopped at this byte of the file."""
    zeros = zeros_from_byte(byte)
    activity = {
        "zero_tail_frames": zeros,
        "before_tail_rms_dbfs": before_dbfs,
        "last_sound_frame": FRAMES - zeros - 1,
        "end_rms_dbfs": float("-inf"),
    }
    return stem(file, activity=activity, **more)


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


HALF = 4096 * 1024  # bytes: 14.6 s of the file
PLACE_S = (FRAMES - zeros_from_byte(HALF)) / RATE_HZ

BYTE_AT_025_S = HEADER_BYTES + (FRAMES - RATE_HZ // 4) * FRAME_BYTES
LONGEST_TOO_SHORT = -(-BYTE_AT_025_S // 4096) * 4096  # the first boundary less than 0.25 s before the end
SHORTEST_LONG_ENOUGH = LONGEST_TOO_SHORT - 4096

TO_THE_END = {"last_sound_frame": FRAMES - 1}

CASES: dict[str, tuple[Case, ...]] = {
    "zero-filled-tail": (
        planted(
            "from a page of 4096 bytes on",
            of(cut("Bass.wav", byte=3 * HALF // 4 + 4096), stem("Keys.wav")),
            Expected(stem="Bass.wav", says=("a block of 4 KiB", "−20 dBFS")),
        ),
        planted(
            "from a megabyte on",
            of(cut("Bass.wav", byte=HALF), stem("Keys.wav")),
            Expected(stem="Bass.wav", at_s=PLACE_S, value=60.0 - PLACE_S, facts={"block": HALF}),
        ),
        planted(
            "two stems that stop at different 512-byte boundaries",
            of(cut("Bass.wav", byte=HALF + 512), cut("Pad.wav", byte=HALF + 9 * 512), stem("Keys.wav")),
            Expected(stem="Bass.wav", facts={"block": 512}),
            Expected(stem="Pad.wav", facts={"block": 512}),
        ),
        planted(
            "timecode that stops while the music goes on",
            of(cut("Timecode.wav", byte=HALF), stem("Keys.wav")),
            Expected(stem="Timecode.wav"),
        ),
        clean("a hard stop where no block ends", of(cut("Bass.wav", byte=HALF + 100), stem("Keys.wav"))),
        clean("one stem at 512 bytes is chance", of(cut("Bass.wav", byte=HALF + 512), stem("Keys.wav"))),
        clean(
            "two stems that an editor cut at one place share their boundary",
            of(cut("Bass.wav", byte=HALF + 512), cut("Pad.wav", byte=HALF + 512), stem("Keys.wav")),
        ),
        clean("a fade into silence", of(cut("Bass.wav", byte=HALF, before_dbfs=-70.0), stem("Keys.wav"))),
        clean("a gated tail", of(cut("B.wav", byte=HALF, before_dbfs=-55.0), stem("Keys.wav"))),
        clean("everybody stops there", of(cut("Bass.wav", byte=HALF), cut("Keys.wav", byte=HALF + 4096))),
        clean("only timecode goes", of(cut("B.wav", byte=HALF), stem("Timecode.wav", activity=TO_THE_END))),
        clean("compressed, so that zeros take no blocks", of(cut("Bass.flac", byte=HALF), stem("Keys.wav"))),
        clean("a stem of nothing but zeros", of(stem("Pad.wav", silent=True), stem("Keys.wav"))),
        clean(
            "click and timecode in one file, of which only the click stops",
            of(
                stem(
                    "Crew.wav",
                    parts=[
                        part(Role.CLICK, channels=(0,), activity={"zero_tail_frames": zeros_from_byte(HALF)}),
                        part(Role.TIMECODE, channels=(1,), activity={"zero_tail_frames": 0}),
                    ],
                ),
                stem("Keys.wav"),
            ),
        ),
        at_limit(
            "just under a quarter of a second, the song a little longer",
            of(
                cut("Bass.wav", byte=LONGEST_TOO_SHORT),
                stem("Keys.wav", seconds=61.0, activity={"last_sound_frame": 61 * RATE_HZ - 1}),
            ),
        ),
        past_limit(
            "just over a quarter of a second, the song a little longer",
            of(
                cut("Bass.wav", byte=SHORTEST_LONG_ENOUGH),
                stem("Keys.wav", seconds=61.0, activity={"last_sound_frame": 61 * RATE_HZ - 1}),
            ),
            Expected(stem="Bass.wav", value=0.26, within=0.02),
        ),
        at_limit("sound at −60 dBFS is a tail", of(cut("B.wav", byte=HALF, before_dbfs=-60.0,
                 levels={"active_rms_dbfs": -45.0}), stem("Keys.wav"))),
        past_limit("sound at −59 dBFS is none", of(cut("Bass.wav", byte=HALF, before_dbfs=-59.0,
                   levels={"active_rms_dbfs": -45.0}), stem("Keys.wav")), Expected(stem="Bass.wav")),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


@pytest.mark.parametrize("shift", range(-FRAME_BYTES - 2, FRAME_BYTES + 3))
def test_the_boundary_may_fall_anywhere_within_one_frame(shift: int):
    """A copy that stops at a block leaves a half-written frame; a cut elsewhere is seen only by chance."""
    zeros = zeros_from_byte(HALF)
    first_zero_frame = FRAMES - zeros
    whole_frames_early = HEADER_BYTES + first_zero_frame * FRAME_BYTES - HALF
    assert 0 <= whole_frames_early < FRAME_BYTES
    evidence = of(cut("Bass.wav", byte=HALF + shift), stem("Keys.wav"))
    last_frame_begins = HEADER_BYTES + (FRAMES - zeros_from_byte(HALF + shift) - 1) * FRAME_BYTES
    holds_boundary = last_frame_begins < HALF <= last_frame_begins + FRAME_BYTES
    assert bool(findings("zero-filled-tail", evidence)) is holds_boundary


def test_chance_hits_as_rarely_as_the_text_says():
    """Over every possible place of a hard stop in 4096 x 6 bytes: once in 683 for 24-bit stereo."""
    places = range(HALF, HALF + 4096 * FRAME_BYTES, FRAME_BYTES)
    zeros = zeros_from_byte(HALF)
    hits = 0
    for steps, _ in enumerate(places):
        activity = {"zero_tail_frames": zeros - steps, "before_tail_rms_dbfs": -20.0}
        hits += bool(findings("zero-filled-tail", of(stem("Bass.wav", activity=activity), stem("Keys.wav"))))
    assert hits == 6
    assert len(places) / hits == pytest.approx(683, abs=0.5)


@pytest.mark.parametrize(("bits", "channels"), list(itertools.product((16, 24, 32), (1, 2))))
def test_every_ordinary_frame_size_is_judged_at_4096_bytes(bits: int, channels: int):
    frame_bytes = bits // 8 * channels
    frames = 20 * RATE_HZ
    byte = 100 * 4096
    activity = {
        "zero_tail_frames": zeros_from_byte(byte, frames=frames, frame_bytes=frame_bytes),
        "before_tail_rms_dbfs": -20.0,
    }
    made = stem("Bass.wav", bits=bits, channels=channels, frames=frames, activity=activity)
    assert len(findings("zero-filled-tail", of(made, stem("Keys.wav")))) == 1


def test_many_channels_need_a_larger_block():
    """A frame of 8 x 3 bytes meets a 4096-byte boundary once in 171 by chance: not enough for an error."""
    frames, frame_bytes = 20 * RATE_HZ, 24
    for byte, expected in ((100 * 4096 + 4096, 0), (100 * 16384, 1)):
        activity = {
            "zero_tail_frames": zeros_from_byte(byte, frames=frames, frame_bytes=frame_bytes),
            "before_tail_rms_dbfs": -20.0,
        }
        made = stem("Bass.wav", channels=8, frames=frames, activity=activity)
        assert len(findings("zero-filled-tail", of(made, stem("Keys.wav")))) == expected


def test_the_question_does_not_arise_for_coded_files_or_alone():
    assert audit_with(
        "zero-filled-tail", of(stem("Bass.ogg", lossy=True), stem("Keys.ogg", lossy=True))
    ).not_applicable
    assert audit_with("zero-filled-tail", of(cut("Bass.wav", byte=HALF))).not_applicable


def test_small_frames_do_not_make_small_blocks_telling():
    """16-bit mono meets a 2048-byte boundary once in 1024, yet no copy stops there: 4096 is the least."""
    frames = 20 * RATE_HZ
    for byte, expected in ((100 * 4096 + 2048, 0), (100 * 4096, 1)):
        activity = {
            "zero_tail_frames": zeros_from_byte(byte, frames=frames, frame_bytes=2),
            "before_tail_rms_dbfs": -20.0,
        }
        made = stem("Bass.wav", bits=16, channels=1, frames=frames, activity=activity)
        assert len(findings("zero-filled-tail", of(made, stem("Keys.wav")))) == expected


def test_two_stems_of_many_channels_may_be_chance():
    """Frames of 48 bytes meet a 512-byte boundary once in 11: two of them once in 114."""
    frames, frame_bytes = 20 * RATE_HZ, 48
    made = []
    for file, byte in (("Bass.wav", 100 * 4096 + 512), ("Pad.wav", 100 * 4096 + 5 * 512)):
        activity = {
            "zero_tail_frames": zeros_from_byte(byte, frames=frames, frame_bytes=frame_bytes),
            "before_tail_rms_dbfs": -20.0,
        }
        made.append(stem(file, channels=16, frames=frames, activity=activity))
    assert findings("zero-filled-tail", of(*made, stem("Keys.wav"))) == []
