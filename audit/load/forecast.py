"""From a song and a machine to a forecast: each resource with its range, the verdict, how sure it is."""

from __future__ import annotations

from dataclasses import replace

from audit.load.demand import EngineSetup, SongLoad
from audit.load.figure import Provenance
from audit.load.profile import CERTAIN, Numbers, Profile, least_sure, numbers_of
from audit.load.usage import Usage, usage_of
from audit.results.load import (
    Confidence,
    Fit,
    PastRehearsal,
    Range,
    Resource,
    ResourceUse,
    SongForecast,
)

BUFFERS = (32, 64, 128, 256, 512, 1024, 2048, 4096)
"""Frames of one callback that interfaces offer: common practice."""

REFILL_LIMIT = 0.85
"""Reading and decoding together: own estimate, between the margin of each and all the time there is."""

SETTLES = 0.05
"""What moves the result by less of it settles nothing: own judgement."""

OLD_DAYS = 90
"""A profile older than this says little of a machine that was used since: own estimate."""


def forecast_song(
    song: SongLoad,
    profile: Profile,
    setup: EngineSetup,
    *,
    stale: str | None = None,
    rehearsed: PastRehearsal | None = None,
) -> SongForecast:
    """Whether the machine carries the song, without cures (audit.load.cures adds them).

    stale: why the profile is not to be trusted any more, None where it is.
    """
    uses = uses_of(song, profile, setup)
    made = SongForecast(
        machine=profile.name, song=song.name, stems=len(song.stems), uses=uses,
        confidence=Confidence.LOW, why="", frames=setup.frames, rate_hz=setup.rate_hz,
        smallest_buffer_frames=smallest_buffer(song, profile, setup, rehearsed), unread=song.unread,
        rehearsed=rehearsed,
    )  # fmt: skip
    sure, why = _confidence(made, song, profile, setup, stale)
    settles = _settling(made.limiting, song, profile, setup) if made.forecast_fit is Fit.TIGHT else None
    return replace(made, confidence=sure, why=why, settles=settles)


def uses_of(song: SongLoad, profile: Profile, setup: EngineSetup) -> tuple[ResourceUse, ...]:
    """Every resource that can be judged, from the low to the high bound of the profile's numbers."""
    limits = profile.limits
    low, value, high = (
        usage_of(song, numbers_of(profile, sign), setup, disk_limit=limits.disk) for sign in (-1, 0, 1)
    )
    available = profile.memory_available
    doubt = available.provenance.factor
    room = limits.memory * available.value
    period = setup.period_s

    def share(resource: Resource, field: str, limit: float) -> ResourceUse:
        used = Range(low=getattr(low, field), value=getattr(value, field), high=getattr(high, field))
        return ResourceUse(resource=resource, used=used, limit=limit, capacity=1.0, unit="")

    uses = [
        ResourceUse(
            resource=Resource.CALLBACK,
            used=Range(low=low.callback, value=value.callback, high=high.callback_stacked),
            limit=limits.cpu, capacity=1.0, unit="",
        ),
        share(Resource.DECODE, "decode", limits.cpu),
        ResourceUse(
            resource=Resource.DISK,
            used=Range(
                low=low.disk, value=max(value.disk, value.disk_careful),
                high=max(high.disk, high.disk_careful),
            ),
            limit=limits.disk, capacity=1.0, unit="",
        ),
        share(Resource.REFILL, "refill", REFILL_LIMIT),
        ResourceUse(
            resource=Resource.WAKING,
            used=Range(low=low.work_s, value=value.waking_s, high=high.waking_s),
            limit=period, capacity=period, unit="s",
        ),
        ResourceUse(
            resource=Resource.MEMORY,
            used=Range(
                low=value.memory_bytes / doubt, value=value.memory_bytes, high=value.memory_bytes * doubt
            ),
            limit=room, capacity=room, unit="B",
        ),
        ResourceUse(
            resource=Resource.OPENING,
            used=Range(low=low.opening_s, value=value.opening_s, high=high.opening_s),
            limit=limits.open_s, capacity=limits.open_s, unit="s",
        ),
    ]  # fmt: skip
    if song.outputs is not None and profile.outputs is not None:
        needed = float(song.outputs)
        uses.append(
            ResourceUse(
                resource=Resource.OUTPUTS,
                used=Range(low=needed, value=needed, high=needed),
                limit=float(profile.outputs), capacity=float(profile.outputs), unit="outputs",
            )
        )  # fmt: skip
    return tuple(uses)


def smallest_buffer(
    song: SongLoad, profile: Profile, setup: EngineSetup, rehearsed: PastRehearsal | None = None
) -> int | None:
    """The smallest buffer at which the callback keeps its margin and its time, larger than one at which a
    rehearsal was dirty; None: none that there is."""
    wanted = {Resource.CALLBACK, Resource.WAKING}
    failed = rehearsed.frames if rehearsed is not None and not rehearsed.clean else 0
    for frames in BUFFERS:
        if frames <= failed:
            continue
        uses = uses_of(song, profile, replace(setup, frames=frames))
        if all(use.fit is Fit.FITS for use in uses if use.resource in wanted):
            return frames
    return None


def inputs_of(resource: Resource, song: SongLoad, profile: Profile, setup: EngineSetup) -> tuple[str, ...]:
    """The profile's numbers that a resource's forecast rests on."""
    codecs = {stem.codec for stem in song.stems}
    if any(stem.rate_hz != setup.rate_hz for stem in song.stems):
        codecs.add("resample")
    decoding = _costs(codecs, profile)
    mixing = ("cpu.a0", "cpu.a1", *_costs({"mix"}, profile))
    reading = ("disk.L", "disk.B")
    speed = ("cpu.speed",) if song.instruments else ()
    return {
        Resource.CALLBACK: (*mixing, *speed, "cpu.throttle"),
        Resource.DECODE: (*decoding, "cpu.throttle"),
        Resource.DISK: reading,
        Resource.REFILL: (*reading, *decoding, "cpu.throttle"),
        Resource.WAKING: ("cpu.lateness", *mixing),
        Resource.MEMORY: ("memory.available",),
        Resource.OPENING: (*reading, *decoding),
        Resource.OUTPUTS: (),
    }[resource]


def _costs(names: set[str], profile: Profile) -> tuple[str, ...]:
    own = sorted(f"cpu.cost.{name}" for name in names if name in profile.cost)
    return (*own, "cpu.speed") if names - set(profile.cost) else tuple(own)


def _confidence(
    made: SongForecast, song: SongLoad, profile: Profile, setup: EngineSetup, stale: str | None
) -> tuple[Confidence, str]:
    limiting = made.limiting.resource
    names = inputs_of(limiting, song, profile, setup)
    known = (Provenance.MEASURED, Provenance.FITTED)
    if not any(figure.provenance in known for figure in profile.figures().values()):
        return Confidence.LOW, "nothing was measured on such a machine"
    if names:
        weakest = least_sure(profile, names)
        if weakest in (Provenance.ESTIMATE, Provenance.DATASHEET):
            guessed = [n for n in names if n in least_named(profile, weakest)]
            word = "an estimate" if weakest is Provenance.ESTIMATE else "from a data sheet"
            besides = f"; {stale}" if stale is not None else ""
            return Confidence.LOW, f"{', '.join(guessed)}: {word}{besides}"
    if profile.warm_suspect and limiting in (Resource.DISK, Resource.REFILL, Resource.OPENING):
        return Confidence.LOW, "the disk was perhaps measured out of memory"
    if stale is not None:
        return Confidence.LOW, stale
    past = made.rehearsed
    if past is not None and past.clean and past.on_mains and past.frames <= setup.frames:
        return Confidence.HIGH, "measured, and rehearsed clean on this machine"
    return Confidence.MEDIUM, "measured, not rehearsed"


def least_named(profile: Profile, provenance: Provenance) -> frozenset[str]:
    """The profile's numbers of this provenance."""
    return frozenset(name for name, figure in profile.figures().items() if figure.provenance is provenance)


def _settling(limiting: ResourceUse, song: SongLoad, profile: Profile, setup: EngineSetup) -> str | None:
    """The number that alone moves the limiting resource's high bound most and was not measured; None where
    there is none: then only a rehearsal tells more."""

    def used(numbers: Numbers) -> float:
        return _field(limiting.resource, usage_of(song, numbers, setup, disk_limit=profile.limits.disk))

    figures = profile.figures()

    def is_measured(name: str) -> bool:
        return name in figures and figures[name].provenance is Provenance.MEASURED

    if limiting.resource is Resource.MEMORY:
        return None if is_measured("memory.available") else "memory.available"
    base = used(numbers_of(profile))
    moved = {
        name: used(numbers_of(profile, {name: 1})) - base
        for name in inputs_of(limiting.resource, song, profile, setup)
        if name not in CERTAIN and not is_measured(name)
    }
    name = max(moved, key=lambda each: moved[each], default=None)
    return name if name is not None and moved[name] > SETTLES * base else None


def _field(resource: Resource, usage: Usage) -> float:
    return {
        Resource.CALLBACK: usage.callback_stacked,
        Resource.DECODE: usage.decode,
        Resource.DISK: max(usage.disk, usage.disk_careful),
        Resource.REFILL: usage.refill,
        Resource.WAKING: usage.waking_s,
        Resource.MEMORY: usage.memory_bytes,
        Resource.OPENING: usage.opening_s,
        Resource.OUTPUTS: 0.0,
    }[resource]
