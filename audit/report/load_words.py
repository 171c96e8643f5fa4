"""A forecast in words: how much of what, in the units a person thinks in."""

from __future__ import annotations

from audit.evidence import SongEvidence
from audit.results.load import Confidence, Fit, LoadCure, Resource, ResourceUse, SongForecast

NAMES = {
    Resource.CALLBACK: "CPU, playing",
    Resource.DECODE: "CPU, reading ahead",
    Resource.DISK: "disk",
    Resource.REFILL: "disk and CPU in turn",
    Resource.WAKING: "lateness",
    Resource.MEMORY: "memory",
    Resource.OPENING: "opening",
    Resource.OUTPUTS: "outputs",
}
"""What each resource is called in reports."""

SHORT = {Resource.CALLBACK: "CPU", Resource.DECODE: "CPU", Resource.REFILL: "disk", Resource.WAKING: "CPU"}
"""Where there is room for one word."""

ALWAYS = (
    Resource.CALLBACK, Resource.DECODE, Resource.DISK, Resource.MEMORY, Resource.OPENING, Resource.OUTPUTS,
)  # fmt: skip
"""Resources that stand in every list; the others only where something is amiss with them."""

LITTLE = 0.01
"""A smaller part of what is used is no saving to speak of."""

FIT_WORDS = {Fit.FITS: "fits", Fit.TIGHT: "tight", Fit.OVER: "over"}

DOUBTFUL = "doubtful"
"""Tight, where what is likely is more than there is and only the best case is enough."""

SURE_WORDS = {
    Confidence.HIGH: "sure",
    Confidence.MEDIUM: "fairly sure",
    Confidence.LOW: "a guess",
}

FIGURE_WORDS = {
    "cpu.speed": "the processor's speed", "cpu.throttle": "how far it slows down when warm",
    "cpu.a0": "the player's own load", "cpu.a1": "the player's load per stem",
    "cpu.lateness": "how late its threads wake up", "disk.L": "how long its disk takes to find a place",
    "disk.B": "how fast its disk reads", "memory.available": "its free memory",
}  # fmt: skip


OF_THE_PLAYER = ("cpu.a0", "cpu.a1")
"""No probe measures them: the player's own reading tells."""


def figure_words(name: str) -> str:
    """A number of the profile as a person says it."""
    if name.startswith("cpu.cost."):
        return f"what {name.removeprefix('cpu.cost.')} costs"
    return FIGURE_WORDS.get(name, name)


def amount(use: ResourceUse, value: float) -> str:
    """A resource's number with its unit: `34 %`, `1.8 s`, `0.6 GB`."""
    if use.unit == "":
        return f"{100 * value:.0f} %" if value >= 0.0995 else f"{100 * value:.1f} %"
    if use.unit == "s":
        return f"{value:.2f} s" if value >= 0.1 else f"{1000 * value:.1f} ms"
    if use.unit == "B":
        return f"{value / 1e9:.2f} GB"
    return f"{value:.0f}"


def fit_word(forecast: SongForecast) -> str:
    """`fits`, `tight`, `doubtful`, `over`."""
    return DOUBTFUL if is_doubtful(forecast) else FIT_WORDS[forecast.fit]


def forecast_word(forecast: SongForecast) -> str:
    """As `fit_word`, by the forecast alone, whatever a rehearsal showed."""
    use = forecast.limiting
    doubtful = forecast.forecast_fit is Fit.TIGHT and use.used.value > use.capacity
    return DOUBTFUL if doubtful else FIT_WORDS[forecast.forecast_fit]


def is_doubtful(forecast: SongForecast) -> bool:
    """Nobody plays on a machine that only the best case saves: that is more than tight."""
    use = forecast.limiting
    return forecast.fit is Fit.TIGHT and use.used.value > use.capacity


def share_words(forecast: SongForecast) -> str:
    """`62 %` of the limit; where it is doubtful from the best case on: `4 to 573 %`."""
    use = forecast.limiting
    percent = f"{100.0 * use.share:.0f} %"
    return f"{100.0 * use.used.low / use.limit:.0f} to {percent}" if is_doubtful(forecast) else percent


def used_words(use: ResourceUse) -> str:
    """`68 % of its limit: 34 % of 50 % (19 to 68 %)`, as in the table; the range only where there is one."""
    share = f"{100.0 * use.share:.0f} % of its limit"
    words = f"{share}: {amount(use, use.used.value)} of {amount(use, use.limit)}"
    low, high = amount(use, use.used.low), amount(use, use.used.high)
    if low == high:
        return words
    unit = low.rpartition(" ")
    same = unit[1] and unit[2] == high.rpartition(" ")[2]
    return f"{words} ({unit[0] if same else low} to {high})"


def load_words(song: SongEvidence) -> str:
    """The machine that has most to do with it, as `load_share` says it; empty without machines."""
    if not song.forecasts:
        return ""
    return load_share(max(song.forecasts, key=lambda forecast: forecast.limiting.share))


def load_share(forecast: SongForecast) -> str:
    """`62 % disk`: how much of its limit the resource takes that limits the song."""
    use = forecast.limiting
    return f"{100.0 * use.share:.0f} % {SHORT.get(use.resource, NAMES[use.resource])}"


def cure_words(forecast: SongForecast, cure: LoadCure) -> str:
    """A change, what it saves of the resource that limits the song, and whether that is enough.

    A larger buffer saves next to nothing: it leaves more time.
    """
    use = forecast.limiting
    if cure.saves < LITTLE * use.used.value:
        return f"{cure.text}: then it fits" if cure.enough else cure.text
    enough = " and is enough" if cure.enough else ", not enough alone"
    return f"{cure.text}: saves {amount(use, cure.saves)} of {NAMES[use.resource]}{enough}"


def worth_listing(forecast: SongForecast) -> tuple[ResourceUse, ...]:
    """The usual resources, and those with which something is amiss."""
    return tuple(
        use
        for use in forecast.uses
        if use.resource in ALWAYS or use.fit is not Fit.FITS or use is forecast.limiting
    )
