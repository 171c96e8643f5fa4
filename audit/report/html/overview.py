"""What only shows over the whole show: loudness song by song, roles, load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from audit.findings import ShowAudit
from audit.report.load_words import FIT_WORDS, load_share
from audit.report.words import signed
from audit.results.load import SongForecast
from audit.rules.balance import role_levels

LEAST_ACTIVE_S = 10.0
"""As the rule role-level-outlier judges them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoudnessLine:
    """A song on the common scale."""

    song: str
    anchor: str
    words: str
    at_pct: float
    loudest_pct: float
    odd: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LoudnessPicture:
    """All songs on one scale."""

    lines: tuple[LoudnessLine, ...]
    usual: str
    usual_pct: float
    low: str
    high: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A song's place on a role's line."""

    at_pct: float
    song: str
    words: str
    odd: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleLine:
    """How loud a role is against the rest of the mix, a dot a song."""

    role: str
    dots: tuple[Dot, ...]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCell:
    """A song on a machine."""

    words: str  # `62 % disk`
    fit: str  # fits, tight, over
    wide_pct: float  # of its limit, 100 at most


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLine:
    """A song on every machine, in their order."""

    song: str
    anchor: str
    cells: tuple[LoadCell | None, ...]  # None: not forecast


def machine_names(audit: ShowAudit) -> tuple[str, ...]:
    """The machines that the settings name, in their order."""
    names = [forecast.machine for song in audit.evidence.songs for forecast in song.forecasts]
    return tuple(dict.fromkeys(names))


def load_matrix(audit: ShowAudit, anchors: Sequence[str]) -> list[LoadLine]:
    """Songs × machines, the heaviest song first; empty where no machine is named."""
    machines = machine_names(audit)
    lines = []
    for song, anchor in zip(audit.songs, anchors, strict=True):
        by_machine = {forecast.machine: forecast for forecast in song.evidence.forecasts}
        if not by_machine:
            continue
        cells = tuple(_load_cell(by_machine.get(machine)) for machine in machines)
        worst = max(forecast.limiting.share for forecast in by_machine.values())
        lines.append((worst, LoadLine(song=song.evidence.name, anchor=anchor, cells=cells)))
    return [line for _, line in sorted(lines, key=lambda pair: -pair[0])]


def _load_cell(forecast: SongForecast | None) -> LoadCell | None:
    if forecast is None:
        return None
    share = min(1.0, forecast.limiting.share)
    return LoadCell(words=load_share(forecast), fit=FIT_WORDS[forecast.fit], wide_pct=round(100.0 * share, 1))


def loudness_picture(
    audit: ShowAudit, anchors: Sequence[str], order: Sequence[int] | None = None
) -> LoudnessPicture | None:
    """None with fewer than two songs that have a loudness. order: the songs' places in the show, in that in
    which they are to stand."""
    known = []
    for place in range(len(audit.songs)) if order is None else order:
        song, anchor = audit.songs[place], anchors[place]
        mix = song.evidence.mix
        if mix is not None and mix.loudness.integrated_lufs is not None:
            odd = any(f.rule == "song-loudness-outlier" and f.waived is None for f in audit.findings_of(song))
            loudest = mix.loudness.max_momentary_lufs or mix.loudness.integrated_lufs
            known.append((song.evidence.name, anchor, mix.loudness.integrated_lufs, loudest, odd))
    if len(known) < 2:
        return None
    low = min(level for _, _, level, _, _ in known) - 2.0
    high = max(loudest for _, _, _, loudest, _ in known) + 1.0

    def at(level: float) -> float:
        return round(100.0 * (level - low) / (high - low), 2)

    usual = median(level for _, _, level, _, _ in known)
    return LoudnessPicture(
        lines=tuple(
            LoudnessLine(
                song=name, anchor=anchor, words=f"{signed(level)} LUFS", at_pct=at(level),
                loudest_pct=at(loudest), odd=odd,
            )
            for name, anchor, level, loudest, odd in known
        ),
        usual=f"{signed(usual)} LUFS",
        usual_pct=at(usual),
        low=signed(low, 0),
        high=signed(high, 0),
    )  # fmt: skip


def role_picture(audit: ShowAudit) -> list[RoleLine]:
    """The roles that at least three songs have, in the order of their names."""
    found: dict[str, list[tuple[str, float, bool]]] = {}
    for song in audit.songs:
        odd = {
            str(f.measured.get("role"))
            for f in audit.findings_of(song)
            if f.rule == "role-level-outlier" and f.waived is None
        }
        for role, level in role_levels(song.evidence, LEAST_ACTIVE_S).items():
            found.setdefault(role.value, []).append((song.evidence.name, level.in_mix, role.value in odd))
    lines = []
    for name, songs in sorted(found.items()):
        if len(songs) < 3:
            continue
        levels = [level for _, level, _ in songs]
        lines.append(
            RoleLine(
                role=name,
                dots=tuple(
                    Dot(at_pct=_role_pct(level), song=song_name, words=f"{signed(level)} LU", odd=odd)
                    for song_name, level, odd in songs
                ),
                words=f"{signed(median(levels))} LU ({signed(min(levels))} to {signed(max(levels))})",
            )
        )
    return lines


ROLE_LOW, ROLE_HIGH = -36.0, 12.0


def _role_pct(level: float) -> float:
    return round(100.0 * min(1.0, max(0.0, (level - ROLE_LOW) / (ROLE_HIGH - ROLE_LOW))), 2)


ROLE_ZERO_PCT = _role_pct(0.0)
