"""What would bring a song inside a machine's limits: each change is forecast, none is guessed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from audit.load.costs import CODECS, PLAIN
from audit.load.demand import EngineSetup, SongLoad, StemLoad
from audit.load.forecast import smallest_buffer, uses_of
from audit.load.profile import Profile
from audit.results.load import Fit, LoadCure, Resource, ResourceUse, SongForecast
from audit.units import count, khz

REFILLS_S = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
MOST_CURES = 4
NEGLIGIBLE = 0.01
"""A change that saves less than this part of what is used is not worth anybody's evening."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    text: str
    song: SongLoad
    setup: EngineSetup


def with_cures(forecast: SongForecast, song: SongLoad, profile: Profile, setup: EngineSetup) -> SongForecast:
    """The forecast with what would mend it, the most helpful first; as it is where the song fits."""
    if forecast.forecast_fit is Fit.FITS:
        return forecast
    before = _by_resource(forecast.uses)
    limiting = forecast.limiting.resource
    cures: list[LoadCure] = []
    for change in _changes(song, profile, setup):
        uses = uses_of(change.song, profile, change.setup)
        saved = before[limiting].used.value - _by_resource(uses)[limiting].used.value
        enough = all(use.fit is Fit.FITS for use in uses)
        if enough or saved > NEGLIGIBLE * before[limiting].used.value:
            cures.append(LoadCure(text=change.text, resource=limiting, saves=saved, enough=enough))
    cures.sort(key=lambda cure: (not cure.enough, -cure.saves))
    return replace(forecast, cures=tuple(cures[:MOST_CURES]))


def _by_resource(uses: tuple[ResourceUse, ...]) -> dict[Resource, ResourceUse]:
    return {use.resource: use for use in uses}


def _changes(song: SongLoad, profile: Profile, setup: EngineSetup) -> Iterator[_Change]:
    """Single changes, then all conversions together."""
    converted = _converted(song, setup)
    yield from converted
    if len(converted) > 1:
        whole = song
        for change in converted:
            whole = _merge_changes(whole, song, change.song)
        text = ", and ".join(change.text for change in converted)
        yield _Change(text=text, song=whole, setup=setup)
    yield from _longer_refill(song, profile, setup)
    frames = smallest_buffer(song, profile, setup)
    if frames is not None and frames > setup.frames:
        yield _Change(text=f"use a buffer of {frames} frames", song=song, setup=replace(setup, frames=frames))
    yield from _fewer_stems(song, profile, setup)
    if song.instruments:
        yield _Change(text=_printing(song), song=_printed(song, setup), setup=setup)


def _merge_changes(so_far: SongLoad, before: SongLoad, changed: SongLoad) -> SongLoad:
    """`so_far` with what `changed` altered in single stems."""
    stems = tuple(
        new if new != old else kept
        for kept, old, new in zip(so_far.stems, before.stems, changed.stems, strict=True)
    )
    return replace(so_far, stems=stems)


def _converted(song: SongLoad, setup: EngineSetup) -> list[_Change]:
    """Packed formats to WAV; other sample rates to the engine's."""
    changes = []
    for label, names in (("FLAC", {"flac16", "flac24"}), ("MP3", {"mp3"}), ("Ogg", {"ogg"})):
        stems = [stem for stem in song.stems if stem.codec in names]
        if stems:
            text = f"convert {count(len(stems), f'{label} stem')} to WAV"
            changes.append(_replacing(song, setup, {stem.name: _as_wav(stem) for stem in stems}, text))
    wide = [stem for stem in song.stems if stem.codec in ("float32", "float64", "pcm32")]
    if wide:
        text = f"convert {count(len(wide), '32-bit or 64-bit stem')} to 24-bit WAV"
        changes.append(_replacing(song, setup, {stem.name: _as_wav(stem) for stem in wide}, text))
    other = [stem for stem in song.stems if stem.rate_hz != setup.rate_hz]
    if other:
        text = f"convert {count(len(other), 'stem')} to {khz(setup.rate_hz)}"
        scaled = {
            stem.name: replace(
                stem, rate_hz=setup.rate_hz, bytes_per_s=stem.bytes_per_s * setup.rate_hz / stem.rate_hz
            )
            for stem in other
        }
        changes.append(_replacing(song, setup, scaled, text))
    return changes


def _as_wav(stem: StemLoad) -> StemLoad:
    codec = "pcm16" if stem.codec == "flac16" else "pcm24"
    return replace(stem, codec=codec, bytes_per_s=stem.samples_per_s * (2 if codec == "pcm16" else 3))


def _replacing(song: SongLoad, setup: EngineSetup, new: dict[str, StemLoad], text: str) -> _Change:
    stems = tuple(new.get(stem.name, stem) for stem in song.stems)
    return _Change(text=text, song=replace(song, stems=stems), setup=setup)


def _longer_refill(song: SongLoad, profile: Profile, setup: EngineSetup) -> Iterator[_Change]:
    """The first refill length that lets the song fit, else the one at which the disk has least to do."""
    best: _Change | None = None
    for refill_s in REFILLS_S:
        if refill_s == setup.refill_s:
            continue
        longer = replace(setup, refill_s=refill_s, prebuffer_s=max(setup.prebuffer_s, 2 * refill_s))
        text = f"read {refill_s:g} s at a time instead of {setup.refill_s:g} s, if the player lets you"
        change = _Change(text=text, song=song, setup=longer)
        if all(use.fit is Fit.FITS for use in uses_of(song, profile, longer)):
            yield change
            return
        if refill_s > setup.refill_s:
            best = best or change
    if best is not None:
        yield best


def _fewer_stems(song: SongLoad, profile: Profile, setup: EngineSetup) -> Iterator[_Change]:
    """The fewest of the song's dearest stems that must become one stereo stem for it to fit."""
    stems = sorted(song.stems, key=lambda stem: (-stem.bytes_per_s * CODECS[stem.codec].decode_ns, stem.name))

    def merged(number: int) -> SongLoad:
        gone = {stem.name for stem in stems[:number]}
        one = replace(stems[0], name="merged", channels=2, bytes_per_s=2 * setup.rate_hz * 3.0)
        one = replace(
            one, codec=stems[0].codec if stems[0].codec in PLAIN else "pcm24", rate_hz=setup.rate_hz
        )
        return replace(song, stems=(*(stem for stem in song.stems if stem.name not in gone), one))

    def fits(number: int) -> bool:
        return all(use.fit is Fit.FITS for use in uses_of(merged(number), profile, setup))

    if len(stems) < 2:
        return
    number = len(stems)
    if fits(number):
        low, high = 2, number
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if fits(middle) else (middle + 1, high)
        number = low
    text = f"merge {number} of its {len(stems)} stems into one stereo WAV"
    yield _Change(text=text, song=merged(number), setup=setup)


def _printing(song: SongLoad) -> str:
    return f"record {count(len(song.instruments), 'software instrument')} as stems instead"


def _printed(song: SongLoad, setup: EngineSetup) -> SongLoad:
    stems = tuple(
        StemLoad(
            name=f"recorded {each.name}", codec="pcm24", channels=2, rate_hz=setup.rate_hz,
            bytes_per_s=2 * 3.0 * setup.rate_hz,
        )
        for each in song.instruments
    )  # fmt: skip
    return replace(song, stems=(*song.stems, *stems), instruments=())
