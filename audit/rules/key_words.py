"""How a stem in another key is told: which way to transpose it, its tuning, and the rate that explains both.

key_hit(song, stem, fit, decided), two_hit(both, stem, fit, decided) -> Hit
"""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import median

from audit.evidence import SongEvidence, StemEvidence
from audit.findings import Severity
from audit.results import KeyFit
from audit.rules.likeness import alike
from audit.rules.rule import Hit
from audit.units import count

Decided = tuple[float, float]
"""What told it, and the bound that it passed."""

TUNING_CENTS = 15.0
"""Less off than this is how instruments are tuned."""

RATE_CENTS, RATE_WITHIN = 1200.0 * math.log2(160 / 147), 12.0
"""What 44.1 kHz audio under a 48 kHz header is sharp by, 147 cents, and what tuning is heard to."""

TURNS = (0.0, -100.0, 100.0)

BY_RATE = (
    "Look at its sample rate before its key: {audio_khz} kHz audio under a {header_khz} kHz header sounds "
    "just so. If that is it, put the right rate into the header (no conversion) and convert it properly; if "
    "not, transpose the session of this stem {semitones_text} {back}{or_back} and bounce it again."
)
BY_RATE_AGAIN = (
    "at the right sample rate (if its audio is {audio_khz} kHz under a wrong header), in the song's key"
)


def key_hit(song: SongEvidence, stem: StemEvidence, fit: KeyFit, decided: Decided) -> Hit:
    """One stem that stands in another key."""
    off_cents = _off_cents(song, stem)
    value, bound = decided
    rates = _as_a_rate(fit.semitones, off_cents)
    # A key is moved by some number of semitones: what fits two of them alike, no small one, may fit neither.
    unsure = fit.or_semitones != 0 and min(abs(fit.semitones), abs(fit.or_semitones)) > 1 and not rates
    return Hit(
        stem=stem.name,
        value=value,
        limit=bound,
        severity=Severity.WARNING if unsure else None,
        confidence=min(1.0, fit.gain / 0.7),
        facts={
            **_facts(fit if rates else _small_first(fit)),
            "tuning": _tuning_text(off_cents),
            "off_cents": off_cents,
            "audio_khz": rates[0] if rates else "",
            "header_khz": rates[1] if rates else "",
        },
        cure=BY_RATE if rates else None,
        again=BY_RATE_AGAIN if rates else None,
    )


def _as_a_rate(semitones: int, off_cents: float | None) -> tuple[str, str] | None:
    """The rates in kHz, of the audio and in its header, that would explain key and tuning; None where none
    do. What plays few strokes tells no speed, so `wrong-rate-header` may not know."""
    if off_cents is None or abs(off_cents) < TUNING_CENTS:
        return None
    # Half-way between two semitones either of them may have been heard.
    near = (100.0 * abs(semitones) + turn + math.copysign(off_cents, off_cents * semitones) for turn in TURNS)
    if not any(abs(cents - RATE_CENTS) <= RATE_WITHIN for cents in near):
        return None
    return ("44.1", "48") if semitones > 0 else ("48", "44.1")


def two_hit(
    both: list[tuple[StemEvidence, KeyFit]], stem: StemEvidence, fit: KeyFit, decided: Decided
) -> Hit:
    """Two stems alone: that they differ is sure, not which of them is right."""
    value, bound = decided
    return Hit(
        value=value,
        limit=bound,
        confidence=min(1.0, fit.gain / 0.7),
        message="{first} and {second} are {semitones_text} apart in key: transposed so their chords are "
        "{there} alike, as they are {here}",
        again="in the key of the song's other stems",
        cure="Listen to both, find out which of them is in the song's key, and bounce the other one again "
        "from a session that is transposed.",
        facts={**_facts(_small_first(fit)), "first": both[0][0].name, "second": both[1][0].name},
    )


def _small_first(fit: KeyFit) -> KeyFit:
    """Of two turns that fit nearly alike a semitone first: so far songs and instruments are moved."""
    if abs(fit.or_semitones) == 1 and abs(fit.semitones) > 1:
        return replace(fit, semitones=fit.or_semitones, or_semitones=fit.semitones)
    return fit


def _facts(fit: KeyFit) -> dict[str, float | str | int]:
    first, second = fit.semitones, fit.or_semitones
    return {
        "semitones": first,
        "semitones_text": count(abs(first), "semitone"),
        "above": "above" if first > 0 else "below",
        "back": "down" if first > 0 else "up",
        "or_semitones": second,
        "or_above": _or_text(second, "above", "below"),
        "or_back": _or_text(second, "down", "up", then=" (it fits about as well; listen)"),
        "turned": fit.fit_turned,
        "there": alike(fit.fit_turned),
        "here": alike(fit.fit_as_is),
        "as_is": fit.fit_as_is,
    }


def _or_text(semitones: int, where_above: str, where_below: str, *, then: str = "") -> str:
    """The other place, as an addition; empty where there is none."""
    if not semitones:
        return ""
    return f" or {abs(semitones)} {where_above if semitones > 0 else where_below}{then}"


def _off_cents(song: SongEvidence, stem: StemEvidence) -> float | None:
    """How its tuning differs from the median of the other stems, beside the whole semitones."""
    own = _tuning(stem)
    others = [cents for other in song.stems if other is not stem and (cents := _tuning(other)) is not None]
    if own is None or not others:
        return None
    return (own - median(others) + 50.0) % 100.0 - 50.0


def _tuning(stem: StemEvidence) -> float | None:
    tuned = (part.measures.chroma for part in stem.parts if part.audience and not part.silent)
    return next((chroma.tuning_cents for chroma in tuned if chroma is not None), None)


def _tuning_text(off_cents: float | None) -> str:
    if off_cents is None or abs(off_cents) < TUNING_CENTS:
        return ""
    return f", and {abs(off_cents):.0f} cents {'sharp' if off_cents > 0 else 'flat'}"
