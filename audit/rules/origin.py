"""Rules on what a stem was before it became this file: audio of an older rate, or of a lossy codec."""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Ceiling
from audit.rules.bleed import timecode_bleed
from audit.rules.edges import FromElsewhere, Judge, able, breaks_off, found_in, older_rate
from audit.rules.once import once_a_show
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import count, khz

EVERYWHERE_SONGS = 3
"""From this many songs on, what every song of the show has is said once."""

LOWEST_CODEC_HZ, HIGHEST_CODEC_HZ = 15_000.0, 21_350.0
"""Edges of MP3, AAC, Vorbis and Opus at 96 to 320 kbit/s (own measurement; see lossy_source)."""


STRUCK = frozenset({Role.DRUMS, Role.PERCUSSION, Role.LOOP, Role.EFFECTS})
"""Roles that a sampler plays at the pitch they were recorded at: a simple one leaves the same images of old
samples as a poor resampler leaves of a whole stem."""


OWN_FILTER_HZ = 1_850.0
"""Nearer to half the file's own rate an edge is that of its own converter or of a conversion downwards."""


def _codec(ceiling: Ceiling, rate_hz: int, limit: Limit) -> tuple[int, bool] | None:
    if ceiling.edge_hz is None or not breaks_off(ceiling, limit):
        return None
    highest = min(HIGHEST_CODEC_HZ, rate_hz / 2.0 - OWN_FILTER_HZ)
    if not LOWEST_CODEC_HZ <= ceiling.edge_hz <= highest:
        return None
    return None if older_rate(ceiling, rate_hz, limit.of(upsampled_source)) else (0, False)


@once_a_show
def _everywhere(show: ShowEvidence, judge: Judge, limit: Limit) -> dict[str, list[FromElsewhere]] | None:
    """What every song with music in it has, by song; None where it is not in all of enough songs."""
    found = {song.name: found_in(song, show, judge, limit) for song in show.songs if able(song)}
    return found if len(found) >= EVERYWHERE_SONGS and all(found.values()) else None


def _hits(song: SongEvidence, show: ShowEvidence, judge: Judge, limit: Limit) -> Iterator[Hit]:
    """One a kind of origin: stems that are alike in it are said together."""
    alike: dict[tuple[int, bool], list[FromElsewhere]] = {}
    for one in found_in(song, show, judge, limit):
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


def _could_be_sampled(found: list[FromElsewhere]) -> bool:
    """Nothing but images, and those of struck instruments alone."""
    return all(one.mirrored and one.role in STRUCK for one in found)


def _once(show: ShowEvidence, judge: Judge, limit: Limit, message: str) -> Iterator[Hit]:
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
        show, older_rate, limit,
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
    heeds=(timecode_bleed,),
    limit=Limit(
        value=30.0, unit="dB",
        more={
            "other_db": 12.0, "windows": 10, "steady": 0.15, "lines_db": 15.0, "edge_from": 0.97,
            "mirror": 0.45, "mirror_ahead": 0.35,
        },
    ),
    message="nothing above {edge}{who}: it falls by {value:.0f} dB there (limit {limit:g} dB), as audio "
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
    "loops and effects alone are a note, as samplers leave them too. Not asked of click, guide and "
    "timecode, nor of stems into which timecode leaks (timecode-bleed): what is up there may be the code's.",
    source="Own measurement: 45 synthetic full-band stems at 44.1 kHz, converted to 48 kHz by ten "
    "resamplers, and the same at 48 kHz.",
    over_show=_upsampled_over_show,
)  # fmt: skip
def upsampled_source(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not able(song):
        yield NotApplicable(reason="no music in it that is stored without loss")
    elif _everywhere(show, older_rate, limit) is None:
        yield from _hits(song, show, older_rate, limit)


@rule(
    id="lossy-source",
    family="format",
    severity=Severity.WARNING,
    scope="song",
    needs=("format", "audio"),
    heeds=(upsampled_source, timecode_bleed),
    limit=Limit(
        value=30.0,
        unit="dB",
        more={"other_db": 12.0, "windows": 10, "steady": 0.15, "lines_db": 15.0, "synth_hz": 17_600.0},
    ),
    message="nothing above {edge}{who}: it falls by {value:.0f} dB there (limit {limit:g} dB), as MP3, AAC "
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
    "click, guide and timecode, of files that are stored lossy themselves, nor where timecode leaks in.",
    source="Own measurement on 45 synthetic full-band stems: MP3 128 kbit/s ends at 16.8 kHz, 192 at 19.0 "
    "kHz, 256 at 19.7 kHz; AAC 128 at 16 to 18 kHz; Opus at 20 kHz.",
    over_show=_lossy_over_show,
)
def lossy_source(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not able(song):
        yield NotApplicable(reason="no music in it that is stored without loss")
    elif _everywhere(show, _codec, limit) is None:
        yield from _hits(song, show, _codec, limit)


RULES = (upsampled_source, lossy_source)
