"""`stemaudit cache`: what earlier scans left behind, and how to be rid of it."""

from __future__ import annotations

from typing import Annotated

import typer

from audit.cli.screen import say
from audit.errors import OutputError


def cache(
    clear: Annotated[
        bool, typer.Option("--clear", help="Delete all of it; the next scan hears everything.")
    ] = False,
) -> None:
    """Tell where results of earlier scans are kept, and how much.

    A scan keeps what it heard of every stem, and no audio. The next one takes it from there where a file's
    path, size and time are the same; where they are not, or prove too little, it compares the content first.
    Another version of stemaudit hears everything anew. What was not asked for in 60 days goes by itself.
    STEMAUDIT_CACHE_DIR names another folder.

    \b
    Examples:
      stemaudit cache
      stemaudit cache --clear
    """
    from audit.cache.place import cache_folder
    from audit.cache.store import Store, kept_files, remove_files
    from audit.units import count

    folder = cache_folder()
    try:
        if clear:
            say(f"Deleted {_size(remove_files(folder))} in {folder}.")
            return
        size = sum(path.stat().st_size for path in kept_files(folder))
    except OSError as error:
        raise OutputError(
            f"{folder}: {(error.strerror or str(error)).lower()}: close other scans and try again"
        ) from None
    if not size:
        say(f"Nothing is kept in {folder}.")
        return
    with Store(folder, lambda words: say(f"stemaudit: {words}", error=True)) as store:
        songs, stems = count(store.count("song"), "song"), count(store.count("stem"), "stem")
    say(f"{_size(size)} in {folder}: what was heard of {songs} and {stems}.")
    say("Delete it: stemaudit cache --clear")


def _size(number: int) -> str:
    """`12.3 MB`, as disks are counted."""
    for unit, factor in (("GB", 10**9), ("MB", 10**6), ("kB", 10**3)):
        if number >= factor:
            return f"{number / factor:.1f} {unit}"
    return f"{number} bytes"
