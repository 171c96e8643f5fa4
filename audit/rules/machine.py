"""Whether the machines that the settings name carry each song, at one clock of the sound card."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Fact, Severity
from audit.results.load import Fit, Resource, ResourceUse, SongForecast
from audit.rules.neighbours import clock_changes, song_rates
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import count, khz

NO_MACHINE = "no machine in the settings"

WORDS = {
    Resource.CALLBACK: "the processor, while playing",
    Resource.DECODE: "the processor, reading files ahead",
    Resource.DISK: "the disk",
    Resource.REFILL: "disk and processor in turn",
    Resource.WAKING: "a buffer, with how late the machine gets to it,",
    Resource.MEMORY: "the memory",
    Resource.OPENING: "the time to open",
    Resource.OUTPUTS: "the outputs",
}

SETTLES = {
    "disk.L": "its disk", "disk.B": "its disk", "memory.available": "its free memory",
    "cpu.lateness": "how late its threads wake up",
}  # fmt: skip


def _number(use: ResourceUse, value: float) -> str:
    if use.unit == "":
        return f"{100 * value:.0f} %"
    if use.unit == "B":
        return f"{value / 1e9:.1f} GB"
    if use.unit == "s":
        return f"{value:.1f} s" if value >= 1.0 else f"{1000 * value:.1f} ms"
    return f"{value:.0f}"


def _facts(forecast: SongForecast) -> dict[str, Fact]:
    """What both rules say: the limiting resource in its own unit, whose limit stands beside it."""
    use = forecast.limiting
    return {
        "machine": forecast.machine,
        "resource": WORDS[use.resource],
        "used": _number(use, use.used.value),
        "low": _number(use, use.used.low),
        "high": _number(use, use.used.high),
        "most": _number(use, use.limit),
        "confidence": forecast.confidence.value,
    }


def _cure(forecast: SongForecast, otherwise: str) -> str:
    """What the forecast computed to be enough, else what helps most."""
    if not forecast.cures:
        return otherwise
    best = forecast.cures[0]
    words = best.text[:1].upper() + best.text[1:]
    safe = words.replace("{", "{{").replace("}", "}}")
    if best.saves < LITTLE * forecast.limiting.used.value:
        return f"{safe}: then it fits." if best.enough else f"{safe}."
    saved = _number(forecast.limiting, best.saves)
    return f"{safe}: it saves {saved}, and {'then it fits' if best.enough else 'not enough alone'}."


LITTLE = 0.01
"""A smaller part of what is used is no saving to speak of: a larger buffer leaves more time instead."""

OTHERWISE = "Rehearse the song on this machine (stemaudit rehearse), or take another machine."


@rule(
    id="over-budget",
    family="machine",
    severity=Severity.ERROR,
    scope="song",
    limit=Limit(value=100.0, unit="% of what there is"),
    message="{machine} does not carry it: {resource} needs {used}, and {most} is what may be used",
    cure=OTHERWISE,
    again=None,
    means="A machine that the settings name cannot play the song: processor, disk, memory, opening time or "
    "outputs are not enough even if every uncertain number turns out well.",
    on_stage="Sound that stops and starts, or a song that is not ready when it is called.",
    measured="Formats and sizes of all stems, and the settings' instruments, against the machine's profile "
    "(stemaudit load tells every resource).",
    source="Disk: the continuity condition of round-based service (Lee, Scalable Continuous Media Streaming "
    "Systems, 2005, 3.2.2). Processor: response times under fixed priorities (Liu and Layland 1973). Opening "
    "in 1 s: common practice.",
)
def over_budget(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.machines:
        yield NotApplicable(reason=NO_MACHINE)
    for forecast in song.forecasts:
        use = forecast.limiting
        low_pct = 100 * use.used.low / use.capacity
        if forecast.forecast_fit is Fit.OVER and low_pct > limit.value:
            yield Hit(value=low_pct, cure=_cure(forecast, OTHERWISE), facts=_facts(forecast))
        elif forecast.rehearsed_dirty and forecast.rehearsed is not None:
            yield Hit(
                message="{machine} did not carry it when it was rehearsed on {day}; forecast: {said}",
                cure="Believe the rehearsal: lighten the song, take a larger buffer, or another machine.",
                facts={
                    **_facts(forecast),
                    "day": forecast.rehearsed.day,
                    "said": forecast.forecast_fit.value,
                },
            )


@rule(
    id="tight-budget",
    family="machine",
    severity=Severity.WARNING,
    scope="song",
    limit=Limit(value=100.0, unit="% of the limit"),
    message="{machine} may not carry it: {resource} needs {low} to {high}, and {most} is what may be used"
    "{settles}",
    cure=OTHERWISE,
    again=None,
    means="A machine that the settings name plays the song with less margin than practice asks, or the "
    "numbers known of it are too uncertain to tell.",
    on_stage="It works in the afternoon, and drops out when the laptop is warm or something else wakes up.",
    measured="As over-budget, with every uncertain number at its bad end.",
    source="Margins: processor 50 %, disk 70 %: own measurement (clean in 6 of 6 and 11 of 12 runs); "
    "memory 75 % of what is free: own judgement.",
)
def tight_budget(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.machines:
        yield NotApplicable(reason=NO_MACHINE)
    for forecast in song.forecasts:
        use = forecast.limiting
        high_pct = 100 * use.used.high / use.limit
        if forecast.fit is Fit.TIGHT and high_pct > limit.value:
            what = SETTLES.get(forecast.settles or "", "its processor")
            settles = f"; a probe of {what} would settle it" if forecast.settles else ""
            yield Hit(
                value=high_pct,
                cure=_cure(forecast, OTHERWISE),
                facts={**_facts(forecast), "settles": settles},
            )


@rule(
    id="rate-change",
    family="machine",
    severity=Severity.WARNING,
    scope="show",
    message="the sound card must change its clock between songs: {camps}{in_order}",
    cure="Convert the songs of the other rate, or let the player convert while it plays: [engine] rate_hz in "
    "the settings says so.",
    again=None,
    means="Whole songs of the show have another sample rate than the rest, so the sound card has to change "
    "its clock between two songs.",
    on_stage="A gap, a click or lost lock at every device that follows that clock; some cards take seconds.",
    measured="Songs whose stems all have one rate, against the others, whichever follows which; and how "
    "often it is so in the order of the set list, intervals aside. Not asked where the settings give the "
    "player's rate.",
    source="Common practice.",
)
def rate_change(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.machines:
        yield NotApplicable(reason=NO_MACHINE)
        return
    rates = song_rates(show)
    camps: dict[int, list[str]] = {}
    for name, rate in rates.items():
        camps.setdefault(rate, []).append(name)
    if len(camps) < 2:
        return
    ranked = sorted(camps.items(), key=lambda camp: (-len(camp[1]), camp[0]))
    others = [name for _, names in ranked[1:] for name in names]
    words = [f"{khz(ranked[0][0])} in {count(len(ranked[0][1]), 'song')}"]
    words += [f"{khz(rate)} in {listed(names)}" for rate, names in ranked[1:]]
    changes = clock_changes(show.order.neighbours, rates) if show.order is not None else []
    yield Hit(
        songs=tuple(others),
        facts={
            "camps": "; ".join(words),
            "rates": tuple(khz(rate) for rate, _ in ranked),
            "in_order": _in_order(changes) if show.order is not None else "",
            "changes": tuple(changes),
        },
    )


def _in_order(changes: Sequence[tuple[str, str]]) -> str:
    """What that means for the set list's order."""
    if not changes:
        return "; not between neighbours of the set list"
    one, two = changes[0]
    times = "once" if len(changes) == 1 else f"{len(changes)} times, first"
    return f"; in the order of the set list {times} from {one} to {two}"


RULES = (over_budget, tight_budget, rate_change)
