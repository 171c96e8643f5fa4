"""A large show for the page: envelopes of full length, a click, timecode, and faults in every third song."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import ShowAudit
from audit.measure.envelope import MOST_BINS
from audit.results import ClickTrack, Envelope, Excerpt, Place, Trace
from tests.evidence import mix, part, song, stem
from tests.report.samples import audit_of, finding
from tests.rules.timecode_tracks import track

WORDS = ("Bass", "Drums", "Keys", "Guitar", "Pad", "Strings", "Brass", "Lead Vocal", "Backing Vocals", "Perc")
RULES = ("dropout", "sample-clipping", "truncated-file", "length-mismatch")


def large_show(songs: int, stems: int) -> ShowAudit:
    """`songs` songs of `stems` stems, four minutes each."""
    rng = random.Random(1)
    names = [f"{number:03d} - Night Ferry {number}" for number in range(1, songs + 1)]
    size = {"value": 20.0, "limit": 2.0, "unit": "ms"}
    findings = tuple(
        finding(rule, "error", _name(place), (name,), at_s=10.0 + 20.0 * place, **size)
        for name in names[::3]
        for place, rule in enumerate(RULES)
    )
    made = [_song(name, number, stems, rng) for number, name in enumerate(names)]
    return audit_of(*made, findings=findings)


def excerpts_for(places: list[Place]) -> dict[Place, Excerpt]:
    """As many samples as the reader hands out at most."""
    rng = random.Random(2)
    waves = [tuple(round(rng.uniform(-0.5, 0.5), 6) for _ in range(960)) for _ in range(2)]
    traces = tuple(Trace(channel=n, lows=wave, highs=wave) for n, wave in enumerate(waves))
    return {
        place: Excerpt(first_s=place.first_s, span_s=place.span_s, column_frames=1, traces=traces)
        for place in places
    }


def _name(place: int) -> str:
    return f"{WORDS[place % len(WORDS)]} {place}.wav"


def _song(name: str, number: int, stems: int, rng: random.Random) -> SongEvidence:
    beats = tuple(0.5 * beat for beat in range(470))
    click = ClickTrack(
        beats_s=beats, accents=tuple(beat % 4 == 0 for beat in range(470)), runs=(), bpm=120.0, metre="4/4",
        count_in_beats=8, first_beat_s=0.0, music_s=4.0,
    )  # fmt: skip
    code = track(f"{number % 24:02d}:00:00:00", 240.0)
    made = [_stem(_name(place), rng) for place in range(stems - 2)]
    timecode = stem("LTC.wav", parts=[part(Role.TIMECODE, timecode=code)], seconds=240.0)
    crew = [timecode, _stem("Click.wav", rng)]
    return song(name, *made, *crew, mix=mix(from_stems=tuple(one.name for one in made)), click=click)


def _stem(name: str, rng: random.Random) -> StemEvidence:
    made: Any = stem(name, seconds=240.0)
    envelope = Envelope(
        bin_s=0.4,
        peaks=bytes(rng.choices(range(180, 238), k=MOST_BINS)),
        levels=bytes(rng.choices(range(150, 225), k=MOST_BINS)),
    )
    parts = tuple(replace(one, measures=replace(one.measures, envelope=envelope)) for one in made.parts)
    return replace(made, parts=parts)
