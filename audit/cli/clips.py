"""Where the clips of a report's `Hear:` lines can be written, so that a line runs as it is printed."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from audit.errors import OutputError
from audit.folder.clips import CLIPS_FOLDER

if TYPE_CHECKING:
    from audit.findings import ShowAudit


def with_place_for_clips(audit: ShowAudit) -> ShowAudit:
    """The audit, with a folder for clips seen from the current one, and from the show's."""
    show = audit.evidence.show
    # One stem for all songs that lie in one folder: what is their show is asked once.
    stems = list({song.path.parent: stem.path for song in show.songs for stem in song.stems[:1]}.values())
    try:
        here, root = Path.cwd(), show.path.resolve()
    except OSError:  # the folder went away: nothing that is printed would run
        return audit
    away = replace(
        show, clips=_outside(here, root, stems, own=True), clips_from_it=_outside(root, root, stems)
    )
    return replace(audit, evidence=replace(audit.evidence, show=away))


def _outside(start: Path, root: Path, stems: list[Path], *, own: bool = False) -> str:
    """The nearest folder at or above `start` that lies in nobody's show and may be written. own: empty where
    that is the one that `hear` takes by itself."""
    for up, folder in enumerate((start, *start.parents)):
        clips = folder / CLIPS_FOLDER
        if os.access(folder, os.W_OK) and not _in_show(clips, root, stems):
            return "" if own and not up else "/".join([*([".."] * up), CLIPS_FOLDER])
    return (Path.home() / CLIPS_FOLDER).as_posix()


def _in_show(clips: Path, root: Path, stems: list[Path]) -> bool:
    from audit.hear.shelf import check_folder

    if root in clips.parents:
        return True
    try:
        for stem in stems:
            check_folder(clips, stem)
    except OutputError:
        return True
    return False
