"""From samples to evidence, as the pipeline does it, without files: onsets, alignment, the rules' view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Finding, Severity
from audit.measure.alignment import align
from audit.measure.onsets import measure_onsets
from audit.results import Alignment, Onsets
from audit.rules.engine import judge
from audit.rules.rule import Rule
from tests.evidence import find_rule, show, song, stem
from tests.lab.songs import LabShow, LabSong

Heard = dict[str, Onsets]


def hear(lab_song: LabSong) -> Heard:
    """The onsets of every stem of a song."""
    return {stem.name: measure_onsets(stem.samples, lab_song.rate_hz) for stem in lab_song.stems}


def runs_of(beats_s: Sequence[float]) -> list[tuple[int, int]]:
    """Stretches of beats without a break: none is more than 1.6 times as long as the one before."""
    steps = np.diff(beats_s)
    breaks = [0, *(int(k) + 1 for k in np.flatnonzero(steps[1:] > 1.6 * steps[:-1]) + 1), len(beats_s)]
    return [(first, last - first) for first, last in pairwise(breaks)]


def aligned(lab_song: LabSong, heard: Heard) -> dict[str, Alignment]:
    names = [stem.name for stem in lab_song.stems]
    if not lab_song.beats_s:
        return {}
    found = align(
        np.array(lab_song.beats_s), runs_of(lab_song.beats_s), [heard[name] for name in names], names
    )
    return dict(zip(names, found, strict=True))


def song_evidence(lab_song: LabSong, heard: Heard) -> SongEvidence:
    alignments = aligned(lab_song, heard)
    stems = [
        replace(
            stem(one.name, role=one.role, rate_hz=lab_song.rate_hz, frames=len(one.samples),
                 channels=one.samples.shape[1]),
            alignment=alignments.get(one.name),
        )
        for one in lab_song.stems
    ]  # fmt: skip
    return song(lab_song.name, *stems)


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
        self, lab_song: LabSong, stem_name: str, onsets: Onsets, rules: Sequence[str]
    ) -> tuple[SongEvidence, list[Finding]]:
        """The song with one stem heard anew, and what the rules say of the show then."""
        changed = song_evidence(lab_song, {**self.heard[lab_song.name], stem_name: onsets})
        whole = show(*({**self.evidence, lab_song.name: changed}).values())
        found = [finding for finding in _faults(whole, rules) if lab_song.name in finding.songs]
        return changed, found


def _faults(evidence: ShowEvidence, rules: Sequence[str]) -> list[Finding]:
    chosen: list[Rule] = [find_rule(rule) for rule in rules]
    findings = judge(evidence, chosen, version="lab").all_findings()
    return [finding for finding in findings if finding.severity is not Severity.NOTE]
