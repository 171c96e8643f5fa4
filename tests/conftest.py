"""What every test folder shares: the ordinary show, built once a run whatever the number of processes."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.shows import OrdinaryShow, built_once


@pytest.fixture(scope="session")
def shared_base(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    """A folder that all processes of this run see."""
    base = tmp_path_factory.getbasetemp()
    return base.parent if hasattr(request.config, "workerinput") else base


@pytest.fixture(scope="session")
def ordinary_48k(shared_base: Path) -> OrdinaryShow:
    """The ordinary show at 48 kHz, 24 bit. Do not change it: `shows.copied` gives a copy to break."""
    return built_once(shared_base, rate_hz=48_000, bits=24)


@pytest.fixture(scope="session")
def ordinary_44k(shared_base: Path) -> OrdinaryShow:
    """The ordinary show at 44.1 kHz, 16 bit. Do not change it: `shows.copied` gives a copy to break."""
    return built_once(shared_base, rate_hz=44_100, bits=16)
