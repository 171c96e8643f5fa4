"""A song's timecode by itself: whether it can be read, counts on, says how it counts, and stands well."""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Fact, Severity
from audit.results import JumpKind, TimecodeJump, TimecodeTrack
from audit.rules.parts import where_in
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.timecode_words import GONE_WORDS, JUMP_WORDS, frames_words, stretch_words
from audit.units import count

NO_TIMECODE = "no timecode in the song"

MOST_TOLD = 50
"""Jumps of one stem that are told one by one."""

MIXED_FLAG = 0.01
"""Share of the frames from which on the odd ones out are no misread bit."""

CAUTION = "Turn monitors down before you listen to timecode: it is a loud buzz, and no level in a file says "
CAUTION += "how loud it is at an ear; local rules and qualified crew decide."


def readable(song: SongEvidence) -> list[tuple[StemEvidence, PartEvidence, TimecodeTrack]]:
    """The song's timecode parts of which frames can be read."""
    return [
        (stem, part, track)
        for stem, part in song.timecode_parts
        if (track := part.measures.timecode) is not None
    ]


@rule(
    id="timecode-unreadable",
    family="timecode",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=50.0, unit="% of its sound"),
    message="only {value:.0f} % of the sound{where} reads as timecode, limit {limit:g} %",
    cure="Write the timecode anew from the generator, as a plain file: no effect, no fade, no lossy codec on "
    "it. If the stem is something else, name it so.",
    again="readable: plain, without effects, fades or a lossy codec",
    means="The timecode stem does not decode, or less than {limit:g} % of its sound does.",
    on_stage="Lights, video and everything else that follows timecode stand still.",
    measured="Every frame's 80 bits are read from the distances between the waveform's edges, whatever the "
    "level (down to −60 dBFS), polarity, direction and speed (half to double); the time they fill, against "
    "the time the stem sounds.",
    source="IEC 60461:2010 (SMPTE ST 12-1), 8.1 to 8.3. The limit: own judgement.",
)
def timecode_unreadable(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not song.timecode_parts:
        yield NotApplicable(reason=NO_TIMECODE)
    for stem, part in song.timecode_parts:
        track = part.measures.timecode
        if track is None:
            yield Hit(
                stem=stem.name,
                value=0.0,
                message="not one frame of timecode can be read{where}",
                facts={"where": where_in(stem, part)},
            )
            continue
        read_s = track.frames / track.frames_per_s
        sounding_s = part.measures.activity.active_s
        share = 100.0 * read_s / sounding_s if sounding_s > read_s else 100.0
        if share < limit.value:
            yield Hit(
                stem=stem.name,
                value=share,
                facts={"where": where_in(stem, part), "frames": track.frames, "sounding_s": sounding_s},
            )


@rule(
    id="timecode-jump",
    family="timecode",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=1.0, unit="frames"),
    message="the numbers skip {stretch}: {after} follows {before}",
    cure="Write the song's timecode anew in one piece from its first frame; do not edit, loop or stretch it "
    "with the music.",
    again="in one piece from its first frame",
    means="A frame of the timecode is missing, repeated, or does not follow the one before ({limit:g} frame "
    "and more).",
    on_stage="Machines that follow jump, stop, or fire cues twice at this place.",
    measured="Each frame's number and place against the frame before, at the counting of the rate it has "
    "(drop-frame left-out numbers are no jump). Frames that shift by a quarter of a frame are told as well.",
    source="IEC 60461:2010 (SMPTE ST 12-1), 4 to 6 (counting).",
)
def timecode_jump(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not song.timecode_parts:
        yield NotApplicable(reason=NO_TIMECODE)
    for stem, _, track in readable(song):
        if track.backward:
            yield Hit(
                stem=stem.name,
                at_s=track.start_s,
                message="the code runs backwards, from {before} to {after}",
                cure="Reverse the file, or write the timecode anew.",
                facts={"before": track.first.text(track.rate), "after": track.last.text(track.rate)},
            )
        told = [jump for jump in track.jumps if jump.kind in _NO_NUMBER or jump.frames >= limit.value]
        for jump in told[:MOST_TOLD]:
            yield _jumping(stem, track, jump)
        more = len(told) - MOST_TOLD + track.jump_count - len(track.jumps)
        if more > 0:
            yield Hit(stem=stem.name, message="{more} more jumps after these", facts={"more": more})


_NO_NUMBER = frozenset({JumpKind.SLIPPED, JumpKind.TURNED})


def _jumping(stem: StemEvidence, track: TimecodeTrack, jump: TimecodeJump) -> Hit:
    facts: dict[str, Fact] = {
        "kind": jump.kind.value,
        "before": jump.before.text(track.rate),
        "after": jump.after.text(track.rate),
        "frames": frames_words(jump.frames),
        "stretch": stretch_words(jump.frames, track.rate),
        "shift": jump.frames,
        "silent": jump.silent,
    }
    return Hit(
        stem=stem.name,
        at_s=jump.at_s,
        value=None if jump.kind in _NO_NUMBER else jump.frames,
        message=GONE_WORDS if jump.silent else JUMP_WORDS.get(jump.kind),
        facts=facts,
    )


@rule(
    id="timecode-flag",
    family="timecode",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    message="the flag says {flag}, the numbers are counted {counted}",
    cure="Set the generator to the counting the show uses (drop-frame or not) and write the timecode anew.",
    again="with the drop-frame flag as its numbers are counted",
    means="The drop-frame flag in the timecode and the way its numbers are counted disagree.",
    on_stage="A machine that trusts the flag counts otherwise than the code: it drifts away by two frames a "
    "minute, or rejects the code.",
    measured="Bit 10 of every frame, against what happens at each full minute that is no multiple of ten: "
    "drop-frame counting leaves its first two numbers out. A song without such a minute is judged by the "
    "flag's steadiness only. The flag belongs to 29.97 alone.",
    source="IEC 60461:2010 (SMPTE ST 12-1), 4 to 6 (counting), tables 2 to 5 (bit 10).",
)
def timecode_flag(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not song.timecode_parts:
        yield NotApplicable(reason=NO_TIMECODE)
    for stem, _, track in readable(song):
        share = track.drop_flags / track.frames
        facts: dict[str, Fact] = {
            "rate": track.rate.text,
            "flagged": track.drop_flags,
            "frames": track.frames,
            "flag": "drop-frame" if share > 0.5 else "non-drop",
            "counted": "drop-frame" if track.dropped_minutes else "non-drop",
            "dropped_minutes": track.dropped_minutes,
            "plain_minutes": track.plain_minutes,
        }
        message = None
        if MIXED_FLAG < share < 1.0 - MIXED_FLAG:
            message = "the drop-frame flag comes and goes: it stands in {flagged} of {frames} frames"
        elif share > 0.5 and track.rate.count != 30:
            message = "the drop-frame flag is set at {rate}, which has no drop-frame counting"
        elif track.dropped_minutes and track.plain_minutes:
            message = (
                "two numbers are left out at {dropped_minutes} of the minutes and kept at {plain_minutes}, "
                "where drop-frame counting leaves them out"
            )
        elif not (track.plain_minutes if share > 0.5 else track.dropped_minutes):
            continue
        yield Hit(stem=stem.name, message=message, facts=facts)


def _hot(track: TimecodeTrack, limit: Limit) -> bool:
    return track.level_dbfs > limit["hot_dbfs"]


def _all_hot(show: ShowEvidence, limit: Limit) -> list[tuple[str, TimecodeTrack]]:
    """Every song's timecode where there are two songs with it and more, and all of it is hot; else none."""
    tracks = [(song.name, track) for song in show.songs for _, _, track in readable(song)]
    several = len({name for name, _ in tracks}) > 1
    return tracks if several and all(_hot(track, limit) for _, track in tracks) else []


def _hot_over_show(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    tracks = _all_hot(show, limit)
    if not tracks:
        return
    levels = [track.level_dbfs for _, track in tracks]
    yield Hit(
        songs=tuple(dict.fromkeys(name for name, _ in tracks)),
        severity=Severity.NOTE,
        value=max(levels),
        limit=limit["hot_dbfs"],
        message=_HOT_SHOW,
        cure=_HOT_CURE,
        facts={"songs": count(len({name for name, _ in tracks}), "song"), "lowest": min(levels)},
    )


_HOT = "the timecode stands at {value:.1f} dBFS, more than a line input wants (note above {hot_dbfs:g} dBFS)"
_HOT_SHOW = (
    "the timecode of all {songs} stands at {value:.1f} dBFS, more than a line input wants (note above "
    "{hot_dbfs:g} dBFS)"
)
_HOT_CURE = "Trim the output that carries timecode, not the files; 1 to 2 V peak to peak is what receivers "
_HOT_CURE += "prefer."


@rule(
    id="timecode-level",
    family="timecode",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    limit=Limit(value=-40.0, unit="dBFS", more={"hot_dbfs": -6.0, "edge_error": 0.1}),
    message="the timecode{falls} {value:.1f} dBFS, limit {limit:g} dBFS",
    cure="Write the timecode anew at −18 dBFS or so, without fades. " + CAUTION,
    again="at −18 dBFS or so, without fades or clipping",
    means="The timecode is too low to be trusted (below {limit:g} dBFS), or clipped until its bit cells "
    "deform. Above {hot_dbfs:g} dBFS it is a note: trim the output.",
    on_stage="A receiver loses low code in noise and crosstalk, and misreads deformed code; very hot code "
    "leaks into the neighbouring lines and may overload the input.",
    measured="Peak of the square wave without DC, as the mean of a frame's half-waves; of the weakest frame "
    "for the lower limit. Clipped code: samples at full scale while the middle edges of the ones lie more "
    "than {edge_error:.0%} of a bit cell off (rms).",
    source="Levels: no standard gives one in dBFS. IEC 60461:2010, 8.6.7 (informative) prefers 1 to 2 V peak "
    "to peak and allows 0.5 to 4.5 V: −37 to −12 dBFS by usual converter alignments, so −40 dBFS lies below "
    "all of them; −3 dBFS exceeds the range on every professional output. Edges: 8.6.4 allows 0.5 % of a "
    "cell; {edge_error:.0%} is own judgement, well before the quarter cell at which readers take a one for a "
    "zero.",
    over_show=_hot_over_show,
)
def timecode_level(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not song.timecode_parts:
        yield NotApplicable(reason=NO_TIMECODE)
    for stem, part, track in readable(song):
        at_full_scale = part.measures.clipping.runs > 0 or part.measures.peaks.sample_dbfs > -0.1
        if track.lowest_level_dbfs < limit.value:
            throughout = track.level_dbfs < limit.value
            yield Hit(
                stem=stem.name,
                value=track.level_dbfs if throughout else track.lowest_level_dbfs,
                at_s=None if throughout else track.lowest_level_at_s,
                facts={"falls": " stands at" if throughout else " falls to", "mean": track.level_dbfs},
            )
        elif at_full_scale and track.edge_error > limit["edge_error"]:
            yield Hit(
                stem=stem.name,
                message="clipped so far that receivers may misread it: edges lie {found:.0%} of a bit off "
                "(limit {edge_error:.0%})",
                facts={"found": track.edge_error},
            )
        elif _hot(track, limit) and not _all_hot(show, limit):
            yield Hit(
                stem=stem.name,
                value=track.level_dbfs,
                limit=limit["hot_dbfs"],
                severity=Severity.NOTE,
                message=_HOT,
                cure=_HOT_CURE,
            )


RULES = (timecode_unreadable, timecode_jump, timecode_flag, timecode_level)
