"""From samples to evidence, as the pipeline does it, without files: onsets, harmony, alignment, the rules'
view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import mode

import numpy as np

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Finding, Severity
from audit.measure.alignment import align
from audit.measure.by_length import by_length
from audit.measure.harmony import lay_by_harmony, with_harmony
from audit.results import Alignment, Chroma, ClickRun, ClickTrack, Onsets
from audit.rules.engine import judge
from audit.rules.rule import Rule
from tests.evidence import find_rule, show, song, stem
from tests.lab.songs import LabShow, LabSong
from tests.measure.feeding import measure_chroma, measure_onsets

Samples = np.ndarray


@dataclass(frozen=True, kw_only=True)
class Sound:
    """What one stem's meters say."""

    onsets: Onsets
    chroma: Chroma
    frames: int


Heard = dict[str, Sound]


def hear_stem(samples: Samples, rate_hz: int) -> Sound:
    return Sound(
        onsets=measure_onsets(samples, rate_hz), chroma=measure_chroma(samples, rate_hz), frames=len(samples)
    )


def hear(lab_song: LabSong) -> Heard:
    """Every stem of a song."""
    return {stem.name: hear_stem(stem.samples, lab_song.rate_hz) for stem in lab_song.stems}


def runs_of(beats_s: Sequence[float]) -> list[tuple[int, int]]:
    """Stretches of beats without a break: none is more than 1.6 times as long as the one before."""
    steps = np.diff(beats_s)
    breaks = [0, *(int(k) + 1 for k in np.flatnonzero(steps[1:] > 1.6 * steps[:-1]) + 1), len(beats_s)]
    return [(first, last - first) for first, last in pairwise(breaks)]


def accents_of(lab_song: LabSong) -> tuple[bool, ...]:
    return tuple(k % lab_song.beats_a_bar == 0 for k in range(len(lab_song.beats_s)))


def aligned(lab_song: LabSong, heard: Heard) -> dict[str, Alignment]:
    names = [stem.name for stem in lab_song.stems]
    if not lab_song.beats_s:
        return {}
    beats_s, runs = np.array(lab_song.beats_s), runs_of(lab_song.beats_s)
    found = align(beats_s, runs, [heard[name].onsets for name in names], names)
    chromas = [None if stem.role is Role.FULL_MIX else heard[stem.name].chroma for stem in lab_song.stems]
    accents = accents_of(lab_song)
    laid = lay_by_harmony(beats_s, runs, chromas, names, lab_song.beats_a_bar, accents)
    lengths = by_length([heard[name].onsets for name in names], _longer_s(lab_song, heard), beats_s)
    return {
        name: replace(with_harmony(one, by, beats_s, heard[name].chroma), by_length=length)
        for name, one, by, length in zip(names, found, laid, lengths, strict=True)
    }


def _longer_s(lab_song: LabSong, heard: Heard) -> list[float]:
    """By how much each stem is longer than most."""
    frames = [heard[one.name].frames for one in lab_song.stems]
    return [(one - mode(frames)) / lab_song.rate_hz for one in frames]


def click_of(lab_song: LabSong) -> ClickTrack | None:
    """The click as the truth has it, of an even tempo."""
    beats_s = lab_song.beats_s
    if len(beats_s) < 2:
        return None
    bpm = 60.0 / float(np.median(np.diff(beats_s)))
    runs = tuple(
        ClickRun(first_beat=first, beats=count, bpm_first=bpm, bpm_last=bpm, steady=True)
        for first, count in runs_of(beats_s)
    )
    a_bar = lab_song.beats_a_bar
    return ClickTrack(
        beats_s=beats_s, accents=accents_of(lab_song), runs=runs, bpm=bpm,
        metre=f"{a_bar}/4", count_in_beats=a_bar, first_beat_s=beats_s[0],
    )  # fmt: skip


def song_evidence(lab_song: LabSong, heard: Heard) -> SongEvidence:
    alignments = aligned(lab_song, heard)
    stems = [
        replace(
            stem(one.name, role=one.role, rate_hz=lab_song.rate_hz, frames=heard[one.name].frames,
                 channels=one.samples.shape[1]),
            alignment=alignments.get(one.name),
        )
        for one in lab_song.stems
    ]  # fmt: skip
    return song(lab_song.name, *stems, click=click_of(lab_song))


class Bench:
    """A lab show heard once; songs of it are exchanged for planted ones."""

    def __init__(self, lab_show: LabShow) -> None:
        self.show = lab_show
        self.heard = {one.name: hear(one) for one in lab_show.songs}
        self.evidence = {one.name: song_evidence(one, self.heard[one.name]) for one in lab_show.songs}

    def clean(self, rules: Sequence[str]) -> list[Finding]:
        """Everything above a note that the rules say of the untouched show."""
        return _faults(show(*self.evidence.values()), rules)

    def planted(
        self, lab_song: LabSong, stem_name: str, sound: Sound, rules: Sequence[str]
    ) -> tuple[SongEvidence, list[Finding]]:
        """The song with one stem heard anew, and what the rules say of the show then."""
        changed = song_evidence(lab_song, {**self.heard[lab_song.name], stem_name: sound})
        return changed, self.said(lab_song, changed, rules)

    def said(self, lab_song: LabSong, changed: SongEvidence, rules: Sequence[str]) -> list[Finding]:
        """What the rules say of the song, with this evidence of it, in its show."""
        whole = show(*({**self.evidence, lab_song.name: changed}).values())
        return [finding for finding in _faults(whole, rules) if lab_song.name in finding.songs]


def _faults(evidence: ShowEvidence, rules: Sequence[str]) -> list[Finding]:
    chosen: list[Rule] = [find_rule(rule) for rule in rules]
    findings = judge(evidence, chosen, version="lab").all_findings()
    return [finding for finding in findings if finding.severity is not Severity.NOTE]
