"""What someone who waits sees, on a real pseudo-terminal."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from rich.cells import cell_len
from rich.console import Console
from rich.progress import Progress

from audit.cli.progress import ProgressBar, SongLines, _Share, _Where
from tests.cli import folders
from tests.cli.terminal import run_on_terminal


@pytest.fixture(scope="module")
def show(tmp_path_factory) -> Path:
    return folders.write_show(tmp_path_factory.mktemp("terminal") / "Harbour Lights Tour")


def test_the_bar_comes_at_once_and_leaves_the_report_alone(tmp_path):
    # Long enough to be drawn: the line changes ten times a second, and two seconds of audio take less.
    show = folders.write_show(tmp_path / "Harbour Lights Tour", seconds=60.0)
    text, first_s, code = run_on_terminal("scan", "--jobs", "1", show)
    assert code == 0
    assert first_s < 2.0
    assert "Looking for songs" in text
    assert re.search(r"(Night Ferry|Tin Roof): \w+\.wav", text)
    assert re.search(r"\d+ %", text)
    # The report begins on a cleared line: erased (2K), cursor at its start.
    last_erased = text.rindex("\x1b[2K")
    assert "Ready: no fault" in text[last_erased:]
    assert "%" not in text[last_erased:]


def test_a_dumb_terminal_gets_plain_lines(show):
    text, _, code = run_on_terminal("scan", "--jobs", "1", show, TERM="dumb")
    assert code == 0
    assert "\x1b" not in text
    assert "Listening to 2 songs" in text
    assert "2 of 2: " in text


def test_no_color_gives_a_report_without_codes(show):
    text, _, _ = run_on_terminal("scan", "--jobs", "1", show, NO_COLOR="1")
    report = text[text.rindex("\x1b[2K") + 4 :]
    assert "Ready" in report
    assert "\x1b[1m" not in text
    assert not re.search(r"\x1b\[[0-9;]*m", report)


@pytest.mark.parametrize("encoding", ["ascii", "utf-8"])
@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_bar_keeps_its_width_whatever_the_names(width, encoding):
    console = Console(
        file=io.TextIOWrapper(io.BytesIO(), encoding=encoding), width=width, force_terminal=True
    )
    bar = Progress(_Where(console), _Share(), console=console, disable=True)
    watcher = ProgressBar(bar)
    where = _Where(console)
    watcher.begin(1, 1000)
    seen = set()
    for name in ("A.wav", "日本語の長い名前" * 20 + ".wav", "\x1b[2J\n.wav", "[bold]x.wav"):
        watcher.stem_progress("Night Ferry", name, 250)
        line = where.render(bar.tasks[0])
        line.plain.encode(encoding)
        assert not set("\x1b\n") & set(line.plain)
        seen.add(cell_len(line.plain))
    assert len(seen) == 1
    assert bar.tasks[0].percentage == 100.0
    assert _Share().render(bar.tasks[0]).plain.startswith("100 %")


def test_the_share_never_passes_100_and_is_silent_before_the_size_is_known():
    console = Console(file=io.StringIO())
    bar = Progress(console=console, disable=True)
    watcher = ProgressBar(bar)
    assert _Share().render(bar.tasks[0]).plain == ""
    watcher.begin(1, 100)
    watcher.stem_progress("Night Ferry", "", 150)
    assert _Share().render(bar.tasks[0]).plain.startswith("100 %")
    assert bar.tasks[0].description == "Night Ferry"


def test_song_lines_escape_names():
    paper = io.StringIO()
    lines = SongLines(Console(file=paper, width=40, markup=False, emoji=False, highlight=False))
    lines.begin(2, 100)
    lines.song_done("[bold]A\x1b[2J")
    lines.begin(0, 0)  # all of it was heard before
    lines.begin(1, 100)
    assert paper.getvalue().endswith("Listening to 1 song\n")
    assert "0 songs" not in paper.getvalue()
    assert paper.getvalue().startswith("Listening to 2 songs\n1 of 2: [bold]A\\x1b[2J\n")
