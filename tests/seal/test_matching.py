"""Stems followed by their names, where their content is no longer what it was."""

from __future__ import annotations

import pytest

from audit.seal.matching import find_renamed


@pytest.mark.parametrize(
    ("missing", "added", "found"),
    [
        (["A/Bass.wav"], ["A/Bass.mp3"], [("A/Bass.wav", "A/Bass.mp3")]),
        (["A/Bass.wav"], ["a/BASS.MP3"], [("A/Bass.wav", "a/BASS.MP3")]),
        (["Bass.wav"], ["Bass.flac"], [("Bass.wav", "Bass.flac")]),
        (["A/Bass.v2.wav"], ["A/Bass.v2.ogg"], [("A/Bass.v2.wav", "A/Bass.v2.ogg")]),
        (["A/Bass.wav"], ["B/Bass.mp3"], [("A/Bass.wav", "B/Bass.mp3")]),  # all that was in A
        (["A/Bass.wav"], ["A/Bass final.wav"], []),
        (["A/Bass.wav"], ["A/Bass.mp3", "A/Bass.ogg"], []),  # which of them?
        (["A/Bass.wav", "A/Bass.aiff"], ["A/Bass.mp3"], []),
        (["A/Bass.wav", "A/Keys.wav"], ["B/Bass.wav", "B/Keys.wav"],
         [("A/Bass.wav", "B/Bass.wav"), ("A/Keys.wav", "B/Keys.wav")]),
        (["A/Bass.wav", "A/Keys.wav"], ["B/Bass.wav", "B/Organ.wav"], [("A/Bass.wav", "B/Bass.wav")]),
        (["A/Bass.wav", "A/Keys.wav", "A/Pad.wav"], ["B/Bass.wav", "B/Organ.wav"], []),  # one of three
        (["A/Bass.wav"], ["B/Bass.wav", "C/Bass.wav"], []),
    ],
)  # fmt: skip
def test_by_name(missing: list[str], added: list[str], found: list[tuple[str, str]]):
    assert sorted(find_renamed(missing, added)) == found
