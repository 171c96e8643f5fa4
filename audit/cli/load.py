"""`stemaudit load`: can these machines carry the show?"""

from __future__ import annotations

import sys
from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from audit.cli.complete import complete_machine, complete_song
from audit.cli.engine import BufferOption, RateOption, RefillOption, read_engine
from audit.cli.json_file import check_json_target, write_json
from audit.cli.output_file import STDOUT, check_outside_songs, say_written
from audit.cli.screen import interruptible, open_console, reader_may_leave
from audit.cli.show_settings import laid_over, set_for, settings_for, songs_of
from audit.cli.values import read_folder, read_songs
from audit.errors import EXIT_CLEAN, EXIT_FINDINGS, EXIT_INCOMPLETE, UsageError

if TYPE_CHECKING:
    from audit.pipeline.load import ShowForecast
    from audit.settings.order import RunningOrder


def load(
    path: Annotated[
        str, typer.Argument(metavar="PATH", path_type=str, help="A show's folder, or one song's.")
    ],
    machine: Annotated[
        list[str] | None,
        typer.Option(
            "--machine",
            "-m",
            metavar="FILE|CLASS",
            autocompletion=complete_machine,
            help="A profile that probe wrote, a built-in class, or a name in show.toml; may be repeated.",
        ),
    ] = None,
    buffer: BufferOption = None,
    rate: RateOption = None,
    refill: RefillOption = None,
    song: Annotated[
        list[str] | None,
        typer.Option(
            "--song", metavar="NAME", autocompletion=complete_song, help="Only this song; may be repeated."
        ),
    ] = None,
    set_list: Annotated[
        str | None,
        typer.Option(
            "--set",
            metavar="NAME",
            help="Only the songs of this set list: its name in the settings, or a text file.",
        ),
    ] = None,
    settings: Annotated[
        str | None,
        typer.Option("--settings", metavar="FILE", help="The show's settings, instead of its own show.toml."),
    ] = None,
    json: Annotated[
        str | None,
        typer.Option("--json", metavar="FILE", help="Also write everything as JSON; - for standard output."),
    ] = None,
    verbose: Annotated[
        bool, typer.Option("--verbose", "-v", help="Bars for every song, not only the doubtful ones.")
    ] = False,
) -> None:
    """Forecast whether a machine plays every song of a show: which is the heaviest, at which buffer, with how
    much room.

    Only headers and sizes are read. Without --machine, all machines in show.toml are asked, or all built-in
    classes where it names none.

    \b
    Examples:
      stemaudit load "Harbour Lights Tour" --machine laptop-dual-disk
      stemaudit probe --out foh.toml && stemaudit load show --machine foh.toml
      stemaudit load show --machine laptop-quad-sata-ssd+usb3-disk --buffer 512
      stemaudit load show --machine foh.toml --set tonight.txt

    \b
    Exit codes:
      0    every song fits, or is tight or doubtful (only the best case is enough)
      1    a song is over a machine's budget, or it dropped out in rehearsal
      2    wrong arguments, or mistakes in the settings or a profile
      3    stems or songs could not be counted, and no song is over
      130  interrupted
    """
    folder = read_folder(path, "PATH: no folder is named; give a show's folder, or . for the current one")
    asked, songs = read_engine(buffer, rate, refill), read_songs(song or [])
    if songs and set_list is not None:
        raise UsageError("--set and --song: a set list names its songs: give one of the two")
    if json is not None:
        check_json_target(json)
        check_outside_songs(json, folder)
    with interruptible("nothing was written."):
        import audit
        from audit.folder.walk import walk
        from audit.machine.classes import CLASSES
        from audit.pipeline.load import forecast_show, read_formats
        from audit.pipeline.machines import machine_named, machines_in

        known = settings_for(folder, settings)
        night = set_for(known, set_list) if set_list is not None else None
        today = date.today()
        machines = tuple(machine_named(each, known, today) for each in machine or [])
        machines = machines or machines_in(known, today)
        machines = machines or tuple(machine_named(name, known, today) for name in CLASSES)
        show = walk(folder, songs=songs, settings=known)
        order = laid_over(night, show, known) if night is not None else None
        asked_of = show if order is None else songs_of(order, show)
        # The show's rate is that of all its songs.
        made = forecast_show(asked_of, read_formats(show), machines, known, asked)
    if not made.songs:
        raise UsageError(f"{path}: no stem in it could be read: `stemaudit scan` tells why")
    if json is not None:
        from audit.report.load_json import load_json

        document = load_json(made.forecasts, show=show.name, version=audit.__version__, order=order)
        write_json(document, json)
    from audit.report.load_table import print_load

    stream = sys.stderr if json == STDOUT else sys.stdout
    with reader_may_leave(stream):
        print_load(made.forecasts, open_console(stream), show=path, verbose=verbose, order=order)
    say_written(json)
    raise typer.Exit(_exit_code(made, order))


def _exit_code(made: ShowForecast, order: RunningOrder | None) -> int:
    from audit.results.load import Fit

    if any(forecast.fit is Fit.OVER for forecast in made.every()):
        return EXIT_FINDINGS
    lacking = order is not None and order.missing
    return EXIT_INCOMPLETE if lacking or any(f.unread for f in made.every()) else EXIT_CLEAN
