"""`stemaudit rehearse`: stream a song's real files on this machine under a show's deadlines."""

from __future__ import annotations

import sys
import threading
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from audit.cli.complete import complete_song
from audit.cli.engine import BufferOption, RateOption, RefillOption, read_engine
from audit.cli.live import live_line
from audit.cli.screen import open_console, reader_may_leave, say
from audit.cli.show_settings import settings_for
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
    from audit.pipeline.machines import KnownMachine
    from audit.results.load import SongForecast
    from audit.results.rehearsal import Rehearsal
    from audit.settings.model import Engine, ShowSettings

SPEEDS = ("1", "max")


def rehearse(
    path: Annotated[
        str, typer.Argument(metavar="SONG", path_type=str, help="A song's folder, or a show's with --song.")
    ],
    song: Annotated[
        str | None, typer.Option("--song", metavar="NAME", autocompletion=complete_song, help="Which song.")
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
        typer.Option("--minutes", metavar="M", help="How long (default: the song's length)."),
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
    times. Nothing is heard: no sound card is opened, no file is written. Ctrl-C stops it and tells what was
    seen so far.

    \b
    Examples:
      stemaudit rehearse "Harbour Lights Tour/Night Ferry"
      stemaudit rehearse show --song "Night Ferry" --speed max --machine foh.toml
      stemaudit rehearse show --song "Night Ferry" --machine foh.toml --record

    \b
    Exit codes:
      0    clean
      1    it drops out: refills or buffers came late
      2    wrong arguments, or mistakes in the settings or the profile
      3    clean, but stems could not be streamed
      130  interrupted
    """
    if speed.strip().lower() not in SPEEDS:
        raise UsageError(f"--speed {speed}: it takes 1 or max")
    if record and machine is None:
        raise UsageError("--record: into which profile? Name it with --machine")
    folder = read_folder(path, "SONG: no folder is named; give a song's folder")
    asked, chosen = read_engine(buffer, rate, refill), read_songs([song] if song is not None else [])
    length_s = _seconds(minutes)
    from audit.machine.busy import busy_words
    from audit.machine.profile_files import profile_file
    from audit.pipeline.machines import machine_named

    known = settings_for(folder, settings)
    today = date.today()
    here = machine_named(machine, known, today) if machine is not None else None
    file = profile_file(machine or "")
    if record and file is None:
        raise UsageError(f"--record: {machine} is no profile's file: `stemaudit probe` writes one")
    song_name, done, forecast = _stream(
        folder, chosen, known, asked, here, seconds=length_s, climb=speed.strip().lower() == "max"
    )
    from audit.report.rehearsal_words import print_rehearsal

    with reader_may_leave():
        print_rehearsal(song_name, done, forecast, open_console(sys.stdout))
    if (busy := busy_words(done.others)) is not None:
        say(
            f"Meanwhile {busy}: what came late may be their doing, and this outcome is a guess. "
            "Close all other programs, and rehearse again."
        )
    if record and file is not None and not done.stopped:
        _keep(file, song_name, done, today)
        say(
            f"Kept in {file}: load and scan heed it. The next --record of this song replaces it; to undo it, "
            "delete its [[rehearsed]] lines in that file."
        )
    if done.stopped:
        raise typer.Exit(EXIT_INTERRUPTED)
    if not done.good:
        raise typer.Exit(EXIT_FINDINGS)
    raise typer.Exit(EXIT_INCOMPLETE if done.failed else EXIT_CLEAN)


def _stream(
    folder: Path,
    chosen: tuple[str, ...],
    known: ShowSettings,
    asked: Engine,
    here: KnownMachine | None,
    *,
    seconds: float | None,
    climb: bool,
) -> tuple[str, Rehearsal, SongForecast | None]:
    """The song's name, how it went, and what the profile's forecast is."""
    from audit.folder.walk import walk
    from audit.machine.classes import CLASSES
    from audit.machine.rehearsal import rehearse as run
    from audit.pipeline.load import forecast_show, read_formats, show_rate_hz
    from audit.pipeline.machines import KnownMachine

    show = walk(folder, songs=chosen, settings=known)
    if len(show.songs) != 1:
        raise UsageError(f"{folder}: holds {len(show.songs)} songs: name one with --song")
    (song,) = show.songs
    formats = read_formats(show)
    # Without a profile, any machine tells what the settings and the options say of the player.
    player = here or KnownMachine(profile=next(iter(CLASSES.values())))
    setup = player.setup(show_rate_hz(formats, known), known, asked)
    lengths = [shape.duration_s for shape in formats[song.name].values() if shape is not None]
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
    forecast = None
    if here is not None:
        bare = replace(here, rehearsed=())
        forecast = forecast_show(show, formats, [bare], known, asked, cures=False).forecasts[0][0]
    return song.name, made[0], forecast


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
