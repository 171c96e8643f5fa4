"""Rules on what a stem was before it became this file: audio of an older rate, or of a lossy codec."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Fact, Severity
from audit.results import Ceiling
from audit.rules.once import once_a_show
from audit.rules.parts import listed, sounding_parts, where_in
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import count, khz

OLDER_RATES_HZ = (22_050, 32_000, 44_100, 48_000)
EVERYWHERE_SONGS = 3
"""From this many songs on, what every song of the show has is said once."""

LOWEST_CODEC_HZ, HIGHEST_CODEC_HZ = 15_000.0, 21_350.0
"""Edges of MP3, AAC, Vorbis and Opus at 96 to 320 kbit/s (own measurement; see lossy_source)."""

NATURAL = frozenset({
    Role.DRUMS, Role.PERCUSSION, Role.LOOP, Role.GUITAR, Role.PIANO, Role.LEAD_VOCAL, Role.BACKING_VOCALS,
    Role.CHOIR, Role.FULL_MIX,
})  # fmt: skip
"""Roles whose sound has noise in it up to where it ends. Synthesisers, and what may be played on one, stop
their partials below half the rate by themselves, and that looks the same."""

STRUCK = frozenset({Role.DRUMS, Role.PERCUSSION, Role.LOOP, Role.EFFECTS})
"""Roles that a sampler plays at the pitch they were recorded at: a simple one leaves the same images of old
samples as a poor resampler leaves of a whole stem."""

SAME_EDGE_HZ = 300.0

OWN_FILTER_HZ = 1_850.0
"""Nearer to half the file's own rate an edge is that of its own converter or of a conversion downwards."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
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


_Judge = Callable[[Ceiling, int, Limit], "tuple[int, bool] | None"]
"""Gives the older rate (0: a codec) and whether the spectrum is mirrored there; None where all is well."""


def _breaks_off(ceiling: Ceiling, limit: Limit) -> bool:
    drops = (ceiling.drop_db, ceiling.held_drop_db)
    return (
        ceiling.edge_hz is not None
        and max(drops) >= limit.value
        and min(drops) >= limit["other_db"]
        and ceiling.breaks >= limit["windows"]
        and ceiling.steady >= limit["steady"]
        and ceiling.lines_db <= limit["lines_db"]
    )


def _older_rate(ceiling: Ceiling, rate_hz: int, limit: Limit) -> tuple[int, bool] | None:
    ahead = ceiling.mirror - ceiling.mirror_beside
    if ceiling.mirror_hz is not None and ceiling.mirror >= limit["mirror"] and ahead >= limit["mirror_ahead"]:
        return round(2.0 * ceiling.mirror_hz), True
    if ceiling.edge_hz is None or not _breaks_off(ceiling, limit):
        return None
    for older_hz in OLDER_RATES_HZ:
        share = ceiling.edge_hz / (older_hz / 2.0)
        if older_hz < 0.97 * rate_hz and limit["edge_from"] <= share <= 1.004:
            return older_hz, False
    return None


def _codec(ceiling: Ceiling, rate_hz: int, limit: Limit) -> tuple[int, bool] | None:
    if ceiling.edge_hz is None or not _breaks_off(ceiling, limit):
        return None
    highest = min(HIGHEST_CODEC_HZ, rate_hz / 2.0 - OWN_FILTER_HZ)
    if not LOWEST_CODEC_HZ <= ceiling.edge_hz <= highest:
        return None
    return None if _older_rate(ceiling, rate_hz, limit.of(upsampled_source)) else (0, False)


def _able(song: SongEvidence) -> list[StemEvidence]:
    """Stems of music whose file is not lossy itself."""
    return [
        stem for stem in song.stems
        if stem.format is not None and not stem.format.lossy and stem.audience and not stem.silent
    ]  # fmt: skip


def _found(song: SongEvidence, judge: _Judge, limit: Limit) -> list[_Found]:
    found = []
    for stem in _able(song):
        for part in sounding_parts(stem):
            ceiling = part.measures.ceiling
            if not part.audience or ceiling is None or stem.format is None:
                continue
            verdict = judge(ceiling, stem.format.sample_rate_hz, limit)
            if verdict is not None:
                found.append(
                    _Found(
                        stem=stem, role=part.role, name=stem.name + where_in(stem, part), ceiling=ceiling,
                        rate_hz=verdict[0], mirrored=verdict[1],
                    )
                )  # fmt: skip
    return [one for one in found if one.rate_hz or _is_coded(one, found, limit)]


def _is_coded(one: _Found, found: list[_Found], limit: Limit) -> bool:
    """A synthesiser may end there by itself: above where it would, another stem has to end there too."""
    edge_hz = one.ceiling.edge_hz or 0.0
    return edge_hz <= limit["synth_hz"] or any(
        _is_natural(other, found) and abs((other.ceiling.edge_hz or 0.0) - edge_hz) <= SAME_EDGE_HZ
        for other in found
    )


def _is_natural(one: _Found, found: list[_Found]) -> bool:
    """A copy of a synthesiser's stem under another name is no witness."""
    same = [other for other in found if other.stem is one.stem or _audio(other) == _audio(one)]
    return all(other.role in NATURAL for other in same)


def _audio(one: _Found) -> str:
    """What tells equal audio; the name where nothing does."""
    audio = one.stem.audio
    return (audio.content_hash if audio is not None else None) or one.stem.name


@once_a_show
def _everywhere(show: ShowEvidence, judge: _Judge, limit: Limit) -> dict[str, list[_Found]] | None:
    """What every song with music in it has, by song; None where it is not in all of enough songs."""
    found = {song.name: _found(song, judge, limit) for song in show.songs if _able(song)}
    return found if len(found) >= EVERYWHERE_SONGS and all(found.values()) else None


def _hits(song: SongEvidence, judge: _Judge, limit: Limit) -> Iterator[Hit]:
    """One a kind of origin: stems that are alike in it are said together."""
    alike: dict[tuple[int, bool], list[_Found]] = {}
    for one in _found(song, judge, limit):
        alike.setdefault((one.rate_hz, one.mirrored), []).append(one)
    for (rate_hz, mirrored), some in alike.items():
        names = tuple(dict.fromkeys(one.name for one in some))
        first = some[0].facts
        sampled = _could_be_sampled(some)
        yield Hit(
            stem=some[0].stem.name if len(names) == 1 else None,
            severity=Severity.NOTE if sampled else None,
            value=None if mirrored else max(float(one.facts["drop_db"]) for one in some),  # type: ignore[arg-type]
            message=(_SAMPLED if sampled else _MIRRORED) if mirrored else None,
            facts={
                **first,
                "edge": khz(round(float(first["edge_hz"]), -2)),  # type: ignore[arg-type]
                "older": khz(rate_hz) if rate_hz else "",
                "who": "" if len(names) == 1 else f" in {count(len(names), 'stem')}: {listed(names)}",
                "files": names,
            },
        )


_MIRRORED = (
    "above {edge} there is only the mirror image of what lies below{who}: it was converted from {older} by a "
    "poor resampler"
)

_SAMPLED = (
    "above {edge} there is only the mirror image of what lies below{who}: a sampler plays old samples so, "
    "and a poor resampler leaves it when it converts from {older}"
)

_SAMPLED_EVERYWHERE = (
    "{stems} in all {songs} are mirrored where a lower sample rate ended: a sampler plays old samples so, "
    "and a poor resampler leaves it"
)


def _could_be_sampled(found: list[_Found]) -> bool:
    """Nothing but images, and those of struck instruments alone."""
    return all(one.mirrored and one.role in STRUCK for one in found)


def _once(show: ShowEvidence, judge: _Judge, limit: Limit, message: str) -> Iterator[Hit]:
    everywhere = _everywhere(show, judge, limit)
    if everywhere is None:
        return
    files = sum(len(some) for some in everywhere.values())
    sampled = _could_be_sampled([one for some in everywhere.values() for one in some])
    yield Hit(
        songs=tuple(everywhere),
        severity=Severity.NOTE if sampled else None,
        message=_SAMPLED_EVERYWHERE if sampled else message,
        facts={"stems": count(files, "stem"), "songs": count(len(everywhere), "song"), "count": files},
    )


def _upsampled_over_show(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from _once(
        show, _older_rate, limit,
        "{stems} in all {songs} were converted from a lower sample rate: nothing of their own lies above it",
    )  # fmt: skip


def _lossy_over_show(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from _once(
        show, _codec, limit,
        "{stems} in all {songs} break off in the highs as lossy coding leaves them",
    )  # fmt: skip


@rule(
    id="upsampled-source",
    family="format",
    severity=Severity.WARNING,
    scope="song",
    needs=("format", "audio"),
    limit=Limit(
        value=30.0, unit="dB",
        more={
            "other_db": 12.0, "windows": 10, "steady": 0.15, "lines_db": 15.0, "edge_from": 0.97,
            "mirror": 0.45, "mirror_ahead": 0.35,
        },
    ),
    message="nothing above {edge}{who}: it falls by {value:.0f} dB there (limit {limit:.0f} dB), as audio "
    "converted from {older} does",
    cure="Ask for a bounce from the session at the show's rate. If the instrument itself plays older "
    "samples, or the recording was made at that rate, leave it.",
    again="from a session at the show's sample rate, not converted afterwards",
    means="The file was made at a lower sample rate and converted: the spectrum ends at half of that rate, "
    "or is mirrored there.",
    on_stage="Nothing breaks. It came another way than the rest, and a poor conversion sounds harsh or dull.",
    measured="Spectra of 100 ms over the loud parts of the whole file. Either the level falls by {limit:g} "
    "dB within 700 Hz in their average or their maximum (by {other_db:g} dB in the other), at the same place "
    "in {windows:g} windows and more, from {edge_from:.0%} of 11.025, 16, 22.05 or 24 kHz on, where energy "
    "reaches that far. Or what lies above is the image of what lies below, window for window. Dark sounds, "
    "single partials and filters of 96 dB an octave do not fall like that. Images in drums, percussion, "
    "loops and effects alone are a note, as samplers leave them too. Not asked of click, guide and timecode.",
    source="Own measurement: 45 synthetic full-band stems at 44.1 kHz, converted to 48 kHz by ten "
    "resamplers, and the same at 48 kHz.",
    over_show=_upsampled_over_show,
)  # fmt: skip
def upsampled_source(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not _able(song):
        yield NotApplicable(reason="no music in it that is stored without loss")
    elif _everywhere(show, _older_rate, limit) is None:
        yield from _hits(song, _older_rate, limit)


@rule(
    id="lossy-source",
    family="format",
    severity=Severity.WARNING,
    scope="song",
    needs=("format", "audio"),
    heeds=(upsampled_source,),
    limit=Limit(
        value=30.0,
        unit="dB",
        more={"other_db": 12.0, "windows": 10, "steady": 0.15, "lines_db": 15.0, "synth_hz": 17_600.0},
    ),
    message="nothing above {edge}{who}: it falls by {value:.0f} dB there (limit {limit:.0f} dB), as MP3, AAC "
    "and their like leave it",
    cure="Ask for a bounce from the session, without a detour over a coded file. If somebody put a "
    "brick-wall filter there on purpose, leave it.",
    again="from the session, without MP3, AAC or the like on the way",
    means="The spectrum carries a lossy codec's low-pass edge: the audio was an MP3, an AAC or the like "
    "before it became this file.",
    on_stage="Cymbals, breath and room lose their air, and what the codec left out is heard as soon as the "
    "stem is equalised or played alone.",
    measured="As upsampled-source, for edges between 15 and 21 kHz, at least 1.9 kHz below half the file's "
    "own rate: the level falls by {limit:g} dB within 700 Hz in the average or the maximum of the loud "
    "parts' spectra, at the same place in {windows:g} windows and more, where energy reaches that far. A "
    "codec of 256 kbit/s and more may leave no edge, and a dark stem none that can be seen. Not asked of "
    "click, guide and timecode, nor of files that are stored lossy themselves.",
    source="Own measurement on 45 synthetic full-band stems: MP3 128 kbit/s ends at 16.8 kHz, 192 at 19.0 "
    "kHz, 256 at 19.7 kHz; AAC 128 at 16 to 18 kHz; Opus at 20 kHz.",
    over_show=_lossy_over_show,
)
def lossy_source(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not _able(song):
        yield NotApplicable(reason="no music in it that is stored without loss")
    elif _everywhere(show, _codec, limit) is None:
        yield from _hits(song, _codec, limit)


RULES = (upsampled_source, lossy_source)
