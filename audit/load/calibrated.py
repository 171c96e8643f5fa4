"""A profile with the user's readings worked in."""

from __future__ import annotations

from dataclasses import replace

from audit.load.demand import EngineSetup, SongLoad
from audit.load.figure import Figure, Provenance
from audit.load.profile import Observed, Profile, numbers_of
from audit.load.recalibrate import Correction, correct
from audit.load.usage import usage_of
from audit.units import count


def callback_pct(song: SongLoad, profile: Profile, setup: EngineSetup) -> float:
    """What a player's load meter should show by the model: the callback with all instruments, % of a core."""
    usage = usage_of(song, numbers_of(profile), setup, disk_limit=profile.limits.disk)
    return 100.0 * usage.callback_stacked


def add_reading(
    profile: Profile, song: SongLoad, setup: EngineSetup, reading_pct: float, *, meter: str = "peak"
) -> tuple[Profile, Correction]:
    """The profile fitted to this reading and all earlier ones, and how well it fits.

    reading_pct: of one core. The model's own figures are kept with the readings as they were before any
    correction, so that a later reading fits all of them anew. A song read again replaces its old reading.
    Raises UsageError for what cannot be.
    """
    before = _scale_so_far(profile)
    model = callback_pct(song, profile, setup) - before.constant_pct
    observed = (
        *(each for each in profile.observed if each.song != song.name),
        Observed(song=song.name, cpu_pct=reading_pct, model_pct=model / before.factor, meter=meter),
    )
    now = correct([each.model_pct for each in observed], [each.cpu_pct for each in observed])
    ratio = now.factor / before.factor
    source = f"{count(now.readings, 'reading')}, rms {now.rms_pct:.1f} %"

    def fitted(figure: Figure, value: float) -> Figure:
        return replace(figure, value=value, provenance=Provenance.FITTED, sd=None, source=source)

    a_percent_s = setup.period_s * profile.throttle.value / 100.0  # of a callback's time
    base_s = max(0.0, profile.callback_base.value - before.constant_pct * a_percent_s) * ratio
    cost = dict(profile.cost)
    if "mix" in cost:
        cost["mix"] = fitted(cost["mix"], cost["mix"].value * ratio)
    return (
        replace(
            profile,
            speed=fitted(profile.speed, profile.speed.value / ratio),
            callback_base=fitted(profile.callback_base, base_s + now.constant_pct * a_percent_s),
            callback_per_voice=fitted(profile.callback_per_voice, profile.callback_per_voice.value * ratio),
            cost=cost,
            observed=observed,
        ),
        now,
    )


def _scale_so_far(profile: Profile) -> Correction:
    """What the profile's readings have already done to its numbers."""
    if not profile.observed:
        return Correction(factor=1.0, constant_pct=0.0, residuals_pct=(), rms_pct=0.0)
    return correct([each.model_pct for each in profile.observed], [each.cpu_pct for each in profile.observed])
