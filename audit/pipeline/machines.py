"""The machines that a show's settings or a command name: their profiles, what was rehearsed, the player."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from difflib import get_close_matches
from pathlib import Path

from audit.errors import SettingsError, UsageError
from audit.folder.shown import shown
from audit.load.demand import EngineSetup
from audit.load.profile import Profile
from audit.machine.classes import CLASSES, class_names, class_profile
from audit.machine.profile import read_profile, staleness
from audit.machine.profile_files import profile_file, profiles_beside
from audit.results.load import PastRehearsal
from audit.settings.model import Engine, ShowSettings
from audit.settings.patterns import plain

ENGINE_FIELDS = ("frames", "rate_hz", "refill_s", "prebuffer_s", "refill_threads")

MOST_NAMED = 6
"""Profiles that are named to somebody who named none of them."""

UNSAID = Engine()
"""Nothing is said of the player."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownMachine:
    """A machine that may have to carry the show."""

    profile: Profile
    rehearsed: tuple[PastRehearsal, ...] = ()
    stale: str | None = None  # why its profile is not to be trusted any more
    engine: Engine = UNSAID  # what the settings say of the player on this machine alone

    def setup(self, show_rate_hz: int | None, settings: ShowSettings, asked: Engine) -> EngineSetup:
        """The player: what was asked for, else the machine's own, the show's, the profile's, the usual."""
        chosen: dict[str, float | None] = {}
        for field in ENGINE_FIELDS:
            sources = (asked, self.engine, settings.engine)
            chosen[field] = next(
                (value for each in sources if (value := getattr(each, field)) is not None), None
            )
        if chosen["rate_hz"] is None and "rate_hz" not in self.profile.engine:
            chosen["rate_hz"] = show_rate_hz
        setup = self.profile.setup(**chosen)
        if chosen["prebuffer_s"] is None and setup.prebuffer_s < 2 * setup.refill_s:
            setup = replace(setup, prebuffer_s=2 * setup.refill_s)  # one refill plays while the next is read
        return setup

    def past(self, song: str, title: str) -> PastRehearsal | None:
        """The last rehearsal of a song, by its name with or without its number."""
        names = {plain(song), plain(title)}
        fitting = [each for each in self.rehearsed if plain(each.song) in names]
        return max(fitting, key=lambda each: each.day, default=None)


def machines_in(settings: ShowSettings, today: date | None) -> tuple[KnownMachine, ...]:
    """The machines under [[machines]]. Raises SettingsError with the mistakes of all their profiles."""
    found: list[KnownMachine] = []
    mistakes: dict[str, None] = {}
    for machine in settings.machines:
        try:
            known = (
                _read(machine.profile, today)
                if machine.profile is not None
                else KnownMachine(profile=_of_class(machine.machine_class or ""))
            )
        except SettingsError as error:
            mistakes[str(error)] = None
            continue
        outputs = machine.outputs or known.profile.outputs or settings.interface_outputs
        named = replace(known.profile, name=machine.name, outputs=outputs)
        found.append(replace(known, profile=named, engine=machine.engine))
    if mistakes:
        raise SettingsError("\n".join(mistakes))
    return tuple(found)


def machine_named(text: str, settings: ShowSettings, today: date | None) -> KnownMachine:
    """A machine by its name in the settings, by a profile's file, or by class. Raises UsageError."""
    wanted = text.strip()
    for known in machines_in(settings, today):
        if plain(known.profile.name) == plain(wanted):
            return known
    profile = class_profile(wanted)
    if profile is not None:
        known = KnownMachine(profile=profile)
    elif (file := profile_file(wanted)) is not None:
        known = _read(file, today)
    else:
        raise UsageError(_no_machine(wanted, settings))
    outputs = known.profile.outputs or settings.interface_outputs
    return replace(known, profile=replace(known.profile, outputs=outputs))


def _no_machine(wanted: str, settings: ShowSettings) -> str:
    files = profiles_beside(wanted)
    names = [*(each.name for each in settings.machines), *files, *sorted(class_names())]
    near = get_close_matches(wanted.lower(), names, n=1) or [
        name for name in files if get_close_matches(wanted.lower(), [Path(name).stem.lower()])
    ]
    guess = f"did you mean {shown(near[0])}? " if near else ""
    typed = shown(wanted) or '""'
    here = f"profiles there are {', '.join(map(shown, files[:MOST_NAMED]))}; " if files else ""
    classes = ", ".join(CLASSES)
    return f"--machine {typed}: neither a profile's file nor a class; {guess}{here}the classes are {classes}"


def _read(path: Path, today: date | None) -> KnownMachine:
    profile, rehearsed = read_profile(path)
    stale = staleness(profile, today) if today is not None else None
    return KnownMachine(profile=profile, rehearsed=rehearsed, stale=stale)


def _of_class(name: str) -> Profile:
    profile = class_profile(name)
    if profile is None:
        raise SettingsError(f"machines.class: {name} is no class of machines: there are {', '.join(CLASSES)}")
    return profile
