"""What every test folder shares: the ordinary show and the demo, written and scanned once a run."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from audit.cli.show_settings import settings_for
from audit.findings import ShowAudit
from audit.pipeline.scan import scan_show
from tests.cli import command
from tests.once import made_once
from tests.shared import shared_folder
from tests.shows import OrdinaryShow, ordinary_show
from tests.workers import quick_workers

# Every worker of a scan would translate the program anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes longest comes first, so that no process is left alone with it at the end."""
    items.sort(key=lambda item: item.get_closest_marker("slow") is None)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """For `-n`: each process has its part of the files, and one that is done takes from another's. The usual
    way deals out ever smaller handfuls, and what a file sets up is set up in all processes."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log) if config.getvalue("dist") == "load" else None


@dataclass(frozen=True)
class DemoRun:
    """home: the folder that the demo was run in. kept: where what it heard is kept, for a later command."""

    home: Path
    done: subprocess.CompletedProcess[str]
    kept: dict[str, str]


@pytest.fixture(scope="session")
def shared_base(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    """A folder that all processes of this run see. Nothing in it may be changed."""
    base = tmp_path_factory.getbasetemp()
    return base.parent if hasattr(request.config, "workerinput") else base


def _ordinary(base: Path, rate_hz: int, bits: int) -> OrdinaryShow:
    name = f"ordinary-{rate_hz}-{bits}"
    return made_once(base, name, lambda: ordinary_show(base / name, rate_hz=rate_hz, bits=bits))


@pytest.fixture(scope="session")
def ordinary_48k(shared_base: Path) -> OrdinaryShow:
    """The ordinary show at 48 kHz, 24 bit. Do not change it: `shows.copied` gives a copy to break."""
    return _ordinary(shared_base, 48_000, 24)


@pytest.fixture(scope="session")
def ordinary_44k(shared_base: Path) -> OrdinaryShow:
    """The ordinary show at 44.1 kHz, 16 bit. Do not change it: `shows.copied` gives a copy to break."""
    return _ordinary(shared_base, 44_100, 16)


@pytest.fixture(scope="session", params=["ordinary_48k", "ordinary_44k"])
def ordinary(request: pytest.FixtureRequest) -> OrdinaryShow:
    """The ordinary show, both variants in turn."""
    show = request.getfixturevalue(request.param)
    assert isinstance(show, OrdinaryShow)
    return show


@pytest.fixture(scope="session")
def ordinary_scan(ordinary: OrdinaryShow, shared_base: Path) -> ShowAudit:
    """What a scan of the ordinary show says."""
    return made_once(shared_base, f"{ordinary.path.name}-scan", lambda: scan_show(ordinary.path, jobs=2))


@pytest.fixture(scope="session")
def corpus_scan(shared_base: Path) -> ShowAudit:
    """What a scan of the rendered songs says that lie beside the project."""
    corpus = shared_folder("corpus")
    return made_once(shared_base, "corpus-scan", lambda: scan_show(corpus, jobs=2))


@pytest.fixture(scope="session")
def demo_run(shared_base: Path) -> DemoRun:
    """The demo as a user meets it: `stemaudit demo` with no other word, in an empty folder of theirs."""

    def ran() -> DemoRun:
        home = shared_base / "demo-home"
        home.mkdir()
        kept = {"STEMAUDIT_CACHE_DIR": str(shared_base / "demo-kept")}
        return DemoRun(home=home, done=command.run("demo", cwd=home, **kept), kept=kept)

    return made_once(shared_base, "demo", ran)


@pytest.fixture(scope="session")
def demo_show(demo_run: DemoRun) -> Path:
    """The demo show's folder. Do not change it."""
    assert demo_run.done.returncode == 0, demo_run.done.stderr
    return demo_run.home / "stemaudit-demo"


@pytest.fixture(scope="session")
def demo_scan(demo_show: Path, shared_base: Path) -> ShowAudit:
    """What a scan of the demo says, by the demo's own settings."""

    def scanned() -> ShowAudit:
        return scan_show(demo_show, jobs=2, settings=settings_for(demo_show, None), today=date(2027, 5, 1))

    return made_once(shared_base, "demo-scan", scanned)


@pytest.fixture(scope="module", name="quick_workers")
def _quick_workers() -> Iterator[None]:
    """For `pytestmark` of files in which many short shows are scanned."""
    with quick_workers():
        yield
