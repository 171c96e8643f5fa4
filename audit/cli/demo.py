"""`stemaudit demo`: write the invented show with its planted faults, and scan it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from audit.cli.scan import listen, show_report
from audit.cli.screen import interruptible, say
from audit.cli.values import FailOn, read_folder


def demo(
    into: Annotated[
        str, typer.Option("--into", metavar="DIR", path_type=str, help="Where the demo show is written.")
    ] = "stemaudit-demo",
) -> None:
    """Write an invented touring show, some of it faulty on purpose, and scan it.

    The show goes into the folder stemaudit-demo here, unless --into names another. A later run renews the
    files it wrote; a folder with anything else in it is left alone.

    \b
    Examples:
      stemaudit demo
      stemaudit demo --into /tmp/demo

    \b
    Exit codes:
      0    written and scanned (its faults are planted: they do not count)
      2    the folder cannot be used
      130  interrupted
    """
    folder = read_folder(into, "--into: no folder is named; give one, or leave --into out")
    with interruptible("the demo was not written."):
        from audit.demo.show import write_demo

        show = write_demo(folder, on_song=_say_song if sys.stderr.isatty() else None)
    say(f"The demo show lies in {show}; some of its songs are faulty on purpose.\n")
    show_report(listen(show), threshold=FailOn.ERROR.threshold)
    say(f"\nScan it yourself: stemaudit scan {_quoted(show)}")


def _say_song(song: str, number: int, songs: int) -> None:
    say(f"Writing song {number} of {songs}: {song}", error=True)


def _quoted(path: Path) -> str:
    text = str(path)
    return f'"{text}"' if " " in text else text
