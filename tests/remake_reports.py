"""Everything committed that is printed from the code: the README's rule table and the demo's reports.

`python -m tests.remake_reports` writes them; with `--compare` it only says what is out of step, exit code 1.
With `--readme` the README's tables alone are looked at, which takes no scan of the demo.
"""

from __future__ import annotations

import difflib
import io
import json
import math
import os
import re
import sys
import tempfile
from datetime import date
from pathlib import Path
from typing import Any

from rich.console import Console

from audit.cli.show_settings import settings_for
from audit.demo.show import write_demo
from audit.findings import ShowAudit
from audit.pipeline.excerpts import read_excerpts
from audit.pipeline.scan import scan_show
from audit.report.enlarged import places_of
from audit.report.html.faults import Extras
from audit.report.html.render import to_html
from audit.report.json_report import to_json
from audit.report.rebounce import rebounce_list
from audit.report.sheet.rows import crew_sheet
from audit.report.sheet.text import sheet_html
from audit.report.terminal import print_report
from audit.report.verdict import show_answer
from audit.rules.catalogue import RULES
from audit.rules.texts import table_markdown
from audit.settings.keys import keys_markdown

ROOT = Path(__file__).parent.parent
REPORTS = ROOT / "reports"
WIDTH = 100

PICTURE = """\
<svg viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
  <style>
    .{unique_id}-matrix {{ font-family: ui-monospace, "DejaVu Sans Mono", Menlo, Consolas, monospace;
      font-size: {char_height}px; line-height: {line_height}px; }}
    {styles}
  </style>
  <defs>
    <clipPath id="{unique_id}-clip-terminal">
      <rect x="0" y="0" width="{terminal_width}" height="{terminal_height}"/>
    </clipPath>
    {lines}
  </defs>
  <rect width="100%" height="100%" fill="#292929"/>
  <g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
    {backgrounds}
    <g class="{unique_id}-matrix">
    {matrix}
    </g>
  </g>
</svg>
"""
"""The bare text on a dark ground: no window around it, no font fetched from anywhere."""

DAY = "1 May 2027"
TODAY = date(2027, 5, 1)
"""Stands in the demo's reports whenever they are remade."""

DRAWN = re.compile(r'(?<= )(d|data-levels)="[^"]*"')
"""What pictures are drawn from: their last digits differ between processors, as those of the JSON do."""

NEAR = 1e-3
"""Numbers of the JSON report may differ by this much between processors: float32 sums round differently."""


def audit_demo() -> tuple[ShowAudit, Extras]:
    """The demo show, written and scanned in a temporary folder under the name the command uses; and its
    faults' places, read again."""
    with tempfile.TemporaryDirectory() as place:
        before = Path.cwd()
        os.chdir(place)
        try:
            show = write_demo(Path("stemaudit-demo"))
            audit = scan_show(show, jobs=2, settings=settings_for(show, None), today=TODAY)
            return audit, Extras(excerpts=read_excerpts(audit.evidence, places_of(audit)), sounds={})
        finally:
            os.chdir(before)


def remade_readme() -> dict[Path, str]:
    """README.md with the tables of rules and of settings as they are in the code."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    table = table_markdown(RULES).strip("\n")
    readme = re.sub(
        r"(<!-- rules:start -->\n).*?(<!-- rules:end -->)",
        lambda m: f"{m[1]}{table}\n{m[2]}",
        readme,
        flags=re.S,
    )
    readme = re.sub(
        r"(<!-- keys:start -->\n).*?(<!-- keys:end -->)",
        lambda m: f"{m[1]}{keys_markdown()}{m[2]}",
        readme,
        flags=re.S,
    )
    return {ROOT / "README.md": readme}


def remade() -> dict[Path, str]:
    """Every generated file with what should stand in it."""
    audit, extras = audit_demo()
    screen = Console(
        file=io.StringIO(), record=True, width=WIDTH, force_terminal=True, color_system="truecolor"
    )
    print_report(audit, screen)
    text = Console(file=io.StringIO(), width=WIDTH, no_color=True, force_terminal=False)
    print_report(audit, text)
    assert isinstance(text.file, io.StringIO)
    return {
        **remade_readme(),
        REPORTS / "demo.txt": text.file.getvalue(),
        REPORTS / "demo.svg": screen.export_svg(title="", code_format=PICTURE, unique_id="stemaudit"),
        REPORTS / "demo.json": to_json(audit),
        REPORTS / "demo.html": to_html(audit, extras=extras, made=DAY),
        REPORTS / "demo-rebounce.md": rebounce_list(audit, "md", made=DAY),
        REPORTS / "demo-sheet.html": sheet_html(crew_sheet(audit, answer=show_answer(audit), made=DAY)),
    }


def differs(path: Path, wanted: str) -> str:
    """In words, how a committed file differs from the remade one; empty where it does not."""
    if not path.is_file():
        return "is missing"
    found = path.read_text(encoding="utf-8")
    if path.suffix == ".json":
        return _unlike(json.loads(found), json.loads(wanted), "")
    if path.suffix == ".html":
        found, wanted = DRAWN.sub("", found), DRAWN.sub("", wanted)
    lines = list(difflib.unified_diff(found.splitlines(), wanted.splitlines(), lineterm="", n=0))
    return "\n".join(lines[2:12])


def _unlike(found: Any, wanted: Any, where: str) -> str:
    if isinstance(found, dict) and isinstance(wanted, dict) and list(found) == list(wanted):
        return next(filter(None, (_unlike(found[key], wanted[key], f"{where}.{key}") for key in found)), "")
    if isinstance(found, list) and isinstance(wanted, list) and len(found) == len(wanted):
        pairs = enumerate(zip(found, wanted, strict=True))
        return next(filter(None, (_unlike(a, b, f"{where}[{i}]") for i, (a, b) in pairs)), "")
    if (
        isinstance(found, float)
        and isinstance(wanted, (int, float))
        and math.isclose(found, wanted, abs_tol=NEAR)
    ):
        return ""
    if where.endswith("content_hash"):
        return ""  # of float samples that were synthesised here: the last bit may differ between processors
    return "" if found == wanted else f"{where}: {found!r} here, {wanted!r} remade"


def main() -> int:
    """Write, or with --compare only compare."""
    compare = "--compare" in sys.argv[1:]
    wrong = 0
    REPORTS.mkdir(exist_ok=True)
    for path, wanted in (remade_readme() if "--readme" in sys.argv[1:] else remade()).items():
        difference = differs(path, wanted)
        if not difference:
            continue
        if compare:
            wrong += 1
            print(f"{path.relative_to(ROOT)} is out of step with the code:\n{difference}", file=sys.stderr)
        else:
            path.write_text(wanted, encoding="utf-8")
            print(f"wrote {path.relative_to(ROOT)}")
    if wrong:
        print("Run: python -m tests.remake_reports", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
