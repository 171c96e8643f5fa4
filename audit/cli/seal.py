"""`stemaudit seal`: the state of a show that was found good, to be compared with later."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from audit.cli.complete import complete_song
from audit.cli.output_file import check_outside_songs
from audit.cli.screen import interruptible, say
from audit.cli.show_settings import HIGHEST
from audit.cli.values import read_folder, read_jobs, read_songs
from audit.errors import EXIT_CLEAN, EXIT_FINDINGS, EXIT_INCOMPLETE, OutputError, UsageError

if TYPE_CHECKING:
    from audit.findings import ShowAudit
    from audit.results import StemDelta
    from audit.seal.model import Seal


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
    song: Annotated[
        list[str] | None,
        typer.Option(
            "--song",
            metavar="NAME",
            autocompletion=complete_song,
            help="Only this song anew, in the show's seal; may be repeated.",
        ),
    ] = None,
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Also where stems of the last seal have rotted since.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Say nothing but errors.")] = False,
) -> None:
    """Scan a show, and keep its state: `stemaudit verify` tells later what has changed.

    The seal holds hashes, formats, measures and a sketch of every stem, and the audit's verdicts; no audio.
    Every file is read in full. Seal what was rehearsed; keep copies of the seal on the spare machine and on
    the drive in the bag. A show with faults is sealed too, and the seal says so. A seal that is there is
    replaced, but not where a stem has rotted since: --anyway does that. After a new bounce, --song seals that
    song anew and leaves what the seal has of all others: nothing else slips in.

    \b
    Examples:
      stemaudit seal "Harbour Lights Tour"
      stemaudit seal "Harbour Lights Tour" --out ~/seals/tuesday.seal
      stemaudit seal "Harbour Lights Tour" --song "Night Ferry"

    \b
    Exit codes:
      0    sealed
      1    not sealed: a stem has rotted since the last seal
      2    wrong arguments, or a file changed meanwhile
      3    sealed, but some stems could not be read
      130  interrupted: no seal was written, one that was there is as it was
    """
    import os

    folder = read_folder(path, "SHOW: no folder is named; give a show's folder, or . for the current one")
    target = _target(folder, out)
    if out is not None:
        check_outside_songs(out, folder)
    songs = read_songs(song or [])
    asked = read_jobs(jobs)
    before = _seal_to_renew(target, path) if songs else None
    from audit.cli.scan import listen

    audit = listen(
        folder, jobs=asked, songs=songs, quiet=quiet, rehash=True, settings_file=settings, sealed=False
    )
    with interruptible("no seal was written."):
        made = _made(audit, jobs=asked or os.cpu_count() or 1, quiet=quiet)
        state = _renewed(before, made, folder) if before is not None else _replaced(target, made)
        verify = _verify_words(folder, path, target, out)
        if state.rotted and not anyway:
            _refuse(state.rotted, verify)
        _write(target, state.whole)
    if not quiet:
        _say_sealed(state, target, verify)
        if out is None and not songs and _is_below_a_seal(folder):
            say(
                "The show above it has a seal of its own: to renew this song in that one, seal the show with "
                "--song."
            )
    raise typer.Exit(EXIT_INCOMPLETE if state.closed or state.garbled or audit.unread else EXIT_CLEAN)


@dataclass(frozen=True, slots=True, kw_only=True)
class _State:
    """What is to be sealed, beside the last seal."""

    made: Seal  # of what was heard now
    whole: Seal  # the same, or the show's seal with it put in
    before: Seal | None  # the last one; None: there is none that can be read
    since: Sequence[StemDelta]  # what differs from that

    @property
    def rotted(self) -> list[StemDelta]:
        from audit.results import DeltaState

        return [delta for delta in self.since if delta.state is DeltaState.DECAYED]

    @property
    def closed(self) -> int:
        """Stems that could not be read at all."""
        return sum(stem.file_hash is None for song in self.made.songs for stem in song.stems)

    @property
    def garbled(self) -> int:
        """Stems whose bytes could be read, and not decoded."""
        stems = [stem for song in self.made.songs for stem in song.stems]
        return sum(stem.file_hash is not None and stem.sketch is None for stem in stems)


def _made(audit: ShowAudit, *, jobs: int, quiet: bool) -> Seal:
    from audit.cli.progress import watching
    from audit.pipeline.sealed.sealing import make_seal

    with watching(quiet=quiet) as watcher:
        total = sum(stem.stem.size_bytes for song in audit.songs for stem in song.evidence.stems)
        watcher.begin(len(audit.songs), total)
        now = datetime.now(timezone.utc).isoformat(timespec="seconds")
        made = make_seal(audit, sealed_at=now, jobs=jobs, told=watcher.stem_progress)
        watcher.end()
    return made


def _renewed(before: Seal, made: Seal, folder: Path) -> _State:
    """Some songs of the show's seal as they are now."""
    from audit.pipeline.sealed.sealing import sealed_anew

    whole, found = sealed_anew(before, made, folder)
    return _State(made=made, whole=whole, before=before, since=found.deltas)


def _replaced(target: Path, made: Seal) -> _State:
    """A seal of all, in the place of the last one."""
    from audit.pipeline.sealed.show_copies import copies_of_seal
    from audit.pipeline.sealed.verifying import differences

    before = _last_seal(target)
    since = () if before is None else differences(copies_of_seal(before), copies_of_seal(made)).deltas
    return _State(made=made, whole=made, before=before, since=since)


def _write(target: Path, whole: Seal) -> None:
    from audit.seal.file import to_bytes
    from audit.writing import write_whole

    try:
        write_whole(target, to_bytes(whole))
    except OSError as error:
        raise OutputError(_cannot(target, error.strerror or str(error))) from None


def _say_sealed(state: _State, target: Path, verify: str) -> None:
    from audit.units import count

    made = state.made
    rest = len(state.whole.songs) - len(made.songs)
    beside = f", beside {count(rest, 'song')} as before" if state.whole is not made else ""
    say(f"Sealed {count(made.stems, 'stem')} of {count(len(made.songs), 'song')} in {target}{beside}.")
    if state.before is not None:
        say(_since_words(state.since, state.before.sealed_at))
    faults = [count(n, word) for n, word in ((made.errors, "error"), (made.warnings, "warning")) if n]
    if faults:
        say(f"It was sealed with {' and '.join(faults)} in it: `stemaudit scan` tells which.")
    for number, known in ((state.garbled, "the bytes"), (state.closed, "the name")):
        if number:
            what = count(number, "stem")
            say(f"{what} could not be read; the seal has only {known}: `stemaudit scan` tells which.")
    say(f"Check a copy against it: {verify}")


def _is_below_a_seal(folder: Path) -> bool:
    """Whether this is a song of a show that has been sealed as a whole."""
    from audit.seal.file import NAME

    return any((above / NAME).is_file() for above in folder.absolute().parents[:HIGHEST])


def _seal_to_renew(target: Path, path: str) -> Seal:
    """The whole show's seal, in which only some songs are to be sealed anew."""
    from audit.seal.file import read_seal

    if not target.exists():
        raise UsageError(f"--song: there is no seal yet in {path}: seal the whole show first")
    return read_seal(target)


def _last_seal(target: Path) -> Seal | None:
    """The seal that is about to be replaced; None where there is none that can be read."""
    from audit.seal.file import read_seal

    try:
        return read_seal(target) if target.exists() else None
    except UsageError:
        return None


def _refuse(rotted: Sequence[StemDelta], verify: str) -> NoReturn:
    """A seal is the only thing that knows of rot: it is not written over by one that takes it for sound."""
    from audit.units import count

    stems = count(len(rotted), "stem")
    others = " and others" if len(rotted) > 1 else ""
    say(
        f"Not sealed: {stems} rotted since the last seal (other content, same size and time), "
        f"{rotted[0].path}{others}.\n"
        f"Fetch what has rotted from another copy ({verify} names it all); if it is "
        "right as it is, seal with --anyway.",
        error=True,
    )
    raise typer.Exit(EXIT_FINDINGS)


def _since_words(deltas: Sequence[StemDelta], sealed_at: str) -> str:
    """`Since the last seal (2026-11-28): 2 changed, 1 new.`"""
    if not deltas:
        return f"Nothing has changed since the last seal ({sealed_at[:10]})."
    numbers = Counter(delta.state.value for delta in deltas)
    said = ", ".join(f"{number} {state}" for state, number in numbers.items())
    return f"Since the last seal ({sealed_at[:10]}): {said}."


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


def _verify_words(folder: Path, path: str, target: Path, out: str | None) -> str:
    """The command that checks against this seal, as a shell takes it."""
    from audit.report.hear_line import quoted
    from audit.seal.file import NAME

    command = f"stemaudit verify {quoted(path)}"
    if out is None or target == folder.absolute() / NAME:  # where it is looked for
        return command
    return f"{command} --seal {quoted(str(Path(out) / NAME) if Path(out).is_dir() else out)}"
