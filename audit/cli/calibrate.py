"""`stemaudit calibrate`: fold the user's own load reading into a profile."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import Annotated

import typer

from audit.cli.engine import BufferOption, RateOption, RefillOption, read_engine
from audit.cli.screen import open_console, reader_may_leave
from audit.cli.show_settings import settings_for
from audit.cli.values import read_folder, read_songs
from audit.errors import OutputError, UsageError

METERS, CORES = ("peak", "average"), ("all", "one")


def calibrate(
    path: Annotated[str, typer.Argument(metavar="PATH", path_type=str, help="The show's folder.")],
    machine: Annotated[str, typer.Option("--machine", "-m", metavar="FILE", help="The machine's profile.")],
    song: Annotated[str, typer.Option("--song", metavar="NAME", help="The song that played.")],
    reading: Annotated[
        str, typer.Option("--reading", metavar="PERCENT", help="What the load meter showed, without the %.")
    ],
    meter: Annotated[
        str,
        typer.Option("--meter", metavar="[peak|average]", help="Whether the meter shows peaks or a mean."),
    ] = "peak",
    cores: Annotated[
        str,
        typer.Option("--cores", metavar="[one|all]", help="Whether 100 % is one core or the whole machine."),
    ] = "one",
    buffer: BufferOption = None,
    rate: RateOption = None,
    refill: RefillOption = None,
    settings: Annotated[
        str | None,
        typer.Option("--settings", metavar="FILE", help="The show's settings, instead of its own show.toml."),
    ] = None,
) -> None:
    """Correct a machine's profile by what your player's own load meter says while a song plays.

    One reading scales the machine's speed. A reading of more than five times the forecast is no slower
    machine: what lies above the forecast is then the player's own load, whatever plays, for each buffer as
    long as now. From three readings of songs that differ twofold on, speed and own load are told apart. All
    readings of a profile are fitted together by least squares, also those taken at another --buffer; what is
    left over of each is shown. Nonsense is refused, and the profile stays as it was.

    \b
    Examples:
      stemaudit calibrate show --machine foh.toml --song Opener --reading 35
      stemaudit calibrate show -m foh.toml --song Ballad --reading 1 --cores all

    \b
    Exit codes:
      0    the profile is corrected
      2    wrong arguments, or a reading that cannot be
    """
    percent = _percent(reading)
    meter = _one_of("--meter", meter, METERS)
    whole = _one_of("--cores", cores, CORES) == "all"
    folder = read_folder(path, "PATH: no folder is named; give the show's folder")
    chosen, asked = read_songs([song]), read_engine(buffer, rate, refill)
    from audit.machine.profile_files import profile_file

    file = profile_file(machine)
    if file is None:
        raise UsageError(f"--machine {machine}: there is no such profile: `stemaudit probe` writes one")
    from audit.folder.walk import walk
    from audit.load.calibrated import add_reading
    from audit.load.recalibrate import as_one_core
    from audit.machine.profile import read_profile
    from audit.machine.written import write_profile
    from audit.pipeline.load import load_of_song, read_formats, show_rate_hz
    from audit.pipeline.machines import UNSAID, KnownMachine

    known = settings_for(folder, settings)
    profile, rehearsed = read_profile(file)
    show = walk(folder, songs=chosen, settings=known)
    if len(show.songs) != 1:
        raise UsageError(f"--song {song}: several songs bear that name: give it in full")
    formats = read_formats(show)
    here = KnownMachine(profile=profile)
    show_rate = show_rate_hz(formats, known)
    setup, usual = (here.setup(show_rate, known, each) for each in (asked, UNSAID))
    load = load_of_song(show.songs[0], formats[show.songs[0].name], known)
    one_core = as_one_core(percent, whole_machine=whole, cores=round(profile.cores.value))
    made, correction = add_reading(profile, load, setup, one_core, meter=meter, usual=usual)
    try:
        write_profile(file, replace(made, machine_class=profile.machine_class), rehearsed)
    except OSError as error:
        raise OutputError(f"{file}: cannot be written: {error.strerror}: check who may write it") from None
    from audit.report.calibration_words import print_calibration

    with reader_may_leave():
        print_calibration(str(file), made.observed, correction, open_console(sys.stdout))


def _percent(typed: str) -> float:
    try:
        value = float(typed.strip().rstrip("%").replace(",", "."))
    except ValueError:
        value = float("nan")
    if not 0 < value <= 6400:
        raise UsageError(f"--reading {typed}: it takes a number of % above 0")
    return value


def _one_of(option: str, typed: str, known: tuple[str, ...]) -> str:
    word = typed.strip().lower()
    if word not in known:
        raise UsageError(f"{option} {typed}: it takes {' or '.join(known)}")
    return word
