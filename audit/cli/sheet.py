"""`stemaudit sheet`: the night's songs as one page to tape on the rack."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from audit.cli.output_file import (
    begins_with,
    check_outside_songs,
    check_page,
    check_target,
    say_written,
    write_output,
)
from audit.cli.scan import listen
from audit.cli.screen import open_console, reader_may_leave
from audit.cli.values import read_folder
from audit.errors import UsageError
from audit.folder.shown import shown

PAPERS = ("a4", "letter")
BEGINS = {
    "--pdf": "%PDF-", "--html": "<!DOCTYPE html>\n<!-- a sheet of stemaudit -->", "--csv": "order,song,",
}  # fmt: skip


def sheet(
    path: Annotated[str, typer.Argument(metavar="SHOW", path_type=str, help="A show's folder.")],
    set_name: Annotated[
        str | None,
        typer.Option("--set", metavar="NAME", help="The set list: a name in show.toml, or a text file."),
    ] = None,
    pdf: Annotated[str | None, typer.Option("--pdf", metavar="FILE", help="Write it as a PDF page.")] = None,
    html: Annotated[
        str | None, typer.Option("--html", metavar="FILE", help="Write it as an HTML page.")
    ] = None,
    csv: Annotated[str | None, typer.Option("--csv", metavar="FILE", help="Write it as a table.")] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="[a4|letter]", help="The PDF's paper.")] = "a4",
    settings: Annotated[
        str | None, typer.Option("--settings", metavar="FILE", help="Settings instead of the show's own.")
    ] = None,
    no_cache: Annotated[
        bool, typer.Option("--no-cache", help="Hear every stem, and keep nothing for the next scan.")
    ] = False,
) -> None:
    """Write the night's songs as one page: order, length, tempo, count-in, timecode, total, warnings.

    What is not known yet of the show is heard first, as by scan. Without a set list the songs stand in the
    order of the folder. Without --pdf, --html or --csv the sheet comes to the terminal.

    \b
    Examples:
      stemaudit sheet "Harbour Lights Tour" --set "Night 1" --pdf tonight.pdf
      stemaudit sheet "Harbour Lights Tour" --set tonight.txt

    \b
    Exit codes:
      0    written
      2    wrong arguments, or mistakes in the settings
      130  interrupted
    """
    folder = read_folder(path, "SHOW: no folder is named; give a show's folder, or . for the current one")
    if paper.lower() not in PAPERS:
        raise UsageError(f"--paper {shown(paper)}: there are a4 and letter")
    targets = {"--pdf": pdf, "--html": html, "--csv": csv}
    for option, target in targets.items():
        if target is not None:
            ours = begins_with(BEGINS[option])
            if option == "--html":
                check_page(target, ours, "sheet of stemaudit")
            else:
                check_target(target, option, ours, "sheet of stemaudit")
            check_outside_songs(target, folder)
    audit = listen(folder, cache=not no_cache, settings_file=settings, set_list=set_name)

    from audit.cli.day import day_words, midnight, today
    from audit.report.sheet.rows import crew_sheet
    from audit.report.verdict import night_answer

    day = today()
    made = crew_sheet(audit, answer=night_answer(audit), made=day_words(day))
    if pdf is not None:
        from audit.report.sheet.pdf import sheet_pdf

        write_output(sheet_pdf(made, midnight(day), "letter" if paper.lower() == "letter" else "a4"), pdf)
    if html is not None:
        from audit.report.sheet.text import sheet_html

        write_output(sheet_html(made).encode("utf-8"), html)
    if csv is not None:
        from audit.report.sheet.text import sheet_csv

        write_output(sheet_csv(made).encode("utf-8"), csv)
    say_written(*targets.values())
    if not any(targets.values()):
        from audit.report.sheet.text import print_sheet

        with reader_may_leave():
            print_sheet(made, open_console(sys.stdout))
