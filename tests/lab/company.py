"""Stems in company: songs' evidence on harmony and rhythm, with one stem exchanged for a planted one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from audit.evidence import SongEvidence, StemEvidence
from audit.findings import Finding, Severity
from audit.pipeline.songs.belonging import with_elsewhere, with_key
from audit.results import Chroma, ClickRun, ClickTrack, Onsets
from tests.evidence import findings, show, song, stem
from tests.lab.hearing import runs_of
from tests.lab.songs import LabShow, LabSong, LabStem
from tests.measure.feeding import measure_chroma, measure_onsets

RULES = ("key-mismatch", "foreign-stem")


@dataclass(frozen=True, kw_only=True)
class Heard:
    """What is measured of one stem."""

    chroma: Chroma
    onsets: Onsets


def hear(samples: np.ndarray, rate_hz: int) -> Heard:
    return Heard(chroma=measure_chroma(samples, rate_hz), onsets=measure_onsets(samples, rate_hz))


def click_of(beats_s: Sequence[float]) -> ClickTrack | None:
    if len(beats_s) < 2:
        return None
    runs = tuple(
        ClickRun(first_beat=first, beats=count, bpm_first=120.0, bpm_last=120.0, steady=True)
        for first, count in runs_of(beats_s)
    )
    return ClickTrack(
        beats_s=tuple(beats_s), accents=tuple(False for _ in beats_s), runs=runs, bpm=None, metre=None,
        count_in_beats=None, first_beat_s=beats_s[0],
    )  # fmt: skip


def stem_evidence(one: LabStem, heard: Heard, rate_hz: int) -> StemEvidence:
    made = stem(one.name, role=one.role, rate_hz=rate_hz, frames=max(1, len(one.samples)))
    part = replace(
        made.parts[0],
        measures=replace(made.parts[0].measures, chroma=heard.chroma, onsets=heard.onsets),
    )
    return replace(made, parts=(part,))


class Company:
    """A lab show heard once; any stem can then be something else."""

    def __init__(self, lab_show: LabShow) -> None:
        self.show = lab_show
        self.heard = {
            one.name: {stem.name: hear(stem.samples, one.rate_hz) for stem in one.stems}
            for one in lab_show.songs
        }
        self.songs = {one.name: self.song(one, {}) for one in lab_show.songs}

    def song(self, one: LabSong, instead: Mapping[str, Heard]) -> SongEvidence:
        """One song, some stems of it planted."""
        heard = {**self.heard[one.name], **instead}
        stems = [stem_evidence(stem, heard[stem.name], one.rate_hz) for stem in one.stems]
        return with_key(song(one.name, *stems, click=click_of(one.beats_s)))

    def clean(self) -> list[Finding]:
        """What the rules say of the untouched show."""
        return self.judged(list(self.songs.values()))

    def planted(self, one: LabSong, instead: Mapping[str, Heard]) -> list[Finding]:
        """What they say with some stems of one song planted, about that song."""
        changed = {**self.songs, one.name: self.song(one, instead)}
        return [finding for finding in self.judged(list(changed.values())) if one.name in finding.songs]

    def judged(self, songs: Sequence[SongEvidence]) -> list[Finding]:
        whole = show(*with_elsewhere(songs))
        found = [finding for rule in RULES for finding in findings(rule, whole)]
        return [finding for finding in found if finding.severity is not Severity.NOTE]
