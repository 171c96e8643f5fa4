"""How long a large show's page takes from ready results: `python -m tests.benchmarks.page [SONGS STEMS]`.

Prints its size, its processor time beside the JSON report's of the same show (wanted: under 5 s for 100 songs
of 15 stems), and, where there is a Chromium, how long the longest pause is while it scrolls from top to end.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from audit.report.enlarged import places_of
from audit.report.html.faults import Extras
from audit.report.html.render import to_html
from audit.report.json_report import to_json
from tests.report.browser import chromium
from tests.report.large import excerpts_for, large_show

SCROLL = """async () => {
  let longest = 0, last = performance.now();
  while (scrollY + innerHeight < document.documentElement.scrollHeight - 2) {
    scrollBy(0, 600);
    await new Promise(requestAnimationFrame);
    const now = performance.now();
    longest = Math.max(longest, now - last);
    last = now;
  }
  return longest;
}"""


def seconds(work: Callable[[], str]) -> tuple[float, str]:
    """Processor time of the second of two runs, and what it made."""
    work()
    begun = time.process_time()
    made = work()
    return time.process_time() - begun, made


def main() -> None:
    songs, stems = (int(word) for word in sys.argv[1:3]) if len(sys.argv) > 2 else (100, 15)
    audit = large_show(songs, stems)
    extras = Extras(excerpts=excerpts_for(places_of(audit)), sounds={})
    page_s, page = seconds(lambda: to_html(audit, extras=extras))
    json_s, _ = seconds(lambda: to_json(audit))
    print(f"{songs} songs of {stems} stems: {len(page.encode()) / 1e6:.1f} MB")
    print(f"page: {page_s:.2f} s, {page_s / json_s:.1f} times the JSON report's {json_s:.2f} s")
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        path = Path(folder) / "page.html"
        path.write_text(page, encoding="utf-8")
        here = browser.new_page(viewport={"width": 1440, "height": 900})
        begun = time.perf_counter()
        here.goto(path.as_uri())
        print(f"opens in {time.perf_counter() - begun:.2f} s; longest pause while scrolling: "
              f"{here.evaluate(SCROLL):.0f} ms")  # fmt: skip


if __name__ == "__main__":
    main()
