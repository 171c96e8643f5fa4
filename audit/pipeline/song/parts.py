"""Which channels of a stem do which job: from its name, and from what each channel sounds like."""

from __future__ import annotations

from dataclasses import dataclass

from audit.facts import Role, Stem
from audit.results import Nature

SURELY_TIMECODE = 0.8
"""Share of bi-phase mark in a channel's sound past which it is timecode (`measure.nature`; own measurement:
timecode reaches 0.9, nothing musical 0.05)."""

SURELY_TICKS = 0.8
"""The same for a click: `measure.nature` gives clicks 0.8 and more, drums and speech 0.3 and less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The channels of a file that do the same job."""

    role: Role
    is_guess: bool
    channels: tuple[int, ...]


def split_into_parts(stem: Stem, natures: tuple[Nature, ...]) -> tuple[Part, ...]:
    """The parts of a stem with one nature a channel, in channel order of their first channels.

    The name decides wherever it speaks for every channel. Content decides where the name is silent (no role
    word), and splits off a channel of a multichannel file that is timecode, or a click beside something that
    is none: what the crew hears must never be counted as heard by the audience. For the same reason a file
    that is timecode on every channel is timecode, whatever music its name speaks of; no music sounds like it.
    """
    channels = range(len(natures))
    heard = [_heard(nature) for nature in natures]
    if len(stem.channel_roles) == len(natures):
        roles = list(stem.channel_roles)
        guesses = [role is Role.OTHER for role in roles]
        for channel in channels:
            sounds_like = heard[channel]
            if guesses[channel] and sounds_like is not None:
                roles[channel], guesses[channel] = sounds_like, False
    else:
        roles = [stem.role] * len(natures)
        guesses = [stem.role_is_guess] * len(natures)
        nameless = stem.role_is_guess
        for channel in channels:
            is_news = heard[channel] is not None and heard[channel] is not roles[channel]
            if is_news and (nameless or _stands_out(heard, channel)):
                roles[channel] = heard[channel] or roles[channel]
                guesses[channel] = False
    if all(role is Role.TIMECODE for role in heard):
        roles = [Role.TIMECODE if role.audience else role for role in roles]
        guesses = [False] * len(natures)
    parts: dict[tuple[Role, bool], list[int]] = {}
    for channel in channels:
        parts.setdefault((roles[channel], guesses[channel]), []).append(channel)
    return tuple(
        Part(role=role, is_guess=is_guess, channels=tuple(members))
        for (role, is_guess), members in parts.items()
    )


def _heard(nature: Nature) -> Role | None:
    if nature.timecode_share >= SURELY_TIMECODE:
        return Role.TIMECODE
    if nature.tick_share >= SURELY_TICKS:
        return Role.CLICK
    return None


def _stands_out(heard: list[Role | None], channel: int) -> bool:
    """Whether another channel of the file is of another nature: then the name cannot speak for this one."""
    return any(other is not heard[channel] for other in heard)
