"""`python -m tests.lab [KIND …] [--seed N] [--most N]`: plant, listen, print the tables."""

from __future__ import annotations

import argparse
import importlib
import pkgutil

from tests.lab import kinds
from tests.lab.hearing import Bench
from tests.lab.kind import Cells, Kind, run, table
from tests.lab.tables import OwnTable


def every_kind() -> dict[str, Kind | OwnTable]:
    """The KIND of every file in tests/lab/kinds."""
    modules = (
        importlib.import_module(f"tests.lab.kinds.{info.name}")
        for info in pkgutil.iter_modules(kinds.__path__)
    )
    return {module.KIND.name: module.KIND for module in modules}


def main() -> None:
    known = every_kind()
    parser = argparse.ArgumentParser(prog="python -m tests.lab", description=__doc__)
    parser.add_argument("kind", nargs="*", help=f"of {', '.join(known)}; all by default")
    parser.add_argument(
        "--seed", type=int, default=11, help="of the songs that the lab builds (tuned on: 11)"
    )
    parser.add_argument("--most", type=int, default=None, help="plantings a cell")
    arguments = parser.parse_args()
    for name in arguments.kind or known:
        kind = known[name]
        print(f"\n{kind.name} (seed {arguments.seed})", flush=True)
        if isinstance(kind, OwnTable):
            for line in kind.lines(arguments.seed, arguments.most):
                print(f"  {line}", flush=True)
            continue
        cells: Cells = {}
        # One show at a time: the samples of all of them would fill a machine's memory.
        for show in kind.shows(arguments.seed):
            bench = Bench(show)
            alarms = bench.clean(kind.rules)
            print(f"  clean {show.name}: {len(show.songs)} songs, {len(alarms)} false alarms", flush=True)
            for alarm in alarms:
                print(
                    f"    {alarm.severity.value}: {alarm.songs} {alarm.stem}: {alarm.rule}, {alarm.message}"
                )
            run(kind, [bench], most=arguments.most, cells=cells)
        for line in table(kind, cells):
            print(f"  {line}", flush=True)


if __name__ == "__main__":
    main()
