"""The `stemaudit` command and its subcommands."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, get_type_hints

import typer

import audit
from audit.cli.cache import cache
from audit.cli.calibrate import calibrate
from audit.cli.compare import compare
from audit.cli.demo import demo
from audit.cli.explain import explain
from audit.cli.hear import hear
from audit.cli.load import load
from audit.cli.probe import probe
from audit.cli.rehearse import rehearse
from audit.cli.rules import rules
from audit.cli.scan import scan
from audit.cli.screen import say
from audit.cli.seal import seal
from audit.cli.settings import settings
from audit.cli.sheet import sheet
from audit.cli.unquoted import PathCommand
from audit.cli.verify import verify
from audit.cli.watch import watch

app = typer.Typer(
    name="stemaudit",
    rich_markup_mode=None,  # plain help: any terminal, any width, no heavy import
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _add(command: Callable[..., None], short_help: str, *, takes_path: bool = True) -> None:
    # typer reads a command's annotations six times, and would make types of their texts each time.
    command.__annotations__ = get_type_hints(command, include_extras=True)
    app.command(cls=PathCommand if takes_path else None, short_help=short_help)(command)


_add(scan, "Audit a show or a song.")
_add(sheet, "Write the night's songs as one page for the rack.")
_add(hear, "Write a soft clip around a place in a stem.")
_add(settings, "Write a show's settings from what is heard.")
_add(explain, "Say what a fault means and how to mend it.", takes_path=False)
_add(rules, "List every rule.", takes_path=False)
_add(load, "Forecast whether a machine carries the show.")
_add(seal, "Keep a show's good state to compare with.")
_add(verify, "Check a show, a spare or a drive against its seal.")
_add(watch, "Audit bounces as they land.")
_add(compare, "Compare two copies of a show, or two seals.")
_add(probe, "Measure this machine.")
_add(rehearse, "Stream a song on this machine, and count what comes late.")
_add(calibrate, "Correct a machine's profile by your own reading.")
_add(cache, "Tell what earlier scans left to build on.", takes_path=False)
_add(demo, "Write an invented show with faults, and scan it.")


def _say_version(wanted: bool) -> None:
    if wanted:
        say(f"stemaudit {audit.__version__}")
        raise typer.Exit


@app.callback()
def stemaudit(
    version: Annotated[
        bool, typer.Option("--version", callback=_say_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    """Is every song of this show whole, right and safe to play tonight?

    stemaudit listens to a show's folder, one folder of stems a song, and says from the files alone what would
    go wrong on stage, where, and how to mend it.

    \b
    Begin with:
      stemaudit demo              write and scan an invented show
      stemaudit scan SHOW         scan your own
      stemaudit hear STEM --at T  write a soft clip of a place, to hear it
      stemaudit explain RULE      say what a fault means
    """
