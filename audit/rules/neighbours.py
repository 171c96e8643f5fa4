"""From one song to the next: the worst that the set list's order holds, and the worst of any order.

The artist may call any song next, so each is told twice. What holds for every order takes one pass over the
songs: the extremes of a show make its worst pair.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence
from audit.results.load import Fit, Resource, ResourceUse
from audit.rules.asked import loudness_lufs
from audit.rules.timecode_ranges import Nearest, nearest_of, nearest_of_all

Pairs = Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Step:
    """From one song to the next; positive: louder."""

    songs: tuple[str, str]
    by_lu: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockChanges:
    """Where the sound card has to change its clock: `times`, and the first such place."""

    songs: tuple[str, str]
    rates_hz: tuple[int, int]
    times: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """The song that a machine takes longest to open."""

    machine: str
    song: str
    use: ResourceUse

    @property
    def fits(self) -> bool:
        return self.use.fit is Fit.FITS


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The worst of some orders. None, or empty: it does not arise there."""

    loudness: Step | None = None
    clock: ClockChanges | None = None
    timecode: Nearest | None = None
    openings: tuple[Opening, ...] = ()  # one a machine


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbours:
    """`in_order`: between songs of the set list that follow each other without an interval; None without a
    set list. `any_order`: over all songs on the disk."""

    in_order: Worst | None
    any_order: Worst
    rates: tuple[
        tuple[int, int], ...
    ]  # (Hz, songs that run at it), the usual first; [] where a clock is fixed


def neighbours(show: ShowEvidence, pairs: Pairs | None = None) -> Neighbours | None:
    """pairs: the order's, where it is not that of the show's set list. None with fewer than two songs, and
    where only some were scanned."""
    if show.partial or len(show.songs) < 2:
        return None
    if pairs is None and show.order is not None:
        pairs = show.order.neighbours
    rates = song_rates(show)
    return Neighbours(
        in_order=None if pairs is None else _in_order(show, pairs, rates),
        any_order=Worst(
            loudness=worst_step(show),
            clock=_clock_of_any_order(show, rates),
            timecode=nearest_of_all(show),
            openings=_openings(show.songs),
        ),
        rates=tuple(Counter(rates.values()).most_common()),
    )


def _in_order(show: ShowEvidence, pairs: Pairs, rates: dict[str, int]) -> Worst:
    steps = steps_between(show, pairs)
    by_name = {song.name: song for song in show.songs}
    changes = clock_changes(pairs, rates)
    return Worst(
        loudness=max(steps, key=lambda step: abs(step.by_lu), default=None),
        clock=ClockChanges(
            songs=changes[0], rates_hz=(rates[changes[0][0]], rates[changes[0][1]]), times=len(changes)
        )
        if changes
        else None,
        timecode=nearest_of(show, pairs),
        openings=_openings([by_name[name] for name in dict.fromkeys(two for _, two in pairs)]),
    )


def _lufs(song: SongEvidence) -> float | None:
    return song.mix.loudness.integrated_lufs if song.mix else None


def steps_between(show: ShowEvidence, pairs: Pairs) -> list[Step]:
    """Each pair's step once, without what the settings want it to be; pairs without loudness are left out."""
    by_name = {song.name: song for song in show.songs}
    found = []
    for one, two in dict.fromkeys(pairs):
        first, second = _lufs(by_name[one]), _lufs(by_name[two])
        if first is None or second is None:
            continue
        wanted = [loudness_lufs(by_name[name], show) for name in (one, two)]
        meant = 0.0 if wanted[0] is None or wanted[1] is None else wanted[1] - wanted[0]
        found.append(Step((one, two), second - first - meant))
    return found


def worst_step(show: ShowEvidence) -> Step | None:
    """The largest step of any order, upwards; None with fewer than two songs that have a loudness.

    Of two songs whose loudness the settings both name, only what differs from that counts; so the songs with
    and those without such a wish are laid beside each other apart.
    """
    levels = {song.name: level for song in show.songs if (level := _lufs(song)) is not None}
    wanted = {song.name: loudness_lufs(song, show) for song in show.songs if song.name in levels}
    free = {name: level for name, level in levels.items() if wanted[name] is None}
    beside = {name: levels[name] - want for name, want in wanted.items() if want is not None}
    found = [_widest(beside, beside), _widest(free, levels), _widest(levels, free)]
    return max((step for step in found if step is not None), key=lambda step: step.by_lu, default=None)


def _widest(softer: dict[str, float], louder: dict[str, float]) -> Step | None:
    """From the softest of the ones to the loudest of the others."""
    if not softer or not louder:
        return None
    one = min(softer, key=lambda name: softer[name])
    two = max((name for name in louder if name != one), key=lambda name: louder[name], default=None)
    return None if two is None else Step((one, two), louder[two] - softer[one])


def clock_is_fixed(show: ShowEvidence) -> bool:
    """Whether the settings say that the player runs at one rate whatever the songs have."""
    machines = show.settings.machines
    of_each = bool(machines) and all(machine.engine.rate_hz is not None for machine in machines)
    return show.settings.engine.rate_hz is not None or of_each


def song_rates(show: ShowEvidence) -> dict[str, int]:
    """The rate of every song whose stems all have one; empty where the clock is fixed."""
    if clock_is_fixed(show):
        return {}
    found = {}
    for song in show.songs:
        rates = {stem.format.sample_rate_hz for stem in song.stems if stem.format is not None}
        if len(rates) == 1:
            found[song.name] = rates.pop()
    return found


def clock_changes(pairs: Pairs, rates: dict[str, int]) -> list[tuple[str, str]]:
    """The pairs whose two songs have different rates."""
    return [(one, two) for one, two in pairs if one in rates and two in rates and rates[one] != rates[two]]


def _clock_of_any_order(show: ShowEvidence, rates: dict[str, int]) -> ClockChanges | None:
    """times: the most that an order can have, with n songs of which m have the usual rate: every other song
    is then one of the rest, so 2·(n − m), and never more than n − 1."""
    ranked = Counter(rates.values()).most_common()
    if len(ranked) < 2:
        return None
    usual, most = ranked[0]
    other = max((rate for rate, _ in ranked[1:]), key=lambda rate: max(rate, usual) / min(rate, usual))
    first = {rate: name for name, rate in reversed(rates.items())}
    return ClockChanges(
        songs=(first[usual], first[other]),
        rates_hz=(usual, other),
        times=min(len(rates) - 1, 2 * (len(rates) - most)),
    )


def _openings(songs: Sequence[SongEvidence]) -> tuple[Opening, ...]:
    """The slowest song of each machine that the settings name."""
    slowest: dict[str, Opening] = {}
    for song in songs:
        for forecast in song.forecasts:
            for use in forecast.uses:
                if use.resource is not Resource.OPENING:
                    continue
                known = slowest.get(forecast.machine)
                if known is None or use.used.value > known.use.used.value:
                    slowest[forecast.machine] = Opening(machine=forecast.machine, song=song.name, use=use)
    return tuple(slowest.values())
