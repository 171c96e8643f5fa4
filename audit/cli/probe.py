"""`stemaudit probe`: measure this machine and write its profile."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from audit.cli.engine import BufferOption, RefillOption, read_engine
from audit.cli.live import live_line
from audit.cli.output_file import say_written
from audit.cli.screen import interruptible, say
from audit.errors import OutputError, UsageError

CLOSE = "Close all other programs, and probe again."


def probe(
    disk: Annotated[
        str,
        typer.Option("--disk", metavar="DIR", help="A folder on the show's drive; . is this one."),
    ] = ".",
    out: Annotated[
        str, typer.Option("--out", metavar="FILE", help="Where the profile is written.")
    ] = "machine.toml",
    name: Annotated[
        str | None,
        typer.Option("--name", metavar="NAME", help="What you call this machine (default: the file's name)."),
    ] = None,
    buffer: BufferOption = None,
    refill: RefillOption = None,
    full: Annotated[
        bool,
        typer.Option("--full/--quick", help="--full: ten minutes more, how far it slows down when warm."),
    ] = False,
    on_battery: Annotated[
        bool, typer.Option("--on-battery", help="Measure although it is not plugged in.")
    ] = False,
) -> None:
    """Measure this machine: processor, disk, memory, how late it wakes up.

    Close what will not run in the show, plug it in, and put --disk on the drive with the stems. About 250 MB
    are written there and taken away again; never where less than four times that is free.

    \b
    Examples:
      stemaudit probe --disk "D:/Harbour Lights Tour" --out foh.toml
      stemaudit probe --full --out foh.toml

    \b
    Exit codes:
      0    measured
      2    no room, no such folder, or on battery
      130  interrupted; what was written is gone
    """
    folder, target = Path(disk), Path(out)
    if not disk.strip() or not folder.is_dir():
        raise UsageError(f"--disk {disk}: there is no such folder: name one on the show's drive")
    if not out.strip() or target.is_dir() or not target.absolute().parent.is_dir():
        raise UsageError(f"--out {out}: no file can be written there: give a file name")
    _refuse_foreign(target)
    from audit.load.demand import EngineSetup
    from audit.machine import host
    from audit.machine.busy import KEY, busy_words, share_over
    from audit.units import count

    if host.look().on_mains is False and not on_battery:
        raise UsageError(
            "this machine runs on battery, where it is slower than on stage: plug it in, or say --on-battery"
        )
    busy = busy_words(share_over(1.0))
    if busy is not None:
        say(
            f"{busy.capitalize()} just now: what is measured beside them comes out too slow, and "
            f"`load` calls it a guess. {CLOSE}",
            error=True,
        )
    asked = read_engine(buffer, None, refill)
    setup = EngineSetup(frames=asked.frames or 256, refill_s=asked.refill_s or 0.5)
    with interruptible("the files it wrote are gone, and there is no profile."):
        from audit.machine.probe import probe as measure
        from audit.machine.written import write_profile

        with live_line() as tell:
            made = measure(
                folder, name=name or target.stem, day=date.today(), full=full, setup=setup, tell=tell
            )
        try:
            write_profile(target, made)
        except OSError as error:
            raise OutputError(f"{out}: cannot be written: {error.strerror}: choose another folder") from None
    refill_ms = 1e3 * (made.latency.value + setup.refill_s * 288_000 / made.transfer.value)
    say_written(out)
    say(
        f"{count(round(made.cores.value), 'core')} at {made.speed.value:.2f} times the speed that forecasts "
        f"begin from; {made.memory_available.value / 1e9:.1f} GB free; a refill takes {refill_ms:.1f} ms; "
        f"threads wake up to {1e3 * made.lateness.value:.1f} ms late."
    )
    if KEY in made.host and busy is None:  # else it is said already
        say(f"Meanwhile {made.host[KEY]}: these figures are too slow, and `load` calls them a guess. {CLOSE}")
    if made.warm_suspect:
        say("The disk answered out of memory, so nothing sure is known of it: probe again after a restart.")
    if not full:
        say("How far it slows down when warm was not measured: --full does, in ten minutes more.")


def _refuse_foreign(target: Path) -> None:
    """A slip of the keyboard must not replace a stem, or the show's settings."""
    if not target.exists():
        return
    from audit.errors import SettingsError
    from audit.machine.profile import read_profile

    try:
        read_profile(target)
    except SettingsError:
        raise UsageError(f"--out {target}: exists and is no machine's profile: choose another name") from None
