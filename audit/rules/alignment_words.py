"""How a stem that sits beside the beat is told: where it lies, and which way to move it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from audit.evidence import StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Phase
from audit.rules.half_beats import Told
from audit.rules.phases import MARKING
from audit.rules.places import Habit
from audit.rules.rule import MINUS, Hit, Limit
from audit.units import count


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One stem's place against its habit, and what is asked of it."""

    stem: StemEvidence
    phase: Phase
    habit: Habit | None
    off_ms: float  # past the habit (or from the click, without one)
    limit_ms: float
    spread_ms: float  # what a place of the role is uncertain by
    zero_ms: float = 0.0  # what the song's zero, from which it is read, is uncertain by; 0.0: the click is it
    named_elsewhere: bool = True  # another song has a stem of its role and name
    as_ever_ms: float | None = None  # past where its role lies off the click itself in the other songs


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What is said of a stem, and who says so."""

    judged: Judged
    severity: Severity
    bound_ms: float
    agreeing: tuple[str, ...] = ()  # other stems that share strokes with it; none: the click says it,
    standing: tuple[str, ...] = ()  # against which these other stems lie as in the show's other songs
    alike_in: str = ""  # another song in which its role lies about as far off
    by_length: bool = False  # its file is as much longer or shorter than the others'

    @property
    def witnesses(self) -> str:
        if self.alike_in:
            return f"{self._own_witnesses}; in {self.alike_in} it lies so too: a slow sound, or both are off"
        return self._own_witnesses

    @property
    def _own_witnesses(self) -> str:
        length = "its file is as much " + ("longer" if self.judged.off_ms > 0.0 else "shorter")
        if self.agreeing:
            agree = f"{len(self.agreeing)} other stems agree"
            return f"{agree}, and {length}" if self.by_length else agree
        if self.by_length:
            return length + " than the others'"
        if self.standing:
            lie = "lie" if len(self.standing) > 1 else "lies"
            where = "with the song's others" if self.judged.zero_ms else "on the click"
            return f"{count(len(self.standing), 'other stem')} {lie} {where} as usual"
        return "by the click alone"


def _why(judged: Judged, bound_ms: float, limit: Limit, *, by_click: bool = False) -> str:
    """Why the limit is another than the rule's own: `, as its role's place differs so much between songs`."""
    if round(bound_ms) == round(limit.value):
        return ""
    habit, error_ms, zero_ms = judged.habit, judged.phase.error_ms, judged.zero_ms
    role_ms = 0.0 if habit is None else habit.click_spread_ms if by_click else habit.spread_ms
    widest_ms = max(role_ms, error_ms, zero_ms)
    times = {1.0, limit["unwitnessed"]} if by_click else {1.0, limit["click_surely"]}
    if any(abs(bound_ms - each * limit["spreads"] * widest_ms) < 0.05 for each in times):
        if widest_ms == role_ms:
            return ", as its role's place differs so much between songs"
        return ", as its notes scatter so" if widest_ms == error_ms else ", as the song lies beside its click"
    if by_click:
        return ", as only the click says it"
    if habit is None:
        return ", as the show has too few such stems to compare"
    return " for a warning" if bound_ms < limit.value else f" for {judged.stem.role.value}"


def between_hit(judged: Judged, told: Told, limit: Limit) -> Hit:
    """Half or a quarter of a beat off by where it strikes; its place within that is as usual."""
    rate_hz = judged.stem.format.sample_rate_hz if judged.stem.format is not None else 48_000
    first, *others = told.places_ms
    # Much dance music has its bass between the beats of a kick: strokes alone do not tell that from a fault.
    meant = judged.stem.role is Role.BASS and told.by == "strokes" and told.part == "half a beat"
    return Hit(
        stem=judged.stem.name,
        value=first,
        limit=round(judged.limit_ms, 1),
        severity=Severity.NOTE if meant else Severity.WARNING,
        confidence=0.7,
        message="about {part} off: it strikes {where}, the {role} of the show's other songs "
        "on them ({value:+.0f} ms{or_by}, limit {limit:g} ms{why}; + = plays after the click)",
        cure="Listen to it with the click. {written}If it is off, move it {samples} samples "
        "{cure_way}{or_samples}, or bounce it again from bar 1 of the current version.",
        again="{part} {cure_way} ({samples} samples){or_samples}, from bar 1 of the current version",
        facts={
            "role": judged.stem.role.value,
            "why": _why(judged, judged.limit_ms, limit),
            "part": told.part or "half a beat",
            "where": "beside the eighths" if told.part == "a quarter of a beat" else "between the beats",
            "written": "An off-beat bass is written so: then leave it. " if meant else "",
            "or_by": f" or {_signed(others[0])} ms" if others else "",
            "samples": round(abs(first) * rate_hz / 1000.0),
            "cure_way": "earlier" if first > 0.0 else "later",
            "or_samples": _or_move(others, rate_hz),
            "places_ms": told.places_ms,
            "told_by": told.by,
            "on_beat": judged.phase.on_beat,
        },
    )


def _signed(value_ms: float) -> str:
    return f"{value_ms:+.0f}".replace("-", MINUS)


def _or_move(others_ms: Sequence[float], rate_hz: int) -> str:
    """Other ways to move it, as the cure says them."""
    ways = [
        f"{round(abs(one) * rate_hz / 1000.0)} samples {'earlier' if one > 0.0 else 'later'}"
        for one in others_ms
    ]
    return f" (or {', or '.join(ways)}: listen which)" if ways else ""


def _left_open(others_ms: Sequence[float], sixteenth_ms: float | None) -> str:
    """What looks the same where half beats, or sixteenths, cannot be told apart."""
    places = " or ".join(_signed(one) for one in others_ms)
    halves = f"{places} ms would look the same" if places else "half beats more would look the same"
    if sixteenth_ms is not None:
        halves += f", and so would {_signed(sixteenth_ms)} ms if it plays sixteenths"
    return halves


def _farther(others_ms: Sequence[float], told: Told) -> str:
    if told.by == "nothing":
        return _left_open(others_ms, told.sixteenth_ms)
    if told.by == "harmony" and told.sixteenth_ms is not None:
        return f"{_signed(told.sixteenth_ms)} ms would look the same, as it plays sixteenths"
    return ""


def _or_a_sixteenth(told: Told) -> str:
    """That a stem may be as well on the other side of the beat, beside the size that is named."""
    if told.sixteenth_ms is None or told.by == "strokes":
        return ""
    return f" (or {_signed(told.sixteenth_ms)} ms, if it plays sixteenths)"


_PARTS = {
    ("harmony", "half a beat"): "half a beat by its chords",
    ("strokes", "half a beat"): "half a beat, as its strong strokes lie between the beats",
    ("strokes", "a quarter of a beat"): "a quarter of a beat, as its strokes lie beside the eighths",
}


def _part_words(told: Told, off_ms: float) -> str:
    """What tells it from the place within the beat that its strokes alone would say."""
    if not told.part:
        return _or_a_sixteenth(told)
    if told.part == "by its chords":
        return f" (so its chords say; by its strokes alone {_signed(off_ms)} ms would look the same)"
    return f" ({_PARTS[told.by, told.part]}, and {_signed(off_ms)} ms within it)"


def offset_hit(verdict: Verdict, told: Told, limit: Limit) -> Hit:
    judged, bound_ms = verdict.judged, verdict.bound_ms
    rate_hz = judged.stem.format.sample_rate_hz if judged.stem.format is not None else 48_000
    size_ms, *others = told.places_ms
    late, farther = size_ms > 0.0, _farther(others, told)
    than = (
        ("its like in" if judged.habit.lent else f"the {judged.stem.role.value} of")
        + " the show's other songs"
        if judged.habit
        else "the song's other stems"
    )
    return Hit(
        stem=judged.stem.name,
        value=size_ms,
        limit=round(bound_ms, 1),
        severity=verdict.severity,
        confidence=judged.phase.confidence,
        facts={
            "early_late": "late" if late else "early",
            "cure_way": "earlier" if late else "later",
            "size_ms": abs(size_ms),
            "off_ms": judged.off_ms,
            "samples": round(abs(size_ms) * rate_hz / 1000.0),
            "than": than,
            "strokes": "hits" if judged.stem.role in MARKING else "notes",
            "half": _part_words(told, judged.off_ms),
            "or_samples": _or_move(others, rate_hz) if told.part else "",
            "farther": f"Listen first: {farther}. " if farther else "",
            "listen": f"; listen first: {farther}" if farther else "",
            "bound": bound_ms,
            "why": _why(judged, bound_ms, limit, by_click=not (verdict.agreeing or verdict.by_length)),
            "offset_ms": judged.phase.offset_ms,
            "iqr_ms": judged.phase.iqr_ms,
            "onsets": judged.phase.onsets,
            "witnesses": verdict.witnesses,
            "agreeing": verdict.agreeing,
            "standing": verdict.standing,
            "alike_in": verdict.alike_in,
            "by_length": verdict.by_length,
            "others": len(judged.phase.against),
            "places_ms": told.places_ms,
            "told_by": told.by,
        },
    )
