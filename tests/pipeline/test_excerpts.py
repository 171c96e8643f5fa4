"""Places read once more: the very samples of the file, bounded in number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import soundfile as sf

from audit.pipeline.excerpts import MOST_COLUMNS, read_excerpts
from audit.results import Place
from tests.evidence import show, song, stem

RATE_HZ = 48_000


def written(tmp_path, samples, name="Bass.wav", rate_hz=RATE_HZ, subtype="FLOAT"):
    path = tmp_path / name
    sf.write(path, samples, rate_hz, subtype=subtype)
    one = stem(name)
    one = replace(one, stem=replace(one.stem, path=path, size_bytes=path.stat().st_size))
    made = song("Night Ferry", one)
    # The builder places stems in a folder of its own.
    return show(replace(made, stems=(one,)))


def read(evidence, first_s, span_s, name="Bass.wav"):
    place = Place(song="Night Ferry", stem=name, first_s=first_s, span_s=span_s)
    return read_excerpts(evidence, [place]).get(place)


@pytest.mark.parametrize(("name", "subtype"), [("Bass.wav", "FLOAT"), ("Bass.flac", "PCM_24")])
def test_samples_come_as_they_stand_in_the_file(tmp_path, name, subtype):
    samples = np.random.default_rng(1).uniform(-0.5, 0.5, (RATE_HZ, 2))
    found = read(written(tmp_path, samples, name, subtype=subtype), 0.5, 0.01, name)
    assert found.column_frames == 1
    assert [trace.channel for trace in found.traces] == [0, 1]
    for trace in found.traces:
        assert trace.lows == trace.highs
        assert len(trace.highs) == 480
        np.testing.assert_allclose(trace.highs, samples[24_000:24_480, trace.channel], atol=2e-6)


def test_many_samples_become_columns_of_their_lowest_and_highest(tmp_path):
    samples = np.zeros((2 * RATE_HZ, 1))
    samples[RATE_HZ + 7], samples[RATE_HZ + 9] = 0.75, -0.25
    found = read(written(tmp_path, samples), 0.5, 1.0)
    [trace] = found.traces
    assert found.column_frames == 50
    assert len(trace.highs) == 960 <= MOST_COLUMNS
    assert (max(trace.highs), min(trace.lows)) == (0.75, -0.25)
    assert trace.highs.index(0.75) == trace.lows.index(-0.25) == 24_007 // 50


def test_before_the_start_and_behind_the_end_lies_silence(tmp_path):
    evidence = written(tmp_path, np.full((RATE_HZ, 1), 0.5))
    assert [*read(evidence, -0.001, 0.002).traces[0].highs] == [0.0] * 48 + [0.5] * 48
    assert [*read(evidence, 0.999, 0.002).traces[0].highs] == [0.5] * 48 + [0.0] * 48


def test_of_many_channels_the_two_that_sound_most_are_shown(tmp_path):
    samples = np.zeros((RATE_HZ, 6))
    samples[:, 2], samples[:, 5] = 0.1, 0.5
    assert [trace.channel for trace in read(written(tmp_path, samples), 0.1, 0.01).traces] == [2, 5]


def test_a_file_that_has_gone_gives_nothing(tmp_path):
    evidence = written(tmp_path, np.zeros((RATE_HZ, 1)))
    (tmp_path / "Bass.wav").unlink()
    assert read(evidence, 0.1, 0.01) is None
    assert read(evidence, 0.1, 0.01, "Other.wav") is None


def test_a_place_that_would_fill_the_memory_is_not_read(tmp_path):
    evidence = written(tmp_path, np.zeros((RATE_HZ, 2)))
    assert read(evidence, 0.0, 3600.0) is None


def test_nothing_is_written_to_the_file(tmp_path):
    evidence = written(tmp_path, np.zeros((RATE_HZ, 1)))
    before = (tmp_path / "Bass.wav").stat()
    read(evidence, 0.1, 0.01)
    after = (tmp_path / "Bass.wav").stat()
    assert (before.st_mtime_ns, before.st_size) == (after.st_mtime_ns, after.st_size)
