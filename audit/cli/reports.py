"""The files that `scan` writes beside its report on the terminal, but for the JSON."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from audit.cli.output_file import begins_with, check_page, check_target, write_output
from audit.errors import OutputError, UsageError
from audit.folder.shown import shown

if TYPE_CHECKING:
    from audit.findings import Severity, ShowAudit
    from audit.results import Place, Sound

REBOUNCE_KINDS = (".md", ".txt", ".csv")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reports:
    """What somebody asked for; None: not asked for."""

    html: str | None = None
    with_audio: bool = False
    rebounce: str | None = None
    csv: str | None = None

    @property
    def targets(self) -> tuple[str | None, ...]:
        """Files, and for the tables one of them."""
        return (self.html, self.rebounce, str(Path(self.csv) / "stems.csv") if self.csv else None)

    def check(self) -> None:
        """Raises OutputError or UsageError where something cannot be written: before the scan."""
        if self.with_audio and self.html is None:
            raise UsageError("--with-audio: there is no page to put it in: give --html FILE too")
        if self.html is not None:
            from audit.report.names import PAGE_BEGINS

            check_page(self.html, begins_with(PAGE_BEGINS), "page of stemaudit")
        if self.rebounce is not None:
            from audit.report.names import REBOUNCE_BEGINS

            kind = Path(self.rebounce).suffix.lower()
            if kind not in REBOUNCE_KINDS:
                raise UsageError(
                    f"--rebounce {shown(self.rebounce)}: its ending must say what it is: .md, .txt or .csv"
                )
            check_target(self.rebounce, "--rebounce", begins_with(*REBOUNCE_BEGINS), "list of stemaudit")
        if self.csv is not None:
            _check_tables(self.csv)

    def write(self, audit: ShowAudit, *, asked: str | None, threshold: Severity | None) -> None:
        """All of them. Raises OutputError."""
        if self.html is not None:
            write_output(self._page(audit, asked, threshold).encode("utf-8"), self.html)
        if self.rebounce is not None:
            from audit.cli.day import today_words
            from audit.report.rebounce import rebounce_list

            text = rebounce_list(audit, Path(self.rebounce).suffix.lower()[1:], made=today_words())
            write_output(text.encode("utf-8"), self.rebounce)
        if self.csv is not None:
            from audit.report.tables import tables

            try:
                Path(self.csv).mkdir(exist_ok=True)
            except OSError as error:
                raise OutputError(f"{shown(self.csv)}: cannot be made: {error.strerror}") from None
            for name, text in tables(audit).items():
                write_output(text.encode("utf-8"), str(Path(self.csv) / name))

    def _page(self, audit: ShowAudit, asked: str | None, threshold: Severity | None) -> str:
        from audit.cli.day import today_words
        from audit.pipeline.excerpts import read_excerpts
        from audit.report.enlarged import places_of
        from audit.report.html.faults import Extras
        from audit.report.html.render import to_html

        extras = Extras(
            excerpts=read_excerpts(audit.evidence, places_of(audit)),
            sounds=_sounds(audit) if self.with_audio else {},
        )
        return to_html(audit, extras=extras, made=today_words(), asked=asked, threshold=threshold)


def _sounds(audit: ShowAudit) -> dict[Place, Sound]:
    from audit.hear.sound import cut_sound
    from audit.report.enlarged import clips_of

    paths = {(song.name, stem.name): stem.stem.path for song in audit.evidence.songs for stem in song.stems}
    found = {}
    for place, at_s in clips_of(audit):
        path = paths.get((place.song, place.stem))
        sound = cut_sound(path, at_s) if path is not None else None
        if sound is not None:
            found[place] = sound
    return found


def _check_tables(folder: str) -> None:
    from audit.report.names import TABLES_BEGIN

    if not folder.strip():
        raise OutputError("--csv: no folder is named: give a folder for the tables")
    path = Path(folder).resolve()
    if path.exists() and not path.is_dir():
        raise OutputError(f"{shown(folder)}: is a file: name a folder for the tables")
    if not path.parent.is_dir():
        raise OutputError(f"{shown(folder)}: its folder does not exist: make {shown(str(path.parent))} first")
    if path.is_dir():
        for name, begins in TABLES_BEGIN.items():
            ours: Callable[[bytes], bool] = begins_with(begins)
            check_target(str(path / name), "--csv", ours, "table of stemaudit")
