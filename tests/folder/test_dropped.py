"""A stem of the version before that the current one has nothing for."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.folder.walk import walk
from audit.settings.model import ShowSettings, SongSettings
from tests.folder.trees import plant

V1 = ("v1/Drums.wav", "v1/Bass.wav", "v1/Keys.wav", "v1/Lead.wav")


@pytest.mark.parametrize(
    ("current", "gone"),
    [
        (("v2/Drums.wav", "v2/Bass.wav", "v2/Keys.wav"), ("v1/Lead.wav",)),
        (("v2/Drums.wav", "v2/Bass.wav"), ("v1/Keys.wav", "v1/Lead.wav")),
        (("v2/Drums.wav", "v2/Bass.wav", "v2/Keys.flac", "v2/Lead.wav"), ()),  # another container
        (("v2/Drums v2.wav", "v2/Bass v2.wav", "v2/Keys v2.wav"), ("v1/Lead.wav",)),
        (("v2/Drums.wav", "v2/Bass.wav", "v2/Keyboards.wav", "v2/Lead.wav"), ()),  # the keys, named otherwise
        (("v2/Drums.wav", "v2/Bass.wav", "v2/Keys.wav", "v2/Lead.wav", "v2/Choir.wav"), ()),  # one more
        (("v2/Drums.wav", "v2/A.wav", "v2/B.wav", "v2/C.wav"), ()),  # named in another way: nothing is known
    ],
)  # fmt: skip
def test_what_the_newer_version_lacks_is_told(tmp_path: Path, current: tuple[str, ...], gone):
    (song,) = walk(plant(tmp_path / "Rain", *V1, *current)).songs
    assert (song.version, song.dropped_stems) == ("v2", gone)


def test_it_is_laid_beside_the_last_version_not_the_first(tmp_path: Path):
    older = [name.replace("v1", "v2") for name in V1[:3]]
    newest = [name.replace("v1", "v3") for name in V1[:3]]
    (song,) = walk(plant(tmp_path / "Rain", *V1, *older, *newest)).songs
    assert (song.version, song.dropped_stems) == ("v3", ())


def test_nothing_is_told_of_loose_files_or_of_a_version_the_settings_name(tmp_path: Path):
    (loose,) = walk(plant(tmp_path / "A", "Drums.wav", "Bass.wav", *V1)).songs
    assert loose.dropped_stems == ()
    plant(tmp_path / "B" / "Rain", *V1, *(name.replace("v1", "v2") for name in V1[:3]))
    settings = ShowSettings(songs=(SongSettings(name="Rain", version="v2"),))
    (song,) = walk(tmp_path / "B", settings=settings).songs
    assert (song.version, song.dropped_stems) == ("v2", ())
