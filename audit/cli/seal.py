"""`stemaudit seal`: the state of a show that was found good, to be compared with later."""

from __future__ import annotations

from datetime import datetime, timezone
from pathlib import Path
from typing import Annotated

import typer

from audit.cli.output_file import check_outside_songs
from audit.cli.screen import interruptible, say
from audit.cli.values import read_folder, read_jobs
from audit.errors import EXIT_CLEAN, EXIT_INCOMPLETE, OutputError


def seal(
    path: Annotated[
        str, typer.Argument(metavar="SHOW", path_type=str, help="A show's folder, or one song's.")
    ],
    out: Annotated[
        str | None,
        typer.Option("--out", "-o", metavar="FILE", help="Write it there (default: SHOW/show.seal)."),
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
    settings: Annotated[
        str | None, typer.Option("--settings", metavar="FILE", help="Settings instead of the show's own.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Say nothing but errors.")] = False,
) -> None:
    """Scan a show, and keep its state: `stemaudit verify` tells later what has changed.

    The seal holds hashes, formats, measures and a sketch of every stem, and the audit's verdicts; no audio.
    Every file is read in full. Seal what was rehearsed; keep copies of the seal on the spare machine and on
    the drive in the bag. A show with faults is sealed too, and the seal says so.

    \b
    Examples:
      stemaudit seal "Harbour Lights Tour"
      stemaudit seal "Harbour Lights Tour" --out ~/seals/tuesday.seal

    \b
    Exit codes:
      0    sealed
      2    wrong arguments, or a file changed meanwhile
      3    sealed, but some stems could not be read
      130  interrupted: no seal was written, one that was there is as it was
    """
    import os

    folder = read_folder(path, "SHOW: no folder is named; give a show's folder, or . for the current one")
    target = _target(folder, out)
    if out is not None:
        check_outside_songs(out, folder)
    asked = read_jobs(jobs)
    processes = asked or os.cpu_count() or 1
    from audit.cli.scan import listen

    audit = listen(folder, jobs=asked, quiet=quiet, rehash=True, settings_file=settings, sealed=False)
    with interruptible("no seal was written."):
        from audit.cli.progress import watching
        from audit.pipeline.sealing import make_seal
        from audit.seal.file import to_bytes
        from audit.writing import write_whole

        with watching(quiet=quiet) as watcher:
            total = sum(stem.stem.size_bytes for song in audit.songs for stem in song.evidence.stems)
            watcher.begin(len(audit.songs), total)
            made = make_seal(
                audit,
                sealed_at=datetime.now(timezone.utc).isoformat(timespec="seconds"),
                jobs=processes,
                told=watcher.stem_progress,
            )
            watcher.end()
        try:
            write_whole(target, to_bytes(made))
        except OSError as error:
            raise OutputError(_cannot(target, error.strerror or str(error))) from None
    stems = [stem for song in made.songs for stem in song.stems]
    closed = sum(stem.file_hash is None for stem in stems)
    garbled = sum(stem.file_hash is not None and stem.sketch is None for stem in stems)
    if not quiet:
        from audit.units import count

        faults = [count(n, word) for n, word in ((made.errors, "error"), (made.warnings, "warning")) if n]
        say(f"Sealed {count(made.stems, 'stem')} of {count(len(made.songs), 'song')} in {target}.")
        if faults:
            say(f"It was sealed with {' and '.join(faults)} in it: `stemaudit scan` tells which.")
        for number, known in ((garbled, "the bytes"), (closed, "the name")):
            if number:
                what = count(number, "stem")
                say(f"{what} could not be read; the seal has only {known}: `stemaudit scan` tells which.")
        say(f"Check a copy against it: stemaudit verify {_quoted(path)}")
    raise typer.Exit(EXIT_INCOMPLETE if closed or garbled or audit.unread else EXIT_CLEAN)


def _target(folder: Path, out: str | None) -> Path:
    """Where it goes; raises OutputError before anything is heard."""
    import tempfile

    from audit.seal.file import NAME, is_seal
    from audit.writing import PREFIX

    if out is not None and not out.strip():
        raise OutputError("--out: no file is named: give a file name, or leave --out out")
    target = Path(out).absolute() if out is not None else folder.absolute() / NAME
    if not folder.is_dir():
        return target  # the scan says it better
    if target.is_dir():
        target = target / NAME
    if target.exists() and not is_seal(target):
        raise OutputError(f"{target}: exists and is no seal: choose another name with --out")
    if not target.parent.is_dir():
        raise OutputError(f"{target}: its folder does not exist: make {target.parent} first")
    try:
        with tempfile.NamedTemporaryFile(dir=target.parent, prefix=PREFIX):
            pass
    except OSError as error:
        raise OutputError(_cannot(target, error.strerror or str(error))) from None
    return target


def _cannot(target: Path, why: str) -> str:
    return f"{target}: cannot be written ({why.lower()}): name another place with --out"


def _quoted(path: str) -> str:
    return f'"{path}"' if " " in path else path
