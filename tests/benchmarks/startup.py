"""How long `stemaudit --help` takes beside its bare libraries: `python -m tests.benchmarks.startup [rounds]`.

Prints medians and their ratio; the aim is at most 1.5. The two take turns, so that a busy machine is unfair
to neither, and both keep compiled bytecode, as an installed program does.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time

HELP = ("-m", "audit", "--help")
LIBRARIES = ("-c", "import typer, rich")
MOST_RATIO = 1.5


def compare(rounds: int = 15) -> tuple[float, float]:
    """Median seconds of the page of help and of the bare imports; a first round of each is not counted."""
    help_s, libraries_s = zip(*((_time_s(HELP), _time_s(LIBRARIES)) for _ in range(rounds + 1)), strict=True)
    return statistics.median(help_s[1:]), statistics.median(libraries_s[1:])


def _time_s(words: tuple[str, ...]) -> float:
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    began = time.perf_counter()
    subprocess.run([sys.executable, *words], env=environment, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - began


def main(rounds: int = 15) -> None:
    help_s, libraries_s = compare(rounds)
    print(
        f"stemaudit --help {1000 * help_s:.0f} ms, import typer, rich {1000 * libraries_s:.0f} ms: "
        f"{help_s / libraries_s:.2f} (aim: at most {MOST_RATIO})"
    )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
