"""A stem in another key than its song."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import KeyFit
from audit.rules.foreign import foreign_stem, home_of
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import count

LINE = 1.7
"""Fewer classes at once than this are a line: a bass or a tune."""

TUNING_CENTS = 15.0
"""Less off than this is how instruments are tuned."""


@rule(
    id="key-mismatch",
    family="identity",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=0.35,
        unit="correlation",
        more={"turned": 0.42, "as_is": 0.45, "tone": 0.45, "parallel": 0.7},
    ),
    message="stands {semitones_text} {above} the song's other stems{tuning}: moved there its harmony fits "
    "theirs at {turned:.2f} (1 is the same chords), as it is at {as_is:.2f}",
    cure="Find out which version has the right key, transpose the session of this stem {semitones_text} "
    "{back}, and bounce it again.",
    means="One stem is in another key than the rest of the song, by whole semitones: it fits them far better "
    "({limit:.2f} and more) after a transposition.",
    on_stage="Every note of it is wrong against the band and the other stems, from first to last.",
    measured="Which pitch classes sound, in frames of half a second, against those of the other stems at the "
    "same times, as it is and moved by 1 to 6 semitones up and down. The better fit has to show in both "
    "halves of the song, be at least {turned:.2f}, and be bad as it is ({as_is:.2f} and less). Chords that "
    "are a whole tone off, which share five notes of the scale, take {tone:.2f} more. Not told of a fourth "
    "or fifth, nor of tunes, which are played there on purpose, nor of a bass that another line doubles "
    "there ({parallel:.1f}). Not asked of drums, percussion, effects, speech, drones, and stems that sound "
    "with others for less than 8 s. All stems may change key together.",
    source="Own measurement on rendered songs; chroma after Fujishima 1999 and Gómez 2006 [memory].",
)  # fmt: skip
def key_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    asked = [(stem, stem.key) for stem in song.stems if stem.key is not None and stem.key.others > 0]
    if not asked:
        yield NotApplicable(reason="fewer than two stems with harmony")
        return
    foreign = foreign_stem.limit or limit
    found = [
        (stem, fit)
        for stem, fit in asked
        if is_transposed(stem, fit, limit) and home_of(stem, foreign) is None
    ]
    if found and all(fit.others == 1 for _, fit in asked) and len(asked) == 2:
        yield _two(asked, found[0][1])
        return
    for stem, fit in found:
        yield _one(song, stem, fit)


def is_transposed(stem: StemEvidence, fit: KeyFit, limit: Limit) -> bool:
    """Whether a stem clearly stands in another key, in both halves of what it plays.

    A fourth or fifth off is never told, nor a tune: both are played so on purpose, and a person's playing of
    either was taken for a transposition.
    """
    line = fit.voices < LINE
    if fit.semitones == 0 or abs(fit.semitones) == 5:
        return False
    if line and (stem.role is not Role.BASS or fit.parallel >= limit["parallel"]):
        return False
    least = limit["tone"] if abs(fit.semitones) == 2 and not line else limit.value
    halves = min(fit.first_half_gain, fit.second_half_gain)
    good, bad = fit.fit_turned >= limit["turned"], fit.fit_as_is <= limit["as_is"]
    return fit.gain >= least and halves >= 0.6 * least and good and bad


def _one(song: SongEvidence, stem: StemEvidence, fit: KeyFit) -> Hit:
    off_cents = _off_cents(song, stem)
    return Hit(
        stem=stem.name,
        value=fit.gain,
        confidence=min(1.0, fit.gain / 0.7),
        facts={**_facts(fit), "tuning": _tuning_text(off_cents), "off_cents": off_cents},
    )


def _two(both: list[tuple[StemEvidence, KeyFit]], fit: KeyFit) -> Hit:
    """Two stems alone: that they differ is sure, not which of them is right."""
    return Hit(
        value=fit.gain,
        confidence=min(1.0, fit.gain / 0.7),
        message="{first} and {second} are {semitones_text} apart in key: so moved their harmony fits at "
        "{turned:.2f} (1 is the same chords), as they are at {as_is:.2f}",
        cure="Listen to both, find out which of them is in the song's key, and bounce the other one again "
        "from a session that is transposed.",
        facts={**_facts(fit), "first": both[0][0].name, "second": both[1][0].name},
    )


def _facts(fit: KeyFit) -> dict[str, float | str | int]:
    return {
        "semitones": fit.semitones,
        "semitones_text": count(abs(fit.semitones), "semitone"),
        "above": "above" if fit.semitones > 0 else "below",
        "back": "down" if fit.semitones > 0 else "up",
        "turned": fit.fit_turned,
        "as_is": fit.fit_as_is,
    }


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


RULES = (key_mismatch,)
