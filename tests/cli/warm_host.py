"""The program behind `tests.cli.warm`: one Python with everything loaded, and a fork of it for every command.

    python -m tests.cli.warm_host READ WRITE

READ and WRITE are open file descriptors: orders come in as JSON, one a line, and every one is answered by a
line with its command's exit code (below zero: the signal that ended it, as `subprocess` has it).
"""

from __future__ import annotations

import atexit
import gc
import json
import multiprocessing
import os
import signal
import sys
import threading
import traceback
import warnings
from contextlib import suppress
from multiprocessing import resource_tracker
from typing import Any, NoReturn

from tests.loaded import load_everything


def fork_workers() -> None:
    """Workers are forks too: they find everything loaded, as the command itself does."""
    usual = multiprocessing.get_context
    multiprocessing.get_context = (  # type: ignore[assignment]
        lambda method=None: usual("fork" if method == "spawn" else method)
    )
    resource_tracker.ensure_running()


def become(order: dict[str, Any]) -> None:
    """This fork is the ordered command from now on."""
    os.environ.clear()
    os.environ.update(order["environment"])
    os.chdir(order["folder"])
    for number, (path, flags) in enumerate(
        ((os.devnull, os.O_RDONLY), (order["output"], os.O_WRONLY), (order["complaints"], os.O_WRONLY))
    ):
        opened = os.open(path, flags)
        os.dup2(opened, number)
        os.close(opened)
    sys.argv = ["stemaudit", *order["words"]]


def serve(orders: int, answers: int) -> None:
    """Returns in a fork that has become a command; in the host itself when nobody orders any more."""
    with open(orders, encoding="utf-8") as lines, open(answers, "w", encoding="utf-8") as told:
        for line in lines:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", DeprecationWarning)  # of numpy's threads, which sleep
                child = os.fork()
            if child == 0:
                os.setpgid(0, 0)
                become(json.loads(line))
                break
            _, status = os.waitpid(child, 0)
            with suppress(ProcessLookupError):  # workers of a command that was killed
                os.killpg(child, signal.SIGKILL)
            print(os.waitstatus_to_exitcode(status), file=told, flush=True)
        else:
            sys.exit()


def run_to_the_end() -> NoReturn:
    """The command, and what Python does when a program ends; only the memory is left to the system to clear,
    which Python would do for half a second, module by module."""
    from audit.cli.main import main

    code: object = 0
    try:
        main()
    except SystemExit as end:
        code = end.code or 0
    except BaseException:
        traceback.print_exc()
        code = 1
    if not isinstance(code, int):
        print(code, file=sys.stderr)
        code = 1
    for thread in threading.enumerate():
        if thread is not threading.current_thread() and not thread.daemon:
            thread.join()
    atexit._run_exitfuncs()
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except OSError:
        code = 120  # Python's own, where its output could not be written
    os._exit(code)


if __name__ == "__main__":
    load_everything()
    fork_workers()
    gc.collect()
    gc.freeze()
    serve(int(sys.argv[1]), int(sys.argv[2]))
    run_to_the_end()
