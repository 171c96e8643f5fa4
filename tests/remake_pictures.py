"""The README's pictures of the demo's page and sheet, taken in a headless Chromium.

`python -m tests.remake_pictures` after `python -m tests.remake_reports`. They are not compared: letters look
different on every machine.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.report.browser import chromium

REPORTS = Path(__file__).parent.parent / "reports"


def main() -> int:
    """Writes page.png (its top), fault.png (a fault opened) and sheet.png."""
    with chromium() as browser:
        page = browser.new_page(viewport={"width": 1200, "height": 1010})
        page.goto((REPORTS / "demo.html").as_uri())
        page.screenshot(path=REPORTS / "page.png")
        page.locator("#s3 .fault summary", has_text="Dropout").click()
        song = page.locator("#s3")
        song.scroll_into_view_if_needed()
        box = song.bounding_box()
        top = page.evaluate("scrollY") + box["y"]
        clip = {"x": 0, "y": top - 12, "width": 1200, "height": 1010}
        page.screenshot(path=REPORTS / "fault.png", full_page=True, clip=clip)
        sheet = browser.new_page(viewport={"width": 960, "height": 700})
        sheet.goto((REPORTS / "demo-sheet.html").as_uri())
        sheet.screenshot(path=REPORTS / "sheet.png", full_page=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
