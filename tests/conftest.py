"""What every test folder shares: the ordinary show and the demo, written and scanned once a run."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from audit.cli.show_settings import settings_for
from audit.demo.show import write_demo
from audit.findings import ShowAudit
from audit.pipeline.scan import scan_show
from tests.once import made_once
from tests.shared import shared_folder
from tests.shows import OrdinaryShow, ordinary_show
from tests.workers import quick_workers

# Hundreds of processes are started: each would translate the program anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


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
def demo_show(shared_base: Path) -> Path:
    """The demo show's folder. Do not change it."""
    return made_once(shared_base, "demo", lambda: write_demo(shared_base / "Borrowed Weather"))


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
