"""`stemaudit rules`: every rule on one page, by family."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING

from audit.cli.screen import say

if TYPE_CHECKING:
    from audit.rules.rule import Rule


def rules() -> None:
    """List every rule by family: its name, how much it matters, what it says.

    \b
    Examples:
      stemaudit rules
      stemaudit explain dropout

    \b
    Exit code: 0
    """
    from audit.rules.catalogue import RULES

    columns = min(shutil.get_terminal_size((100, 24)).columns, 120)
    say("\n".join(_page(RULES, columns)))


def _page(every: tuple[Rule, ...], columns: int) -> Iterator[str]:
    from audit.rules.texts import fill

    widest = max((len(rule.id) for rule in every), default=0)
    for family in dict.fromkeys(rule.family for rule in every):
        if family != every[0].family:
            yield ""
        yield family
        for rule in every:
            if rule.family == family:
                head = f"  {rule.id:<{widest}}  {rule.severity.value:<7}  "
                yield from textwrap.wrap(
                    _first_sentence(fill(rule.means, rule.limit)),
                    max(columns, len(head) + 20),
                    initial_indent=head,
                    subsequent_indent=" " * len(head),
                    break_on_hyphens=False,
                )


def _first_sentence(text: str) -> str:
    return text.split(". ")[0].rstrip(".") + "."
