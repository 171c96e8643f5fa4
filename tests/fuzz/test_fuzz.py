"""A part of the long run (`python -m tests.fuzz`), and whether its judge can tell a fault."""

from __future__ import annotations

import io
import json
from pathlib import Path
from random import Random

import pytest
import soundfile

from tests.fuzz.__main__ import Wreck, wrecks
from tests.fuzz.batch import Batch
from tests.fuzz.mutations import CHUNKED, STREAM, broken
from tests.fuzz.specimens import chunked, streams

CONTAINERS, STREAMS = 240, 80
"""What a minute on two cores allows."""


def judged(folder: Path, files: list[Wreck]) -> list[str]:
    batch = Batch(folder)
    for wreck in files:
        batch.add(*wreck)
    return batch.judge()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("specimens", "count"), [(chunked, CONTAINERS), (streams, STREAMS)], ids=["chunked", "streams"]
)
def test_broken_files_are_all_told_and_nothing_breaks(tmp_path: Path, specimens, count):
    assert judged(tmp_path, list(wrecks(specimens(), count, seed=20))) == []


def test_every_specimen_is_whole():
    assert len(chunked()) >= 14
    assert len(streams()) >= 4
    for specimen in (*chunked(), *streams()):
        with soundfile.SoundFile(io.BytesIO(specimen.data)) as sound:
            assert len(sound.read()) > 10_000, specimen.name


def test_every_way_of_breaking_changes_the_bytes():
    """Nearly always: an edge value may be the one that stands there."""
    rng = Random(3)
    changed = {way.__name__: 0 for way in (*CHUNKED, *STREAM)}
    same = 0
    for _ in range(3000):
        specimen = rng.choice((*chunked(), *streams()))
        data, what = broken(specimen, rng)
        same += data == specimen.data
        if data != specimen.data:
            for word in what.split(": ", 1)[1].split(", "):
                changed["_" + word] += 1
    assert same < 150
    assert min(changed.values()) > 20, changed


def test_the_same_seed_breaks_the_same():
    assert list(wrecks(chunked(), 20, seed=5)) == list(wrecks(chunked(), 20, seed=5))


def report(**summary: object) -> str:
    stem = {"file": "Keys.wav"}
    song = {"folder": "0001 - Wreck", "stems": [stem], "unmeasured": [{"stem": "Keys.wav", "reason": "gone"}]}
    return json.dumps(
        {"songs": [song], "passed_over": [], "summary": {"errors": 0, "incomplete": True} | summary}
    )


@pytest.mark.parametrize(
    ("code", "told", "complaints", "fault"),
    [
        (0, report(), "", "exit code 0, but the summary asks for 3"),
        (3, report(errors=2), "", "exit code 3, but the summary asks for 1"),
        (3, report(), "Traceback (most recent call last):\nValueError: x", "a traceback: ValueError: x"),
        (-11, "", "Segmentation fault", "exit code -11, and its report is no JSON"),
        (3, report().replace("true", "NaN"), "", "NaN is no JSON"),
        (
            3,
            report().replace("Keys.wav", "Kees.wav", 1),
            "",
            "stands nowhere in the report: 0001 - Wreck/Keys.wav",
        ),
        (3, report().replace("gone", "stemaudit itself failed on it"), "", "stemaudit itself failed"),
    ],
)
def test_the_judge_tells_a_fault(tmp_path: Path, code, told, complaints, fault):
    batch = Batch(tmp_path)
    batch.add("wav", b"", "nothing")
    assert batch._faults(3, report(), "") == []
    assert any(fault in words for words in batch._faults(code, told, complaints))
