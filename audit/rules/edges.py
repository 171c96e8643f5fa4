"""Which stems' spectra end, or are mirrored, where an older sample rate or a codec ends."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Fact
from audit.results import Ceiling
from audit.rules.bleed import timecode_bleed, timecode_told
from audit.rules.parts import sounding_parts, where_in
from audit.rules.rule import Limit

OLDER_RATES_HZ = (22_050, 32_000, 44_100, 48_000)

NATURAL = frozenset({
    Role.DRUMS, Role.PERCUSSION, Role.LOOP, Role.GUITAR, Role.PIANO, Role.LEAD_VOCAL, Role.BACKING_VOCALS,
    Role.CHOIR, Role.FULL_MIX,
})  # fmt: skip
"""Roles whose sound has noise in it up to where it ends. Synthesisers, and what may be played on one, stop
their partials below half the rate by themselves, and that looks the same."""

SAME_EDGE_HZ = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FromElsewhere:
    """One part whose spectrum tells where it comes from."""

    stem: StemEvidence
    name: str  # with its channels, where the file holds several parts
    role: Role
    ceiling: Ceiling
    rate_hz: int  # the older rate; 0 for a codec
    mirrored: bool = False

    @property
    def facts(self) -> dict[str, Fact]:
        edge_hz = self.rate_hz / 2.0 if self.mirrored else self.ceiling.edge_hz
        return {
            "edge_hz": edge_hz,
            "drop_db": max(self.ceiling.drop_db, self.ceiling.held_drop_db),
            "mirror": self.ceiling.mirror,
        }


Judge = Callable[[Ceiling, int, Limit], "tuple[int, bool] | None"]
"""Gives the older rate (0: a codec) and whether the spectrum is mirrored there; None where all is well."""


def breaks_off(ceiling: Ceiling, limit: Limit) -> bool:
    """Whether the spectrum falls off steeply, at one place, as filters of converters and codecs do."""
    drops = (ceiling.drop_db, ceiling.held_drop_db)
    return (
        ceiling.edge_hz is not None
        and max(drops) >= limit.value
        and min(drops) >= limit["other_db"]
        and ceiling.breaks >= limit["windows"]
        and ceiling.steady >= limit["steady"]
        and ceiling.lines_db <= limit["lines_db"]
    )


def older_rate(ceiling: Ceiling, rate_hz: int, limit: Limit) -> tuple[int, bool] | None:
    """The lower rate that the file was made at; a `Judge`."""
    ahead = ceiling.mirror - ceiling.mirror_beside
    if ceiling.mirror_hz is not None and ceiling.mirror >= limit["mirror"] and ahead >= limit["mirror_ahead"]:
        return round(2.0 * ceiling.mirror_hz), True
    if ceiling.edge_hz is None or not breaks_off(ceiling, limit):
        return None
    for older_hz in OLDER_RATES_HZ:
        share = ceiling.edge_hz / (older_hz / 2.0)
        if older_hz < 0.97 * rate_hz and limit["edge_from"] <= share <= 1.004:
            return older_hz, False
    return None


def able(song: SongEvidence) -> list[StemEvidence]:
    """Stems of music whose file is not lossy itself."""
    return [
        stem for stem in song.stems
        if stem.format is not None and not stem.format.lossy and stem.audience and not stem.silent
    ]  # fmt: skip


def found_in(song: SongEvidence, show: ShowEvidence, judge: Judge, limit: Limit) -> list[FromElsewhere]:
    """The parts of a song that a judge finds something in. Where timecode leaks in, the highs may be nothing
    but the code's."""
    found = []
    leaks = timecode_told(song, show, limit.of(timecode_bleed))
    for stem in able(song):
        if stem.name in leaks:
            continue
        for part in sounding_parts(stem):
            ceiling = part.measures.ceiling
            if not part.audience or ceiling is None or stem.format is None:
                continue
            verdict = judge(ceiling, stem.format.sample_rate_hz, limit)
            if verdict is not None:
                found.append(
                    FromElsewhere(
                        stem=stem, role=part.role, name=stem.name + where_in(stem, part), ceiling=ceiling,
                        rate_hz=verdict[0], mirrored=verdict[1],
                    )
                )  # fmt: skip
    return [one for one in found if one.rate_hz or _is_coded(one, found, limit)]


def _is_coded(one: FromElsewhere, found: list[FromElsewhere], limit: Limit) -> bool:
    """A synthesiser may end there by itself: above where it would, another stem has to end there too."""
    edge_hz = one.ceiling.edge_hz or 0.0
    return edge_hz <= limit["synth_hz"] or any(
        _is_natural(other, found) and abs((other.ceiling.edge_hz or 0.0) - edge_hz) <= SAME_EDGE_HZ
        for other in found
    )


def _is_natural(one: FromElsewhere, found: list[FromElsewhere]) -> bool:
    """A copy of a synthesiser's stem under another name is no witness."""
    same = [other for other in found if other.stem is one.stem or _audio(other) == _audio(one)]
    return all(other.role in NATURAL for other in same)


def _audio(one: FromElsewhere) -> str:
    """What tells equal audio; the name where nothing does."""
    audio = one.stem.audio
    return (audio.content_hash if audio is not None else None) or one.stem.name
