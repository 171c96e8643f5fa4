"""Folders for the walk's tests: made from a list of paths, described as songs and their files."""

from __future__ import annotations

import os
from pathlib import Path

from audit.facts import PassedOver, Show, Stem

NEWER_S = 86_400
"""A day: how much newer files are made that should be newer."""


def plant(root: Path, *files: str, age_days: int = 0) -> Path:
    """Make empty files, and the folders they lie in, under the root; a path that ends in "/" is a folder."""
    for file in files:
        path = root / file
        if file.endswith("/"):
            path.mkdir(parents=True, exist_ok=True)
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
        then = 1_750_000_000 - age_days * NEWER_S
        os.utime(path, (then, then))
    return root


def songs(show: Show) -> dict[str, list[str]]:
    """The show as song name -> its stems' files."""
    return {song.name: [stem.file for stem in song.stems] for song in show.songs}


def passed(show: Show) -> dict[str, PassedOver]:
    return {entry.path: entry for entry in show.passed_over}


def stem(show: Show, file: str) -> Stem:
    """The stem of that file, which only one song of the show has."""
    (found,) = [stem for song in show.songs for stem in song.stems if stem.file == file]
    return found
