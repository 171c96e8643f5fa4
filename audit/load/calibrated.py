"""A profile with the user's readings worked in."""

from __future__ import annotations

from dataclasses import replace

from audit.load.demand import EngineSetup, SongLoad
from audit.load.figure import Figure, Provenance
from audit.load.profile import Observed, Profile, numbers_of
from audit.load.recalibrate import Correction, correct
from audit.load.usage import usage_of
from audit.units import count

ROUNDING_S = 1e-9
"""What sums of times lose."""


def callback_pct(song: SongLoad, profile: Profile, setup: EngineSetup) -> float:
    """What a player's load meter should show by the model: the callback with all instruments, % of a core."""
    usage = usage_of(song, numbers_of(profile), setup, disk_limit=profile.limits.disk)
    return 100.0 * usage.callback_stacked


def add_reading(
    profile: Profile,
    song: SongLoad,
    setup: EngineSetup,
    reading_pct: float,
    *,
    meter: str = "peak",
    usual: EngineSetup | None = None,
) -> tuple[Profile, Correction]:
    """The profile fitted to this reading and all earlier ones, and how well it fits.

    setup: the player while it was taken, reading_pct: of one core. usual: the player that the profile and the
    settings speak of, for readings of old files, which do not say at which buffer they were taken.
    The model's own figures are kept with the readings as they were before any correction, so that a later
    reading fits all of them anew. A song read again at the same buffer replaces its old reading. The player's
    own load is a time per callback, so readings at several buffers fit together; the correction's constant is
    its share at `setup`. Raises UsageError for what cannot be.
    """
    earlier = _with_buffers(profile, (usual or setup, setup))
    before, before_s = _fitted(profile, earlier)
    model = callback_pct(song, profile, setup) - _pct(profile, before_s, setup.period_s)
    new = Observed(
        song=song.name, cpu_pct=reading_pct, model_pct=model / before.factor, meter=meter,
        frames=setup.frames, rate_hz=setup.rate_hz,
    )  # fmt: skip
    observed = (*(each for each in earlier if _taken(each) != _taken(new)), new)
    now, now_s = _fitted(profile, observed)
    ratio = now.factor / before.factor
    source = f"{count(now.readings, 'reading')}, rms {now.rms_pct:.1f} %"

    def fitted(figure: Figure, value: float) -> Figure:
        return replace(figure, value=value, provenance=Provenance.FITTED, sd=None, source=source)

    base_s = max(0.0, profile.callback_base.value - before_s) * ratio
    cost = dict(profile.cost)
    if "mix" in cost:
        cost["mix"] = fitted(cost["mix"], cost["mix"].value * ratio)
    return (
        replace(
            profile,
            speed=fitted(profile.speed, profile.speed.value / ratio),
            callback_base=fitted(profile.callback_base, base_s + now_s),
            callback_per_voice=fitted(profile.callback_per_voice, profile.callback_per_voice.value * ratio),
            cost=cost,
            observed=observed,
        ),
        now,
    )


def _taken(reading: Observed) -> tuple[str, int | None, int | None]:
    return reading.song, reading.frames, reading.rate_hz


def _period_s(reading: Observed) -> float:
    """From one callback to the next while it was taken."""
    usual = EngineSetup()
    return (reading.frames or usual.frames) / (reading.rate_hz or usual.rate_hz)


def _pct(profile: Profile, work_s: float, period_s: float) -> float:
    """What a time per callback is of one core, in %."""
    return 100.0 * work_s / period_s / profile.throttle.value


def _fitted(profile: Profile, readings: tuple[Observed, ...]) -> tuple[Correction, float]:
    """What the readings do to the profile's numbers, and its constant in seconds a callback.

    Its percentage is that of the last reading's buffer.
    """
    if not readings:
        return Correction(factor=1.0, constant_pct=0.0, residuals_pct=(), rms_pct=0.0), 0.0
    last_s = _period_s(readings[-1])
    made = correct(
        [each.model_pct for each in readings],
        [each.cpu_pct for each in readings],
        [last_s / _period_s(each) for each in readings],
    )
    return made, made.constant_pct * last_s * profile.throttle.value / 100.0


def _with_buffers(profile: Profile, possible: tuple[EngineSetup, ...]) -> tuple[Observed, ...]:
    """The profile's readings, those of old files with the buffer at which they were taken.

    Their constant lies in the profile's own in seconds, so the buffer shows: it is the longest at which the
    profile keeps something of its own. Without a constant it is the first.
    """
    readings = profile.observed
    if all(each.frames is not None for each in readings):
        return readings

    def at(setup: EngineSetup) -> tuple[Observed, ...]:
        return tuple(
            each if each.frames is not None
            else replace(each, frames=setup.frames, rate_hz=setup.rate_hz)
            for each in readings
        )  # fmt: skip

    own_s = {setup: profile.callback_base.value - _fitted(profile, at(setup))[1] for setup in possible}
    able = [setup for setup in possible if own_s[setup] >= -ROUNDING_S]
    return at(min(able or possible[:1], key=lambda setup: own_s[setup]))
