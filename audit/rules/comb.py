"""One source in two stems of a song, a little apart or upside down."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from itertools import combinations

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import CommonSource
from audit.rules.identity import copies_in_force, duplicate_audio
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.versions import version_groups
from audit.units import power_to_db

MICROPHONES = frozenset({Role.DRUMS, Role.PERCUSSION})
"""Several microphones hear one kit, each a little later than the next: that alone is no fault."""

LEFT = frozenset({"l", "left", "links", "li", "gauche", "izquierda", "sinistra"})
RIGHT = frozenset({"r", "right", "rechts", "re", "droite", "derecha", "destra"})

UPSIDE_DOWN = (
    "the same source as {other}, upside down: both together are {loss_db:.0f} dB weaker than two sounds of "
    "their levels (likeness {likeness:.2f}; it is {louder})"
)
FLIP = (
    "Flip the polarity of one of the two at its source (not of both) and bounce it again. If it is one "
    "recording twice, keep one of them."
)
LATE_UPSIDE_DOWN = (
    "the same source as {other}, {value:.2f} ms ({samples} samples) after it and upside down: together they "
    "lose the bass, and cancel again near {notch_hz:.0f} Hz (likeness {likeness:.2f}; it is {louder})"
)
MOVE_AND_FLIP = (
    "If both are meant to play (a direct signal and its amplifier, two microphones), move this stem "
    "{samples} samples earlier, flip its polarity, and listen to both together; if it is one recording "
    "twice, keep one of them."
)


@rule(
    id="comb-pair",
    family="identity",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=0.1,
        unit="ms",
        more={"longest_ms": 10.0, "alike": 0.7, "one_recording": 0.97, "level_db": 15.0, "loss_db": 4.0},
    ),
    message="the same source as {other}, {value:.2f} ms ({samples} samples) after it: together they cancel "
    "first near {notch_hz:.0f} Hz (likeness {likeness:.2f}; it is {louder})",
    cure="If both are meant to play (a direct signal and its amplifier, two microphones), move this stem "
    "{samples} samples earlier and listen to both together; if it is one recording twice, keep one of them.",
    cure_in_general="If both are meant to play (a direct signal and its amplifier, two microphones), move "
    "the later one earlier by what the finding says and listen to both together; if it is one recording "
    "twice, keep one of them.",
    again="in line with {other}",
    means="Two stems of a song hold the same source, {limit:.1f} to {longest_ms:.0f} ms apart, or one of "
    "them upside down, so that part of the sound cancels where both play: a comb filter.",
    on_stage="Each stem sounds right alone. Together they sound hollow or thin, and turning one up does not "
    "help.",
    measured="Cross-spectra of all pairs of stems (left and right added up), in windows of 90 ms, three a "
    "second. The same source keeps one lag in every half octave; two takes, or two instruments on the same "
    "notes, do not. Told where the correlation at that lag, all half octaves weighing alike, is {alike:.1f} "
    "or more, and the levels lie within {level_db:.0f} dB. Two drum or percussion stems may be microphones "
    "at one kit, and a left and its right two at one piano: they are told only as one recording twice, from "
    "{one_recording:.2f} on. Upside down without a lag: where the sum loses {loss_db:.0f} dB or more. A full "
    "mix, versions of one stem, and copies without a lag are told by other rules.",
    source="Common practice: two equal sounds a time τ apart cancel at (2k + 1) / 2τ. Limits: own "
    "measurement on rendered songs and simulated microphones and amplifiers.",
    heeds=(duplicate_audio,),
)  # fmt: skip
def comb_pair(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    roles = {stem.name: frozenset(stem.roles) for stem in song.stems if stem.audience and not stem.silent}
    pairs = [pair for pair in song.common_sources or () if pair.first in roles and pair.second in roles]
    if song.common_sources is None or len(roles) < 2:
        yield NotApplicable(reason="no two stems to compare")
        return
    versions = {
        frozenset((one.file, other.file))
        for group in version_groups([stem.stem for stem in song.stems])
        for one, other in combinations(group, 2)
    }
    copies = {
        frozenset((copy.first, copy.second))
        for copy in copies_in_force(show, limit.of(duplicate_audio))
        if copy.first_song == copy.second_song == song.name
    }
    for pair in pairs:
        if (
            frozenset((pair.first, pair.second)) in versions | copies
            or abs(pair.level_db) > limit["level_db"]
        ):
            continue
        if limit.value <= abs(pair.lag_ms) <= limit["longest_ms"]:
            one_kit = roles[pair.first] <= MICROPHONES and roles[pair.second] <= MICROPHONES
            strict = one_kit or are_two_sides(pair.first, pair.second)
            if pair.likeness >= limit["one_recording" if strict else "alike"]:
                yield _late(pair)
        elif abs(pair.lag_ms) < limit.value and _opposed(pair) and pair.likeness >= limit["alike"]:
            loss_db = _loss_db(pair)
            if loss_db >= limit["loss_db"]:
                yield _upside_down(pair, loss_db)


def are_two_sides(first: str, second: str) -> bool:
    """Whether two file names differ in nothing but "left" and "right", as the two halves of a split pair."""
    one, other = (re.findall(r"[^\W_]+", name.casefold()) for name in (first, second))
    if len(one) != len(other):
        return False
    odd = [(a, b) for a, b in zip(one, other, strict=True) if a != b]
    if len(odd) != 1:
        return False
    a, b = odd[0]
    if a[:-1] == b[:-1]:
        a, b = a[-1], b[-1]  # "OHL" beside "OHR"
    return (a in LEFT and b in RIGHT) or (a in RIGHT and b in LEFT)


def _loss_db(pair: CommonSource) -> float:
    """By how much the sum of the two is weaker than sounds that have nothing in common."""
    ratio = 10.0 ** (pair.level_db / 20.0)
    alone = 1.0 + ratio * ratio
    shared = 2.0 * ratio * pair.likeness * math.cos(math.radians(pair.turned_deg))
    return -power_to_db(max(alone + shared, 1e-6 * alone) / alone)


def _opposed(pair: CommonSource) -> bool:
    return pair.turned_deg >= 120.0


def _late(pair: CommonSource) -> Hit:
    stem, other = (pair.second, pair.first) if pair.lag_ms > 0 else (pair.first, pair.second)
    lag_ms = abs(pair.lag_ms)
    return Hit(
        stem=stem,
        value=lag_ms,
        confidence=pair.likeness,
        message=LATE_UPSIDE_DOWN if _opposed(pair) else None,
        cure=MOVE_AND_FLIP if _opposed(pair) else None,
        again="in line with {other}, its polarity flipped" if _opposed(pair) else None,
        facts={
            "other": other,
            "samples": round(abs(pair.lag_frames)),
            # upside down the notches lie at 0 and at whole multiples of 1/τ
            "notch_hz": (1000.0 if _opposed(pair) else 500.0) / lag_ms,
            "coherence": pair.coherence,
            "likeness": pair.likeness,
            "opposed": _opposed(pair),
            **_level(pair, of=stem),
        },
    )


def _upside_down(pair: CommonSource, loss_db: float) -> Hit:
    return Hit(
        stem=pair.second,
        confidence=pair.likeness,
        message=UPSIDE_DOWN,
        cure=FLIP,
        again="with its polarity flipped",
        facts={
            "other": pair.first,
            "samples": round(abs(pair.lag_frames)),
            "loss_db": loss_db,
            "coherence": pair.coherence,
            "likeness": pair.likeness,
            "opposed": True,
            **_level(pair, of=pair.second),
        },
    )


def _level(pair: CommonSource, *, of: str) -> dict[str, float | str]:
    level_db = pair.level_db if of == pair.second else -pair.level_db
    if abs(level_db) < 0.5:
        louder = "as loud"
    else:
        louder = f"{abs(level_db):.0f} dB {'louder' if level_db > 0 else 'quieter'}"
    return {"level_db": level_db, "louder": louder}


RULES = (comb_pair,)
