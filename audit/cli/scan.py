"""`stemaudit scan`: audit a show or a song, report, answer with an exit code."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from audit.cli.choose import choose_rules
from audit.cli.clips import with_place_for_clips
from audit.cli.complete import complete_rules, complete_song
from audit.cli.json_file import check_json_target, write_json
from audit.cli.output_file import STDOUT, check_outside_songs, say_written
from audit.cli.reports import Reports
from audit.cli.screen import complain, interruptible, open_console, reader_may_leave
from audit.cli.values import (
    FAIL_ON_VALUES,
    FailOn,
    complete_fail_on,
    read_fail_on,
    read_folder,
    read_jobs,
    read_songs,
)
from audit.errors import EXIT_CLEAN, EXIT_FINDINGS, EXIT_INCOMPLETE, UsageError

if TYPE_CHECKING:
    from audit.findings import Severity, ShowAudit
    from audit.rules.rule import Rule
    from audit.seal.model import Seal


def scan(
    path: Annotated[
        str, typer.Argument(metavar="PATH", path_type=str, help="A show's folder, or one song's.")
    ],
    json: Annotated[
        str | None,
        typer.Option("--json", metavar="FILE", help="Also write everything as JSON; - for standard output."),
    ] = None,
    html: Annotated[
        str | None,
        typer.Option("--html", metavar="FILE", help="Also write one page to look at, send and print."),
    ] = None,
    with_audio: Annotated[
        bool,
        typer.Option("--with-audio", help="Put a few soft seconds around each fault into that page."),
    ] = False,
    rebounce: Annotated[
        str | None,
        typer.Option(
            "--rebounce", metavar="FILE", help="Also write what to ask for again, as .md, .txt or .csv."
        ),
    ] = None,
    csv: Annotated[
        str | None,
        typer.Option("--csv", metavar="DIR", help="Also write stems.csv, findings.csv and songs.csv there."),
    ] = None,
    jobs: Annotated[
        str | None,
        typer.Option(
            "--jobs",
            "-j",
            metavar="N",
            help="Processes at work (default: one a core, fewer for little work).",
        ),
    ] = None,
    fail_on: Annotated[
        str,
        typer.Option(
            "--fail-on",
            metavar=f"[{'|'.join(FAIL_ON_VALUES)}]",
            autocompletion=complete_fail_on,
            help="The least severity that makes the exit code 1.",
        ),
    ] = FailOn.ERROR.value,
    only: Annotated[
        list[str] | None,
        typer.Option(
            "--only",
            metavar="RULE",
            autocompletion=complete_rules,
            help="Ask only this rule; may be repeated, or a,b,c.",
        ),
    ] = None,
    skip: Annotated[
        list[str] | None,
        typer.Option(
            "--skip",
            metavar="RULE",
            autocompletion=complete_rules,
            help="Leave this rule out; may be repeated, or a,b,c.",
        ),
    ] = None,
    song: Annotated[
        list[str] | None,
        typer.Option(
            "--song", metavar="NAME", autocompletion=complete_song, help="Only this song; may be repeated."
        ),
    ] = None,
    no_cache: Annotated[
        bool, typer.Option("--no-cache", help="Hear every stem, and keep nothing for the next scan.")
    ] = False,
    rehash: Annotated[
        bool,
        typer.Option("--rehash", help="Believe no file's size and time: read all of them and compare."),
    ] = False,
    set_list: Annotated[
        str | None,
        typer.Option(
            "--set", metavar="NAME", help="The night's set list: its name in the settings, or a text file."
        ),
    ] = None,
    settings: Annotated[
        str | None,
        typer.Option("--settings", metavar="FILE", help="The show's settings, instead of its own show.toml."),
    ] = None,
    quiet: Annotated[
        bool,
        typer.Option("--quiet", "-q", help="For scripts: nothing if all is well, else only what counts."),
    ] = False,
    verbose: Annotated[
        bool, typer.Option("--verbose", "-v", help="Every place, every note, every file passed over.")
    ] = False,
) -> None:
    """Listen to every stem of a show and say what would go wrong on stage.

    Nothing in the folder is ever changed. What was heard is kept in the user's cache folder: the next scan
    hears only what has changed since, by size and time (`stemaudit cache` tells more). With --quiet the
    report is empty where the exit code is 0, and else holds the verdict, the faults at or above --fail-on
    and what could not be checked.

    \b
    Examples:
      stemaudit scan "Harbour Lights Tour"
      stemaudit scan "Harbour Lights Tour/Night Ferry" --fail-on warning
      stemaudit scan show --quiet --json report.json
      stemaudit scan show --html report.html --rebounce again.md
      stemaudit scan show --set tonight.txt

    \b
    Exit codes:
      0    every stem read, every question answered, no fault that counts
      1    faults at or above --fail-on
      2    wrong arguments, or mistakes in the settings
      3    something could not be checked, and no fault that counts
      130  interrupted
    """
    folder = read_folder(path, "PATH: no folder is named; give a show's folder, or . for the current one")
    rules = choose_rules(only or [], skip or [])
    threshold, processes, songs = read_fail_on(fail_on).threshold, read_jobs(jobs), read_songs(song or [])
    reports = Reports(html=html, with_audio=with_audio, rebounce=rebounce, csv=csv)
    if json is not None:
        check_json_target(json)
    for target in (json, *reports.targets):
        if target is not None and target != STDOUT:
            check_outside_songs(target, folder)
    reports.check()
    audit = listen(
        folder, jobs=processes, songs=songs, rules=rules, quiet=quiet, cache=not no_cache, rehash=rehash,
        settings_file=settings, set_list=set_list,
    )  # fmt: skip
    code = exit_code(audit, threshold)
    if json is not None:
        from audit.report.json_report import to_json

        asked = None if rules is None else tuple(rule.id for rule in rules)
        write_json(to_json(audit, asked_rules=asked, asked_songs=songs or None), json)
    restriction = _restriction(rules, songs)
    reports.write(audit, asked=restriction, threshold=threshold)
    show_report(
        audit,
        to_stderr=json == STDOUT,
        quiet=quiet,
        verbose=verbose,
        threshold=threshold,
        asked=restriction,
    )
    if not quiet:
        say_written(json, html, rebounce, csv, data_on_stdout=json == STDOUT)
    raise typer.Exit(code)


def listen(
    path: Path,
    *,
    jobs: int | None = None,
    songs: tuple[str, ...] = (),
    rules: tuple[Rule, ...] | None = None,
    quiet: bool = False,
    cache: bool = True,
    rehash: bool = False,
    settings_file: str | None = None,
    own_settings: bool = True,
    set_list: str | None = None,
    sealed: bool = True,
) -> ShowAudit:
    """The audit, with its progress on the terminal unless quiet.

    cache: take what has not changed from the last scan, and keep this one's results for the next. What came
    of that is said on standard error: reports are the same with and without. rehash: see LastScan.
    sealed: compare with the show's seal, where it has one.
    settings_file: instead of the show's own; own_settings False: not even those are read. set_list: its
    name, or a text file. Raises SettingsError
    and UsageError before anything is heard.
    """
    from audit.cli.show_settings import set_for, settings_for
    from audit.settings.model import NO_SETTINGS

    settings = settings_for(path, settings_file) if own_settings or settings_file else NO_SETTINGS
    chosen = set_for(settings, set_list)
    with interruptible("nothing was written."):
        from audit.cli.progress import watching
        from audit.cli.recalled import remembering
        from audit.pipeline.scan import scan_show

        with remembering(cache, rehash=rehash, quiet=quiet) as last_scan, watching(quiet=quiet) as watcher:
            audit = scan_show(
                path, jobs=jobs, songs=songs, rules=rules, watcher=watcher, last_scan=last_scan,
                settings=settings, set_list=chosen, today=date.today(),
                seal=_seal_of(path) if sealed else None,
            )  # fmt: skip
    return with_place_for_clips(audit)


def _seal_of(folder: Path) -> Seal | None:
    """The seal in the show's folder; None where there is none, or after a word where it cannot be read."""
    from audit.seal.file import NAME, read_seal

    place = folder / NAME
    try:
        return read_seal(place) if place.is_file() else None
    except UsageError as error:
        complain(error)
        return None


def exit_code(audit: ShowAudit, threshold: Severity | None) -> int:
    """1: faults that count, also when the audit is incomplete; 3: incomplete and none; 0: neither."""
    if audit.exceeds(threshold):
        return EXIT_FINDINGS
    return EXIT_INCOMPLETE if audit.incomplete else EXIT_CLEAN


def show_report(
    audit: ShowAudit,
    *,
    to_stderr: bool = False,
    quiet: bool = False,
    verbose: bool = False,
    threshold: Severity | None,
    asked: str | None = None,
) -> None:
    """The report to a person's eyes; to_stderr: standard output already holds the JSON."""
    from audit.report.terminal import print_brief, print_report

    stream = sys.stderr if to_stderr else sys.stdout
    console = open_console(stream)
    with reader_may_leave(stream):
        if not quiet:
            print_report(audit, console, verbose=verbose, asked=asked, threshold=threshold)
        elif exit_code(audit, threshold) != EXIT_CLEAN and not to_stderr:
            print_brief(audit, console, threshold=threshold, asked=asked)


def _restriction(rules: tuple[Rule, ...] | None, songs: tuple[str, ...]) -> str | None:
    """What the scan left out, in words for the report: `3 of 45 rules`, `1 song`; None for nothing."""
    from audit.rules.catalogue import RULES

    parts = [f"{len(rules)} of {len(RULES)} rules"] if rules is not None else []
    parts += ["the songs asked for"] if songs else []
    return ", ".join(parts) or None
