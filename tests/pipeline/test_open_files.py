"""Songs of more stems than the system lets a process open are heard all the same."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from audit.pipeline.song import open_files
from tests.pipeline.files import write_wav

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limit to set")

STEMS = 90

HEAR_WITH_A_LIMIT = """
import resource, sys
from pathlib import Path
from audit.folder.walk import walk
from audit.pipeline.song.listen import listen
from audit.pipeline.song.open_files import raise_open_files
soft, hard = int(sys.argv[2]), int(sys.argv[3])
song = walk(Path(sys.argv[1])).songs[0]
resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
raise_open_files()
heard = listen(song, lambda stem, done: None, threads=2)
print(sum(stem.audio is not None for stem in heard.stems), heard.mix is not None)
print(heard.mix_failure)
"""


@pytest.fixture(scope="module")
def large_song(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("show") / "Song"
    for number in range(STEMS):
        write_wav(folder / f"Part {number:02}.wav", np.full((480, 1), 0.001 * number))
    return folder


@pytest.mark.parametrize(
    ("soft", "hard", "summed"), [(80, 400, True), (80, 80, False)], ids=["can be raised", "cannot be raised"]
)
def test_every_stem_is_heard(large_song: Path, soft: int, hard: int, summed: bool):
    done = subprocess.run(
        [sys.executable, "-c", HEAR_WITH_A_LIMIT, str(large_song), str(soft), str(hard)],
        capture_output=True,
        text=True,
        check=False,
    )
    heard, why = done.stdout.splitlines()
    assert heard == f"{STEMS} {summed}", done.stderr
    wanted = "90 stems cannot be summed: this system lets 16 of them be open at once"
    assert why == ("None" if summed else wanted)


def test_blocks_shrink_where_channels_are_many():
    assert open_files.block_frames(40, 65_536) == 65_536
    assert open_files.block_frames(400 * 32, 65_536) == (1 << 24) // 12_800
    assert open_files.block_frames(10**9, 65_536) == 1_024
    assert open_files.block_frames(0, 65_536) == 65_536


def test_only_stems_of_few_channels_have_long_blocks():
    frames = {channels: open_files.block_frames(channels, 262_144) for channels in (1, 16, 17, 64, 256)}
    assert frames == {1: 262_144, 16: 262_144, 17: 65_536, 64: 65_536, 256: 65_536}
    assert open_files.block_frames(257, 262_144) == (1 << 24) // 257
