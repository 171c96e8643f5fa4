"""What every song of a show is compared with is worked out once, not once a song."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from audit.evidence import ShowEvidence

P = ParamSpec("P")
Answer = TypeVar("Answer")


def once_a_show(
    ask: Callable[Concatenate[ShowEvidence, P], Answer],
) -> Callable[Concatenate[ShowEvidence, P], Answer]:
    """`ask(show, …)` is answered from memory where it is asked again with the same show (the very object) and
    the same arguments (equal, or where they have no hash the very objects). Answers must not be changed.

    One show is remembered at a time. Without this a show's rules take the square of its songs.
    """
    about: list[ShowEvidence] = []
    answers: dict[Any, tuple[Any, Answer]] = {}

    @wraps(ask)
    def answered(show: ShowEvidence, *more: P.args, **named: P.kwargs) -> Answer:
        if not about or about[0] is not show:
            about[:] = [show]
            answers.clear()
        key = (*map(_key, more), *((name, _key(value)) for name, value in sorted(named.items())))
        if key not in answers:
            # The arguments stay with the answer: an object that lives keeps its number to itself.
            answers[key] = (more, named), ask(show, *more, **named)
        return answers[key][1]

    return cast("Callable[Concatenate[ShowEvidence, P], Answer]", answered)


def _key(value: Any) -> Any:
    try:
        hash(value)
    except TypeError:
        return ("the very object", id(value))
    return value
