"""The `stemaudit` command and its subcommands."""

from __future__ import annotations

from typing import Annotated

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
app.command(cls=PathCommand, short_help="Audit a show or a song.")(scan)
app.command(cls=PathCommand, short_help="Write the night's songs as one page for the rack.")(sheet)
app.command(cls=PathCommand, short_help="Write a soft clip around a place in a stem.")(hear)
app.command(cls=PathCommand, short_help="Write a show's settings from what is heard.")(settings)
app.command(short_help="Say what a fault means and how to mend it.")(explain)
app.command(short_help="List every rule.")(rules)
app.command(cls=PathCommand, short_help="Forecast whether a machine carries the show.")(load)
app.command(cls=PathCommand, short_help="Keep a show's good state to compare with.")(seal)
app.command(cls=PathCommand, short_help="Check a show, a spare or a drive against its seal.")(verify)
app.command(cls=PathCommand, short_help="Audit bounces as they land.")(watch)
app.command(cls=PathCommand, short_help="Compare two copies of a show, or two seals.")(compare)
app.command(cls=PathCommand, short_help="Measure this machine.")(probe)
app.command(cls=PathCommand, short_help="Stream a song on this machine, and count what comes late.")(rehearse)
app.command(cls=PathCommand, short_help="Correct a machine's profile by your own reading.")(calibrate)
app.command(short_help="Tell what earlier scans left to build on.")(cache)
app.command(cls=PathCommand, short_help="Write an invented show with faults, and scan it.")(demo)


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
