"""What a new bounce should be, in words that a producer can work from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from statistics import median

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role, StemFormat
from audit.findings import Finding, ShowAudit
from audit.report.rebounce_code import OVERLAP, NewStarts, tracks
from audit.report.words import signed
from audit.results import ClickTrack
from audit.rules.asked import frame_rate
from audit.rules.timecode_show import usual_frame_rate
from audit.units import clock, count, khz

START_S = 0.05
"""A click that begins within this of the file's start begins with it."""

OTHER_LEVEL = frozenset({
    "sample-clipping", "flattened-peaks", "true-peak-over", "crew-level-jump", "role-level-outlier",
    "silent-stem", "missing-role", "foreign-stem", "duplicate-audio", "not-finite", "full-scale-noise",
})  # fmt: skip
"""Faults after whose cure the stem is not as loud as it was."""

CONTAINERS = {"flac": "FLAC", "aif": "AIFF", "aiff": "AIFF", "aifc": "AIFF", "caf": "CAF"}
"""What a file's name promises: it keeps its name. Everything else is asked for as WAV."""

CODE_DBFS = -18.0
"""Of new timecode where the show has no usable level; as the rule timecode-level advises."""


def of_song(song: SongEvidence) -> str:
    """What all stems of a song share: `from the others' start, 0:01.500 ahead of …, 3:34.000 long`."""
    return ", ".join(word for word in (_start(song.click), _length(song)) if word)


def of_stem(
    audit: ShowAudit,
    song: SongEvidence,
    stem: StemEvidence | None,
    findings: Sequence[Finding],
    starts: NewStarts,
) -> str:
    """`48 kHz, 24-bit WAV, stereo, same level; without the click in it`."""
    code = _is_code(stem, findings)
    stored = [_stored(audit, stem, findings, code=code)]
    if code:
        stored.append(_code(audit, song, findings, starts))
    elif _is_heard(stem) and not OTHER_LEVEL & {finding.rule for finding in findings}:
        stored.append("same level")
    # Which numbers are free has been said by then.
    left = [finding for finding in findings if not (code and finding.rule == OVERLAP)]
    repairs = dict.fromkeys(finding.again for finding in left if finding.again)
    return "; ".join([", ".join(word for word in stored if word), *repairs])


def _is_heard(stem: StemEvidence | None) -> bool:
    """Whether there is a level that the new bounce can have again."""
    return stem is None or (stem.audio is not None and bool(stem.parts) and not stem.silent)


def _is_code(stem: StemEvidence | None, findings: Sequence[Finding]) -> bool:
    if stem is not None:
        return set(stem.roles) == {Role.TIMECODE}
    return any(finding.measured.get("roles") == (Role.TIMECODE.value,) for finding in findings)


def _stored(audit: ShowAudit, stem: StemEvidence | None, findings: Sequence[Finding], *, code: bool) -> str:
    form = stem.format if stem is not None else None
    rate = audit.sample_rate_hz or (form.sample_rate_hz if form else None)
    bits = audit.bits or (form.bits if form else None)
    container = "WAV" if stem is None else CONTAINERS.get(stem.name.rpartition(".")[2].casefold(), "WAV")
    depth = f"{bits}-bit {container}" if bits else container
    sides = "mono" if code else _sides(form, findings)
    return ", ".join(word for word in (khz(rate) if rate else "", depth, sides) if word)


def _sides(form: StemFormat | None, findings: Sequence[Finding]) -> str:
    usual = next((f.measured.get("usual") for f in findings if f.rule == "channel-count-mismatch"), None)
    if isinstance(usual, str):
        return usual
    if form is None:
        return ""
    return {1: "mono", 2: "stereo"}.get(form.channels, count(form.channels, "channel"))


def _code(audit: ShowAudit, song: SongEvidence, findings: Sequence[Finding], starts: NewStarts) -> str:
    """`starting at 02:00:00:00, 25 frames a second, non-drop, at −12 dBFS`."""
    show, track = audit.evidence, song.timecode
    asked = frame_rate(song, show)
    rate = asked.text if asked else usual_frame_rate(show) or (track.rate.text if track else "")
    words = [starts.words(song, findings)]
    if rate:
        counted = "drop-frame" if rate.endswith(" DF") else "non-drop"
        words.append(f"{rate.partition(' ')[0]} frames a second, {counted}")
    levels = [one.level_dbfs for one in tracks(audit) if one.level_dbfs > float("-inf")]
    level = median(levels) if levels else CODE_DBFS
    usable = -40.0 < level < -6.0
    words.append(f"at {signed(level if usable else CODE_DBFS, 0)} dBFS")
    return ", ".join(words)


def _start(click: ClickTrack | None) -> str:
    """Where it has to begin, for whoever sees bars and not files."""
    if click is None:
        return "from the same start as the song's other stems"
    before = ""
    if click.count_in_beats:
        bar = click.beats_a_bar
        whole = bar is not None and click.count_in_beats % bar == 0
        bars = count(click.count_in_beats // bar, "bar") if bar and whole else None
        before = f" ({bars or count(click.count_in_beats, 'beat')} before the music)"
    if click.first_beat_s <= START_S:
        return f"from the click's first beat{before}"
    return f"from the others' start, {clock(click.first_beat_s)} ahead of the click's first beat{before}"


def _length(song: SongEvidence) -> str:
    """The length that most of the song's stems share, the longest of several."""
    lengths = Counter(
        round(stem.format.duration_s, 3)
        for stem in song.stems
        if stem.format is not None and stem.format.frames
    )
    if not lengths:
        return ""
    most = max(lengths.values())
    return f"{clock(max(length for length, times in lengths.items() if times == most))} long"
