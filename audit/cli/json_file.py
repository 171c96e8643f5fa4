"""The JSON report as a file: complete or not there at all, and never in the place of something else."""

from __future__ import annotations

import sys

from audit.cli.output_file import STDOUT, begins_with, check_target, write_output
from audit.cli.screen import reader_may_leave
from audit.errors import OutputError


def check_json_target(target: str) -> None:
    """Raises OutputError where a report cannot be written: asked before the scan, not after it."""
    if target == STDOUT:
        return
    if not target.strip():
        raise OutputError("--json: no file is named: give a file name, or - for standard output")
    check_target(target, "--json", begins_with("{"), "JSON report")


def write_json(text: str, target: str) -> None:
    """The report to standard output ("-") or to a file, in UTF-8. Raises OutputError."""
    data = text.encode("utf-8")
    if target != STDOUT:
        write_output(data, target)
        return
    with reader_may_leave():
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
