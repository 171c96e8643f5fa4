"""`stemaudit rehearse`: stream a song's real files on this machine under a show's deadlines."""

from __future__ import annotations

import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from audit.cli.complete import complete_song
from audit.cli.engine import BufferOption, RateOption, RefillOption, read_engine
from audit.cli.live import live_line
from audit.cli.screen import complain, open_console, reader_may_leave, say
from audit.cli.show_settings import laid_over, set_for, settings_for, songs_of
from audit.cli.values import read_folder, read_songs
from audit.errors import (
    EXIT_CLEAN,
    EXIT_FINDINGS,
    EXIT_INCOMPLETE,
    EXIT_INTERRUPTED,
    AuditError,
    OutputError,
    UsageError,
)

if TYPE_CHECKING:
    from audit.facts import Show, Song, StemFormat
    from audit.pipeline.machines import KnownMachine
    from audit.results.rehearsal import Rehearsal
    from audit.settings.model import Engine, ShowSettings
    from audit.settings.order import RunningOrder

SPEEDS = ("1", "max")


def rehearse(
    path: Annotated[
        str,
        typer.Argument(
            metavar="PATH", path_type=str, help="A song's folder, or a show's with --song or --set."
        ),
    ],
    song: Annotated[
        str | None, typer.Option("--song", metavar="NAME", autocompletion=complete_song, help="Which song.")
    ] = None,
    set_list: Annotated[
        str | None,
        typer.Option(
            "--set",
            metavar="NAME",
            help="The songs of this set list, one after another: its name in the settings, or a text file.",
        ),
    ] = None,
    speed: Annotated[
        str,
        typer.Option(
            "--speed", metavar="[1|max]", help="1: as on stage; max: faster, up to the first late refill."
        ),
    ] = "1",
    buffer: BufferOption = None,
    rate: RateOption = None,
    refill: RefillOption = None,
    minutes: Annotated[
        str | None,
        typer.Option("--minutes", metavar="M", help="How long each song (default: its length)."),
    ] = None,
    machine: Annotated[
        str | None,
        typer.Option(
            "--machine", "-m", metavar="FILE", help="This machine's profile: its forecast is shown beside."
        ),
    ] = None,
    record: Annotated[
        bool, typer.Option("--record", help="Keep the outcome in that profile: load and scan then heed it.")
    ] = False,
    settings: Annotated[
        str | None,
        typer.Option("--settings", metavar="FILE", help="The show's settings, instead of its own show.toml."),
    ] = None,
) -> None:
    """Stream a song's stems on this machine as a player does, and count what comes late.

    All stems are read, converted where their rate is another, and mixed buffer by buffer at absolute due
    times. Nothing is heard: no sound card is opened, no file is written. With --set it takes as long as the
    night's music does; --minutes 1 or --speed max is shorter. Ctrl-C stops it and tells what was seen so far.

    \b
    Examples:
      stemaudit rehearse "Harbour Lights Tour/Night Ferry"
      stemaudit rehearse show --song "Night Ferry" --speed max --machine foh.toml
      stemaudit rehearse show --song "Night Ferry" --machine foh.toml --record
      stemaudit rehearse show --set tonight.txt --minutes 1

    \b
    Exit codes:
      0    clean
      1    it drops out: refills or buffers came late
      2    wrong arguments, or mistakes in the settings or the profile
      3    clean, but stems or songs could not be streamed
      130  interrupted
    """
    if speed.strip().lower() not in SPEEDS:
        raise UsageError(f"--speed {speed}: it takes 1 or max")
    if record and machine is None:
        raise UsageError("--record: into which profile? Name it with --machine")
    folder = read_folder(path, "PATH: no folder is named; give a song's folder")
    asked, chosen = read_engine(buffer, rate, refill), read_songs([song] if song is not None else [])
    if chosen and set_list is not None:
        raise UsageError("--set and --song: a set list names its songs: give one of the two")
    length_s = _seconds(minutes)
    from audit.machine.profile_files import profile_file
    from audit.pipeline.machines import machine_named

    known = settings_for(folder, settings)
    today = date.today()
    here = machine_named(machine, known, today) if machine is not None else None
    file = profile_file(machine or "")
    if record and file is None:
        raise UsageError(f"--record: {machine} is no profile's file: `stemaudit probe` writes one")
    stage = _stage(folder, chosen, known, asked, here, set_list)
    ends = []
    for each in stage.show.songs:
        try:
            done = _stream(stage, each, seconds=length_s, climb=speed.strip().lower() == "max")
        except AuditError as error:
            if stage.order is None:
                raise
            complain(error)  # the night's other songs are still worth hearing of
            ends.append(EXIT_INCOMPLETE)
            continue
        _tell(stage, each, done)
        if record and file is not None and not done.stopped:
            _keep(file, each.name, done, today)
            say(
                f"Kept in {file}: load and scan heed it. The next --record of this song replaces it; to undo "
                "it, delete its [[rehearsed]] lines in that file."
            )
        if done.stopped:
            raise typer.Exit(EXIT_INTERRUPTED)
        ends.append(EXIT_FINDINGS if not done.good else EXIT_INCOMPLETE if done.failed else EXIT_CLEAN)
    if stage.order is not None:
        say(_night_words(stage.order, ends))
        ends += [EXIT_INCOMPLETE] if stage.order.missing else []
    raise typer.Exit(next((end for end in (EXIT_FINDINGS, EXIT_INCOMPLETE) if end in ends), EXIT_CLEAN))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stage:
    """What is to be streamed, and on what."""

    show: Show  # with the songs alone that are asked for
    formats: dict[str, dict[str, StemFormat | None]]  # of all songs: the show's rate is theirs
    order: RunningOrder | None
    known: ShowSettings
    asked: Engine
    here: KnownMachine | None


def _stage(
    folder: Path,
    chosen: tuple[str, ...],
    known: ShowSettings,
    asked: Engine,
    here: KnownMachine | None,
    set_list: str | None,
) -> _Stage:
    from audit.folder.walk import walk
    from audit.pipeline.load import read_formats

    night = set_for(known, set_list) if set_list is not None else None
    show = walk(folder, songs=chosen, settings=known)
    order = laid_over(night, show, known) if night is not None else None
    if order is None and len(show.songs) != 1:
        held = f"{folder}: holds {len(show.songs)} songs"
        raise UsageError(f"{held}: name one with --song, or tonight's with --set")
    asked_of = show if order is None else songs_of(order, show)
    return _Stage(show=asked_of, formats=read_formats(show), order=order, known=known, asked=asked, here=here)


def _stream(stage: _Stage, song: Song, *, seconds: float | None, climb: bool) -> Rehearsal:
    """How one song went. Raises an AuditError where it could not be begun."""
    from audit.machine.classes import CLASSES
    from audit.machine.rehearsal import rehearse as run
    from audit.pipeline.load import show_rate_hz
    from audit.pipeline.machines import KnownMachine

    # Without a profile, any machine tells what the settings and the options say of the player.
    player = stage.here or KnownMachine(profile=next(iter(CLASSES.values())))
    setup = player.setup(show_rate_hz(stage.formats, stage.known), stage.known, stage.asked)
    lengths = [shape.duration_s for shape in stage.formats[song.name].values() if shape is not None]
    stop, finished = threading.Event(), threading.Event()
    made: list[Rehearsal] = []
    failures: list[AuditError] = []

    def work() -> None:
        try:
            made.append(
                run(
                    [stem.path for stem in song.stems], setup, climb=climb, tell=tell, stop=stop,
                    seconds=seconds or max(lengths, default=60.0),
                )
            )  # fmt: skip
        except AuditError as error:
            failures.append(error)
        finally:
            finished.set()

    with live_line() as tell:
        thread = threading.Thread(target=work, name="rehearsal")
        thread.start()
        _wait(finished, stop)
        thread.join()
    if failures:
        raise failures[0]
    if not made:
        raise UsageError(f"{song.name}: the rehearsal broke off: say how it came about")
    return made[0]


def _tell(stage: _Stage, song: Song, done: Rehearsal) -> None:
    """The outcome beside what the profile's forecast is."""
    from audit.machine.busy import busy_words
    from audit.pipeline.load import forecast_show
    from audit.report.rehearsal_words import print_rehearsal

    forecast = None
    if stage.here is not None:
        bare = replace(stage.here, rehearsed=())
        alone = replace(stage.show, songs=(song,))
        made = forecast_show(alone, stage.formats, [bare], stage.known, stage.asked, cures=False)
        forecast = made.forecasts[0][0]
    with reader_may_leave():
        print_rehearsal(song.name, done, forecast, open_console(sys.stdout))
    if (busy := busy_words(done.others)) is not None:
        say(
            f"Meanwhile {busy}: what came late may be their doing, and this outcome is a guess. "
            "Close all other programs, and rehearse again."
        )


def _night_words(order: RunningOrder, ends: Sequence[int]) -> str:
    """How many of the night's songs went well, and which are not there."""
    from audit.settings.mistakes import clean
    from audit.units import count

    good = ends.count(EXIT_CLEAN)
    words = f"Set list {clean(order.set_list.name)}: {good} of {count(len(ends), 'song')} went well."
    missing = [clean(name, most=200) for name in order.missing_names]
    return words + (f" Not streamed, as no song here is called so: {', '.join(missing)}." if missing else "")


def _wait(finished: threading.Event, stop: threading.Event) -> None:
    """Until it is done. Ctrl-C tells it to stop; what it saw until then still counts."""
    while not finished.is_set():
        try:
            finished.wait(0.2)  # joining the thread instead would take an interrupted one for a dead one
        except KeyboardInterrupt:
            stop.set()


def _seconds(minutes: str | None) -> float | None:
    if minutes is None:
        return None
    try:
        value = float(minutes)
    except ValueError:
        value = float("nan")
    if not 0 < value <= 24 * 60:
        raise UsageError(f"--minutes {minutes}: it takes a number above 0, up to 1440")
    return 60.0 * value


def _keep(profile_file: Path, song: str, done: Rehearsal, today: date) -> None:
    """The outcome in the profile, in the place of an earlier one of the same song."""
    from audit.machine.host import look
    from audit.machine.profile import read_profile
    from audit.machine.written import write_profile
    from audit.results.load import PastRehearsal

    profile, before = read_profile(profile_file)
    mains = look().on_mains  # None: no battery that anybody knows of
    past = PastRehearsal(
        song=song, clean=done.good, day=today.isoformat(), on_mains=True if mains is None else mains,
        frames=done.frames, headroom=done.headroom,
    )  # fmt: skip
    try:
        write_profile(profile_file, profile, (*(each for each in before if each.song != song), past))
    except OSError as error:
        words = f"{profile_file}: cannot be written: {error.strerror}: check who may write it"
        raise OutputError(words) from None
