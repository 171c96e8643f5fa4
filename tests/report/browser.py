"""A headless Chromium for tests of pages, driven by Playwright; where it is absent they say so and skip."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

AXE = "~/.cache/stemaudit-tests/node_modules/axe-core/axe.min.js"
NAMES = ("chromium", "chromium-browser", "google-chrome")


@contextmanager
def chromium() -> Iterator[Any]:
    """A browser; skips the test where there is none."""
    playwright = pytest.importorskip("playwright.sync_api", reason="no playwright: pip install playwright")
    program = next((found for name in NAMES if (found := shutil.which(name))), None)
    if program is None:
        pytest.skip("no Chromium: apt-get install chromium")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()


def axe_source() -> str:
    """axe-core's script (npm, Deque Systems); skips the test where it was not installed."""
    for place in filter(None, (os.environ.get("STEMAUDIT_AXE"), AXE)):
        path = Path(place).expanduser()
        if path.is_file():
            return path.read_text(encoding="utf-8")
    pytest.skip("no axe-core: npm install --prefix ~/.cache/stemaudit-tests axe-core")


class Visit:
    """A page that was opened, and what went on meanwhile."""

    def __init__(self, page: Any, path: Path) -> None:
        self.page = page
        self.said: list[str] = []
        self.asked: list[str] = []
        self.dialogs: list[str] = []
        page.on("console", lambda message: self.said.append(message.text))
        page.on("pageerror", lambda error: self.said.append(str(error)))
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("requestfailed", self._failed)
        page.on("dialog", self._dismiss)
        self.address = path.resolve().as_uri()
        page.goto(self.address)

    def _failed(self, request: Any) -> None:
        """What the page's own policy stopped was never asked of anybody."""
        if "csp" in (request.failure or "").lower():
            self.asked.remove(request.url)

    def _dismiss(self, dialog: Any) -> None:
        self.dialogs.append(dialog.message)
        dialog.dismiss()

    def count(self, selector: str) -> int:
        return int(self.page.locator(selector).count())
