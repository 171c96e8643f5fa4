"""Do the stems of a song end together, and if not: was music lost or silence trimmed."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role, common_length_s
from audit.findings import Severity
from audit.rules.bars import WHOLE_BARS_S, bars_of, span
from audit.rules.bars_gone import bars_gone
from audit.rules.breaking_off import struck_to_the_end
from audit.rules.endings import Ending, codes_cut_short, endings
from audit.rules.other_lengths import other_lengths
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.wrong_rate import at_wrong_rate, wrong_rate_header
from audit.units import clock, count

CLEAR_S = 0.2
FEWEST_BEGUN = 3
"""A stem plays, and does not ring out, that begins so many sounds so long after the others' last one."""

MAY_RING_ON = frozenset({Role.PAD, Role.EFFECTS, Role.OTHER})
"""Drones and effects are meant to bridge into the next song."""


@rule(
    id="length-mismatch",
    family="length",
    severity=Severity.ERROR,
    scope="song",
    needs=("format", "audio"),
    heeds=(wrong_rate_header,),
    limit=Limit(
        value=10.0,
        unit="ms",
        more={
            "sounding_dbfs": -50.0,
            "under_own_db": 20.0,
            "ring_on_s": 10.0,
            "timecode_tail_s": 2.0,
            "strokes": 30,
            "rung_out_dbfs": -60.0,
            "rung_out_db": 40.0,
            "goes_on_s": 4.0,
            "edge_near": 0.2,
        },
    ),
    message="ends {early} early while still playing ({end_dbfs:.0f} dBFS in its last 50 ms), others go on; "
    "limit {limit:g} ms",
    cure="Bounce this stem again over the same range as the others, from bar 1 to the end of the last tail.",
    again="over the same range as the others, to the end of the last tail",
    means="A stem, or the timecode, ends while still playing and the music goes on, or lacks whole bars "
    "somewhere (error). Half of the "
    "stems share no length; or one plays on for more than {ring_on_s:.0f} s after the others' end, or alone"
    " for the bars that it is longer (warning). Another length of which nothing worse is known "
    "(trimmed silence, a cut start, a click or timecode of its own) is one note per song. One that stops "
    "between two strokes, before the last has died "
    "away, is a warning.",
    on_stage="The part breaks off before the song is over; or a stem from another bounce or arrangement "
    "plays beside the rest.",
    measured="File lengths in seconds, compared to {limit:g} ms. Playing: the last 50 ms are above "
    "{sounding_dbfs:.0f} dBFS and less than {under_own_db:.0f} dB under the stem's own level. A stem of "
    "{strokes:.0f} strokes and more that strikes on to its end as densely as before, whose file ends before"
    " its last stroke has died away (above {rung_out_dbfs:.0f} dBFS, less than {rung_out_db:.0f} dB under "
    "its own level), is a warning where others go on for {goes_on_s:.0f} s and more: between two strokes "
    "the level says little. A file that is whole bars shorter, whose last stroke comes as much before two "
    "others' and meets nobody's, and whose first meets another's (within {edge_near:g} beat), lacks bars: an "
    "error. Timecode is cut where its file ends sounding before the music's last sound: a "
    "warning in its last {timecode_tail_s:.0f} s (a tail), a note where at least half of two and more other"
    " songs do it too (a habit). Click and guide may stop before the music, and all three may be longer; "
    "pads and effects may ring on. No common length is a note where all stems end quietly and lie within "
    "{ring_on_s:.0f} s: trimmed tails. Silent, truncated and unreadable stems, and those at a wrong rate, "
    "are left to their own rules; the note leaves out stems that are off by whole beats or bars "
    "(shifted-by-beats, stale-arrangement).",
    source="own judgement; {limit:g} ms is far above any rounding of one export and below what a "
    "musician hears",
)
def length_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    misread = at_wrong_rate(song, limit.of(wrong_rate_header))
    everyone = [ending for ending in endings(song) if ending.stem.name not in misread]
    music = [ending for ending in everyone if ending.stem.audience]
    if not music or len(everyone) < 2:
        yield NotApplicable(reason="fewer than two stems with music to compare")
        return
    common = _common_s(song, music, limit)
    longer = [] if common is None else list(_plays_on(song, music, common, limit))
    code = list(_timecode_cut_short(song, show, limit, blamed={*misread, *(hit.stem for hit in longer)}))
    yield from code
    spoken = list(_cut_short(song, music, common, limit))
    if common is None and not spoken:
        yield _no_common_length(music, limit)
        return
    spoken += longer
    if common is not None:
        told = {hit.stem for hit in spoken}
        spoken += bars_gone(song, show, music, common, told, limit["edge_near"])
    yield from spoken
    if common is not None:
        yield from other_lengths(song, show, everyone, common, {hit.stem for hit in (*code, *spoken)}, limit)


def broken_off(song: SongEvidence, limit: Limit, misread: Collection[str]) -> frozenset[str | None]:
    """The stems that end while they play and others go on; those at a wrong rate tell no length."""
    everyone = (ending for ending in endings(song) if ending.stem.name not in misread)
    music = [ending for ending in everyone if ending.stem.audience]
    if len(music) < 2:
        return frozenset()
    return frozenset(hit.stem for hit in _cut_short(song, music, _common_s(song, music, limit), limit))


def _common_s(song: SongEvidence, music: Sequence[Ending], limit: Limit) -> float | None:
    """The length that half of the music shares; click and timecode may settle which of several."""
    within_s = limit.value / 1000.0
    click_s = next((one.end_s for one in endings(song) if one.stem.name == song.click_stem), None)
    common = common_length_s([ending.end_s for ending in music], within_s, like=click_s)
    return common_length_s([ending.end_s for ending in endings(song)], within_s) if common is None else common


def _cut_short(
    song: SongEvidence, music: Sequence[Ending], common: float | None, limit: Limit
) -> Iterator[Hit]:
    """Stems that end while they play and others sound on. Without a common length half of the others
    must."""
    within_s = limit.value / 1000.0
    for ending in music:
        others = [other for other in music if other is not ending]
        going_on = [other for other in others if other.last_sound_s > ending.end_s + within_s]
        if common is None:
            cut = len(others) > 0 and 2 * len(going_on) >= len(others)
            until = max(other.end_s for other in music)
        else:
            cut = ending.end_s < common - within_s and bool(going_on)
            until = common
        if cut and ending.sounds_at_end(limit):
            early_s = until - ending.end_s
            yield Hit(
                stem=ending.stem.name,
                value=1000.0 * early_s,
                at_s=ending.end_s,
                facts={
                    "early": span(early_s, song.click),
                    "end_dbfs": ending.end_dbfs,
                    "others_end_s": until,
                    "going_on": tuple(other.stem.name for other in going_on),
                },
            )
        elif cut and (since_s := struck_to_the_end(ending, limit)) is not None:
            on_s = max(other.last_sound_s for other in going_on) - ending.end_s
            if on_s >= limit["goes_on_s"]:
                yield _between_strokes(song, ending, until - ending.end_s, since_s, going_on)


def _between_strokes(
    song: SongEvidence, ending: Ending, early_s: float, since_s: float, going_on: Sequence[Ending]
) -> Hit:
    return Hit(
        stem=ending.stem.name,
        severity=Severity.WARNING,
        value=1000.0 * early_s,
        at_s=ending.end_s,
        message="ends {early} early, {since} after a stroke and before it has died away ({end_dbfs:.0f} "
        "dBFS), while it played as densely as before and others go on; limit {limit:g} ms",
        cure="Listen to its last bar. If it is meant to stop there, let its last stroke ring out; if not, "
        "bounce it again over the same range as the others.",
        facts={
            "early": span(early_s, song.click),
            "since": span(since_s),
            "end_dbfs": ending.end_dbfs,
            "going_on": tuple(other.stem.name for other in going_on),
        },
    )


def _timecode_cut_short(
    song: SongEvidence, show: ShowEvidence, limit: Limit, blamed: Collection[str | None]
) -> Iterator[Hit]:
    """Timecode whose file ends while it runs and the music goes on; not where the show does so by habit, nor
    where only stems go on that are blamed for it."""
    cut = codes_cut_short(song, limit, blamed)
    if not cut:
        return
    others = [
        other
        for other in show.songs
        if other.name != song.name and any(Role.TIMECODE in stem.roles for stem in other.stems)
    ]
    alike = sum(bool(codes_cut_short(other, limit)) for other in others)
    if len(others) >= 2 and 2 * alike >= len(others):
        return
    for ending, last_s in cut:
        early_s = last_s - ending.end_s
        tail = early_s <= limit["timecode_tail_s"]
        yield Hit(
            stem=ending.stem.name,
            severity=Severity.WARNING if tail else None,
            value=1000.0 * early_s,
            at_s=ending.end_s,
            message="the timecode breaks off at {end}, {early} before the music's last sound; limit "
            "{limit:g} ms",
            cure="Bounce the timecode again over the whole song; what runs on it stops where it stops.",
            again="over the whole song, to the music's last sound",
            facts={"end": clock(ending.end_s), "early": span(early_s), "music_ends_s": last_s},
        )


def _plays_on(song: SongEvidence, music: Sequence[Ending], common: float, limit: Limit) -> Iterator[Hit]:
    """A longer stem that sounds on far past everybody's end, or plays on alone for the whole bars that it is
    longer: no reverb does that."""
    for ending in music:
        alone = _bars_alone(song, ending, music, common)
        if alone is not None:
            yield alone
            continue
        after_s = ending.last_sound_s - common
        if after_s > limit["ring_on_s"] and not set(ending.stem.roles) & MAY_RING_ON:
            yield Hit(
                stem=ending.stem.name,
                severity=Severity.WARNING,
                value=1000.0 * (ending.end_s - common),
                at_s=common,
                message="plays on for {after} after the others' end at {end}, more than {ring_on_s:.0f} s: "
                "another arrangement, or bounced past the end; lengths differ by {late}, limit {limit:g} "
                "ms",
                cure="Listen to the end of the song. Bounce this stem again over the same range as the "
                "others, or the others if they are the old ones.",
                facts={
                    "after": span(after_s),
                    "late": span(ending.end_s - common, song.click),
                    "end": clock(common, millis=False),
                    "others_end_s": common,
                },
            )


def _bars_alone(song: SongEvidence, ending: Ending, music: Sequence[Ending], common: float) -> Hit | None:
    """The one stem that did not get the cut which the others got: longer by whole bars, and it still begins
    sounds after everybody's last one."""
    longer_s = ending.end_s - common
    others_s = max((other.last_sound_s for other in music if other is not ending), default=0.0)
    after_s = ending.last_sound_s - others_s
    if bars_of(longer_s, song.click, WHOLE_BARS_S) is None or after_s < 0.5 * longer_s:
        return None
    begun = [
        time_s
        for part in ending.stem.parts
        if part.measures.onsets is not None
        for time_s in part.measures.onsets.times_s
        if time_s > others_s + CLEAR_S
    ]
    if len(begun) < FEWEST_BEGUN:
        return None
    return Hit(
        stem=ending.stem.name,
        severity=Severity.WARNING,
        value=1000.0 * longer_s,
        at_s=others_s,
        message="plays on alone for {after} after the others' last sound at {end}, and is {late} longer than "
        "they are (limit {limit:g} ms): an older arrangement, which lacks a cut that they have?",
        cure="Listen to the end of the song. If the others were cut, bounce this stem again from the current "
        "version; if it is meant to end alone, nothing is to be done.",
        again="from the current version, as long as the others",
        facts={
            "after": span(after_s),
            "late": span(longer_s, song.click),
            "end": clock(others_s, millis=False),
            "others_end_s": common,
        },
    )


def _no_common_length(music: Sequence[Ending], limit: Limit) -> Hit:
    ordered = sorted(music, key=lambda ending: ending.end_s)
    apart_s = ordered[-1].end_s - ordered[0].end_s
    quiet = not any(ending.sounds_at_end(limit) for ending in music)
    return Hit(
        severity=Severity.NOTE if quiet and apart_s <= limit["ring_on_s"] else Severity.WARNING,
        value=1000.0 * apart_s,
        message="no length is shared by half of the {stems}: from {shortest} ({shortest_stem}) to "
        "{longest} ({longest_stem}); limit {limit:g} ms",
        cure="Check that all stems come from one export. Bounce them over one range: then a stem that is "
        "cut short shows at once.",
        facts={
            "stems": count(len(music), "stem"),
            "shortest": clock(ordered[0].end_s),
            "shortest_stem": ordered[0].stem.name,
            "longest": clock(ordered[-1].end_s),
            "longest_stem": ordered[-1].stem.name,
            "lengths_s": tuple(ending.end_s for ending in music),
        },
    )


RULES = (length_mismatch,)
