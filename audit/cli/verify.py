"""`stemaudit verify`: a show against its seal."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from audit.cli.complete import complete_song
from audit.cli.json_file import check_json_target, write_json
from audit.cli.output_file import STDOUT, check_outside_songs, say_written
from audit.cli.screen import interruptible, open_console, reader_may_leave
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
    from audit.facts import Show
    from audit.findings import ShowAudit
    from audit.pipeline.sealed.part_of_show import PartOfShow
    from audit.results import SealCheck
    from audit.seal.model import Seal
    from audit.settings.model import ShowSettings


def verify(
    path: Annotated[
        str, typer.Argument(metavar="SHOW", path_type=str, help="A show's folder, or one song's.")
    ],
    seal: Annotated[
        str | None,
        typer.Option(
            "--seal",
            metavar="FILE",
            help="The seal (default: show.seal in the show's folder, or above a song's).",
        ),
    ] = None,
    quick: Annotated[
        bool, typer.Option("--quick", help="Read only files whose size or time has changed.")
    ] = False,
    json: Annotated[
        str | None,
        typer.Option("--json", metavar="FILE", help="Also write everything as JSON; - for standard output."),
    ] = None,
    jobs: Annotated[
        str | None,
        typer.Option("--jobs", "-j", metavar="N", help="Files read at a time (default: one a core)."),
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
    song: Annotated[
        list[str] | None,
        typer.Option(
            "--song", metavar="NAME", autocompletion=complete_song, help="Only this song; may be repeated."
        ),
    ] = None,
    settings: Annotated[
        str | None, typer.Option("--settings", metavar="FILE", help="Settings instead of the show's own.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Nothing if all is well.")] = False,
) -> None:
    """Check a show, a spare machine or a drive against the seal: is every stem there, and as it was?

    The seal is what `stemaudit seal` kept of the good copy. Every file is read and compared. What changed is
    explained: louder, moved, longer, edited; only metadata. A file with the sealed size and time and other
    content has decayed: that disk is not to be trusted. --quick reads only files whose size or time differs,
    and says how many it did not read. Of a song's folder only that song is checked, against the seal of its
    show (or --seal). A renamed folder or stem is known by its content.

    \b
    Examples:
      stemaudit verify "Harbour Lights Tour"
      stemaudit verify "Harbour Lights Tour/Night Ferry"
      stemaudit verify /Volumes/SPARE/show --seal ~/seals/tuesday.seal

    \b
    Exit codes:
      0    as sealed, but for notes
      1    differences at or above --fail-on
      2    wrong arguments, no seal, or a damaged one
      3    some stems could not be read, and no difference that counts
      130  interrupted
    """
    import os

    folder = read_folder(path, "SHOW: no folder is named; give a show's folder, or . for the current one")
    threshold, workers = read_fail_on(fail_on).threshold, read_jobs(jobs) or os.cpu_count() or 1
    songs = read_songs(song or [])
    if json is not None:
        check_json_target(json)
        if json != STDOUT:
            check_outside_songs(json, folder)
    asked = _asked(path, folder, seal, songs)
    from audit.cli.show_settings import settings_for
    from audit.seal.file import read_seal

    sealed = read_seal(asked.seal)
    in_force = settings_for(asked.folder, settings)
    with interruptible("nothing was written."):
        from audit.cli.progress import watching
        from audit.folder.walk import walk
        from audit.pipeline.sealed.against_seal import judge_seal, verify_show

        show = walk(asked.folder, settings=in_force)
        part = _part(asked, show, sealed, in_force)
        show = part.show if part is not None else show
        with watching(quiet=quiet) as watcher:
            watcher.begin(len(show.songs), sum(stem.size_bytes for song in show.songs for stem in song.stems))
            evidence = verify_show(
                show, sealed, quick=quick, jobs=workers, told=watcher.stem_progress, part=part
            )
            watcher.end()
        audit = judge_seal(evidence, in_force)
    check = evidence.seal
    assert check is not None
    failed, unread = audit.exceeds(threshold), bool(check.could_not_read or audit.unread)
    code = EXIT_FINDINGS if failed else EXIT_INCOMPLETE if unread else EXIT_CLEAN
    _report(audit, check, code, json=json, quick=quick, quiet=quiet)
    raise typer.Exit(code)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What is to be checked, and against what."""

    path: str  # as it was typed
    given: Path
    folder: Path  # the show's; above `given` where that is one of its songs
    seal: Path
    seal_is_named: bool
    songs: tuple[str, ...]  # none: all

    @property
    def is_a_song(self) -> bool:
        return self.folder != self.given


def _asked(path: str, folder: Path, seal: str | None, songs: tuple[str, ...]) -> _Asked:
    """Raises UsageError where the folder is not there, or no seal can be found for it."""
    from audit.folder.near import nearest_folder
    from audit.folder.shown import shown
    from audit.seal.file import NAME

    if seal is not None and not seal.strip():
        raise UsageError("--seal: no file is named: give a seal, or leave --seal out")
    if not folder.exists():
        guess = nearest_folder(folder) or "is the drive connected, the name right?"
        raise UsageError(f"{shown(path)}: there is no such folder; {guess}")
    above = _seal_above(folder) if seal is None else None
    of_show = above or folder
    place = Path(seal) if seal is not None else of_show / NAME
    if seal is None and of_show.is_dir() and not place.exists():
        _say_where_else(of_show)
    return _Asked(
        path=path, given=folder, folder=of_show, seal=place, seal_is_named=seal is not None, songs=songs
    )


def _part(asked: _Asked, show: Show, sealed: Seal, in_force: ShowSettings) -> PartOfShow | None:
    """The songs that are checked; None for the whole show. Raises UsageError where a show's seal is held
    against something else than the show."""
    from audit.pipeline.sealed.levels import check_level
    from audit.pipeline.sealed.part_of_show import part_at, part_given, part_named
    from audit.pipeline.sealed.show_copies import copies_of_folder, copies_of_seal

    given = None
    if asked.seal_is_named and not asked.songs:
        given = part_given(show, sealed, asked.folder.absolute())
    if given is not None:
        return given
    places = (asked.seal, asked.folder)
    check_level(copies_of_seal(sealed), copies_of_folder(show), places, ("the seal", "the folder"))
    if asked.songs:
        return part_named(show, sealed, asked.songs, in_force)
    if not asked.is_a_song:
        return None
    part = part_at(show, sealed, asked.given, in_force)
    if part is None:
        raise UsageError(f"{asked.path}: is no song of the show above it, which has a seal: verify that")
    return part


def _report(
    audit: ShowAudit, check: SealCheck, code: int, *, json: str | None, quick: bool, quiet: bool
) -> None:
    from audit.report.seal_report import check_json, print_check

    if json is not None:
        write_json(check_json(audit, check, quick=quick), json)
    stream = sys.stderr if json == STDOUT else sys.stdout
    with reader_may_leave(stream):
        if not quiet or (code != EXIT_CLEAN and json != STDOUT):
            print_check(audit, check, open_console(stream), quick=quick)
    if not quiet:
        say_written(json)


def _seal_above(folder: Path) -> Path | None:
    """The show's folder that a song lies in, where that has a seal and the song has none."""
    from audit.cli.show_settings import HIGHEST
    from audit.seal.file import NAME

    full = folder.absolute()
    if not full.is_dir() or (full / NAME).exists():
        return None
    return next((above for above in full.parents[:HIGHEST] if (above / NAME).is_file()), None)


def _say_where_else(folder: Path) -> None:
    """Raises UsageError where a seal lies one folder down."""
    from audit.seal.file import NAME
    from audit.seal.names import shown

    inside = sorted(folder.glob(f"*/{NAME}"))
    if inside:
        more = f" (and in {len(inside) - 1} more)" if len(inside) > 1 else ""
        where = f"{shown(str(inside[0].parent))}{more}"
        raise UsageError(f"{shown(str(folder))}: there is no seal, but there is one in {where}: verify that")
