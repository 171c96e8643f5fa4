"""What a new bounce should be, in one line that a producer can work from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import StemFormat
from audit.findings import Finding, ShowAudit
from audit.results import ClickTrack
from audit.units import clock, count, khz

HEADROOM = frozenset({"sample-clipping", "flattened-peaks", "not-finite"})
START_S = 0.05
"""A click that begins within this of the file's start begins with it."""


def wanted(
    audit: ShowAudit, song: SongEvidence, stem: StemEvidence | None, findings: Sequence[Finding]
) -> str:
    """`48 kHz, 24-bit WAV, stereo, from bar 1 (2 bars before the music), 3:34.000 long, same level`."""
    words = [_stored(audit, stem, findings), _start(song.click), _length(audit, song, stem), _level(findings)]
    return ", ".join(word for word in words if word)


def _stored(audit: ShowAudit, stem: StemEvidence | None, findings: Sequence[Finding]) -> str:
    form = stem.format if stem is not None else None
    rate = audit.sample_rate_hz or (form.sample_rate_hz if form else None)
    bits = audit.bits or (form.bits if form else None)
    container = form.container if form is not None and form.container in ("FLAC", "AIFF", "CAF") else "WAV"
    depth = f"{bits}-bit {container}" if bits else container
    return ", ".join(word for word in (khz(rate) if rate else "", depth, _sides(form, findings)) if word)


def _sides(form: StemFormat | None, findings: Sequence[Finding]) -> str:
    usual = next((f.measured.get("usual") for f in findings if f.rule == "channel-count-mismatch"), None)
    if isinstance(usual, str):
        return usual
    if form is None:
        return ""
    return {1: "mono", 2: "stereo"}.get(form.channels, count(form.channels, "channel"))


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


def _length(audit: ShowAudit, song: SongEvidence, stem: StemEvidence | None) -> str:
    """The length that most of the song's stems share, others than this one before it."""
    lengths = Counter(
        round(other.format.duration_s, 3)
        for other in song.stems
        if other.format is not None and other.format.frames and other is not stem
    )
    if not lengths and stem is not None and stem.format is not None and stem.format.frames:
        lengths[round(stem.format.duration_s, 3)] = 1
    if not lengths:
        return ""
    most = max(lengths.values())
    return f"{clock(max(length for length, times in lengths.items() if times == most))} long"


def _level(findings: Sequence[Finding]) -> str:
    rules = {finding.rule for finding in findings}
    if rules & HEADROOM:
        return "turned down before the stage that clips, with peaks below −1 dBTP"
    over = [
        f.value - f.limit for f in findings if f.rule == "true-peak-over" and f.value and f.limit is not None
    ]
    if over:
        return f"at least {max(over) + 0.1:.1f} dB lower"
    if "crew-level-jump" in rules:
        return "at the level it has in the other songs"
    return "same level" if not rules & {"silent-stem", "missing-role", "foreign-stem"} else ""
