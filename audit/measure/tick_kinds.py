"""The sounds a click is made of: ticks that have one waveform belong to one kind, placed by that waveform.

    TickKinds(rate_hz)   .place(wave, near) -> Placed   .starts(), .waves(): one entry a kind

A tick's own first rise is blurred by noise, by the tail of the tick before, by a spoken count. The kind's
template, an average of its first clean members, is not: each tick is laid over it by normalised
cross-correlation (a parabola through the three highest values gives fractions of a sample), and the kind's
start is found once, on the template.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from audit.measure.medians import middle_of

Wave = npt.NDArray[np.float64]

LEAD_S = 0.003
BODY_S = 0.012
"""A template: 3 ms before the first rise, so that its edge counts, and 12 ms of sound."""

ALIKE = 0.8
"""Correlation of one kind. Own measurement: tones a third apart reach 0.5, a tick under a voice of its own
level 0.7 to 0.9."""

CLEARLY_ALIKE = 0.97
AVERAGED = 16
MOST_KINDS = 24
NEAR_S = 0.0015
WIDE_S = 0.02
CLEANER = 0.6
KNOWN = 3
"""Only kinds met this often are also looked for farther from where a sound began (a tick inside a word)."""

FIRST_RISE = 0.05
LOW_RISE = 0.01
CLEAR_OF_NOISE = 1.5


@dataclass(slots=True)
class _Kind:
    number: int
    template: Wave  # peak 1.0
    hits: int = 1
    averaged: int = 1


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a tick lies: frame (with fraction) of its template's first sample, within the wave given."""

    kind: int
    at: float
    likeness: float
    peak: float  # of the tick alone, by its template: a voice over it does not count


@dataclass(slots=True)
class TickKinds:
    """Memory: 24 templates of 15 ms, and one number a kind that was met and let go."""

    rate_hz: int
    _kinds: list[_Kind] = field(default_factory=list)
    _starts: dict[int, float] = field(default_factory=dict)
    _count: int = 0

    def place(self, wave: Wave, near: int) -> Placed:
        """The kind of the tick that begins about the frame `near` of `wave`, a new one where none fits.

        wave: shape (frames,), 5 ms before `near` and 45 ms after it at least.
        """
        lead, length = round(LEAD_S * self.rate_hz), round((LEAD_S + BODY_S) * self.rate_hz)
        wave = wave - middle_of(wave[: max(1, near - lead // 3)])
        start = _own_start(wave, near, self.rate_hz)
        best, at, likeness = self._best(wave, start - lead, round(NEAR_S * self.rate_hz), 0, self._kinds)
        if likeness < ALIKE:
            known = [kind for kind in self._kinds if kind.hits >= KNOWN]
            wide = self._best(
                wave, near - lead, round(NEAR_S * self.rate_hz), round(WIDE_S * self.rate_hz), known
            )
            if wide[2] > likeness:
                best, at, likeness = wide
        if best is None or likeness < ALIKE:
            first = max(0, min(start - lead, len(wave) - length))
            snippet = wave[first : first + length]
            return Placed(self._new(snippet), float(first), 0.0, float(np.abs(snippet).max()))
        best.hits += 1
        snippet = wave[round(at) : round(at) + length]
        gain = _gain(best.template, snippet)
        if _unrest(snippet, lead) < CLEANER * _unrest(best.template, lead):
            # Its first member was met under another sound: this one shows the edge better.
            best.template, best.averaged = snippet / np.abs(snippet).max(), 1
        if likeness >= CLEARLY_ALIKE and best.averaged < AVERAGED and abs(at - round(at)) < 0.3:
            best.averaged += 1
            best.template += (snippet / gain - best.template) / best.averaged
        return Placed(best.number, at, likeness, gain)

    def starts(self) -> dict[int, float]:
        """Kind -> seconds from its template's first frame to the start of its sound."""
        return {**self._starts, **{kind.number: self._start(kind) for kind in self._kinds}}

    def waves(self) -> dict[int, Wave]:
        """Kind -> its template (peak about 1.0), of the kinds still held."""
        return {kind.number: kind.template for kind in self._kinds}

    def _best(
        self, wave: Wave, first: int, before: int, after: int, kinds: list[_Kind]
    ) -> tuple[_Kind | None, float, float]:
        best: _Kind | None = None
        at, likeness = 0.0, -1.0
        low = max(0, first - before)
        for kind in sorted(kinds, key=lambda kind: -kind.hits):
            high = min(len(wave), first + max(before, after) + len(kind.template) + 1)
            if high - low <= len(kind.template) + 2:
                continue
            where, like = _laid_over(wave[low:high], kind.template)
            if like > likeness:
                best, at, likeness = kind, low + where, like
            if likeness >= CLEARLY_ALIKE:
                break
        return best, at, likeness

    def _new(self, snippet: Wave) -> int:
        if len(self._kinds) >= MOST_KINDS:
            least = min(self._kinds, key=lambda kind: (kind.hits, kind.number))
            self._starts[least.number] = self._start(least)
            self._kinds.remove(least)
        number, self._count = self._count, self._count + 1
        peak = np.abs(snippet).max()
        self._kinds.append(_Kind(number, snippet / peak if peak > 0 else snippet.copy()))
        return number

    def _start(self, kind: _Kind) -> float:
        return _start_of(kind.template, round(LEAD_S * self.rate_hz)) / self.rate_hz


def _unrest(snippet: Wave, lead: int) -> float:
    """Level ahead of the tick against its peak; a thousandth counts as silence."""
    return max(0.001, float(np.abs(snippet[: lead // 2]).max() / max(np.abs(snippet).max(), 1e-12)))


def _own_start(wave: Wave, near: int, rate_hz: int) -> int:
    """First frame at or after 2 ms before `near` that exceeds 5 % of the peak of the 30 ms from there on."""
    first = max(0, near - round(0.002 * rate_hz))
    level = np.abs(wave[first : near + round(0.03 * rate_hz)])
    peak = level.max() if len(level) else 0.0
    return first + int(np.argmax(level >= FIRST_RISE * peak)) if peak > 0 else near


def _gain(template: Wave, snippet: Wave) -> float:
    """How many times the template the snippet holds (least squares)."""
    return float(template @ snippet) / float(template @ template)


def _laid_over(wave: Wave, template: Wave) -> tuple[float, float]:
    """Frame of `wave` (with fraction) where `template` fits best, and the correlation there, −1 … 1."""
    product = np.correlate(wave, template, mode="valid")
    squares = np.concatenate(([0.0], np.cumsum(wave * wave)))
    energy = squares[len(template) :] - squares[: -len(template)]
    scale = np.sqrt(np.maximum(energy, 1e-20) * float(template @ template))
    like = product / np.maximum(scale, 1e-20)
    top = int(np.argmax(like))
    if 0 < top < len(like) - 1:
        left, middle, right = like[top - 1 : top + 2]
        bend = left - 2 * middle + right
        if bend < 0:
            return top + float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5)), float(middle)
    return float(top), float(like[top])


def _start_of(template: Wave, lead: int) -> float:
    """Frame (with fraction) at which the template's sound begins.

    The first rise above 5 % of the peak comes late for sounds that swell. From the rise above 1 % (or what
    the noise ahead of it allows) to that of 5 % the wave grows with the first to second power of time, so
    that half of this span lies, on the whole, before the lower one.
    """
    level = np.abs(template)
    quiet = level[: max(1, lead * 2 // 3)]
    noise = CLEAR_OF_NOISE * float(quiet.max()) / max(float(level.max()), 1e-12)
    upper = _crossing(level, max(FIRST_RISE, noise))
    if noise >= FIRST_RISE:
        return float(upper)
    lower = _crossing(level, max(LOW_RISE, noise))
    return max(0.0, lower - 0.5 * (upper - lower))


def _crossing(level: Wave, height: float) -> int:
    """First frame at which `level` reaches `height` of its peak."""
    return int(np.argmax(level >= height * float(level.max())))
