"""`stemaudit explain`: what a rule says, why it matters, how it is measured, where its limit comes from."""

from __future__ import annotations

from typing import Annotated

import typer

from audit.cli.choose import find_rule
from audit.cli.complete import complete_rule
from audit.cli.screen import say


def explain(
    rule: Annotated[
        str,
        typer.Argument(metavar="RULE", autocompletion=complete_rule, help="A rule's name, as in the report."),
    ],
) -> None:
    """Say what a fault is, what it does on stage, how it is found, and how to mend it.

    \b
    Example:
      stemaudit explain true-peak-over

    \b
    Exit codes:
      0  explained
      2  no rule has this name (the nearest ones are offered)
    """
    from audit.rules.texts import explain as text_of

    say(text_of(find_rule(rule)).rstrip("\n"))
