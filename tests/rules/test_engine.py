"""The engine: whom an answer belongs to, which limit is in force, what is worst."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from audit.findings import Severity
from audit.rules.engine import judge
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, Rule, Unanswered
from tests.evidence import find_rule, show, song, stem


def asking(scope: str, *outcomes: Outcome, model: str = "length-mismatch") -> Rule:
    """A rule of that scope that always answers so; its texts are borrowed."""

    def check(*_: object) -> Iterator[Outcome]:
        yield from outcomes

    return replace(find_rule(model), scope=scope, needs=(), check=check, over_show=None)  # type: ignore[arg-type]


TWO = show(song("A", stem("Bass.wav")), song("B", stem("Keys.wav"), stem("Pad.wav")))


def gaps(*rules: Rule) -> dict[str, list[tuple[str | None, str]]]:
    audit = judge(TWO, rules, version="0")
    assert audit.incomplete
    return {one.evidence.name: [(gap.stem, gap.reason) for gap in one.unmeasured] for one in audit.songs}


def test_what_the_show_cannot_answer_is_open_in_every_song():
    asked = asking("show", Unanswered(reason="a song is missing"))
    assert gaps(asked) == {"A": [(None, "a song is missing")], "B": [(None, "a song is missing")]}


def test_what_a_song_cannot_answer_is_open_in_that_song():
    def check(one: object, *_: object) -> Iterator[Outcome]:
        if getattr(one, "name", None) == "B":
            yield Unanswered(reason="too loud", stem="Pad.wav")

    assert gaps(replace(asking("song"), check=check)) == {"A": [], "B": [("Pad.wav", "too loud")]}


def test_what_a_stem_cannot_answer_bears_its_name():
    asked = asking("stem", Unanswered(reason="broken"))
    assert gaps(asked) == {
        "A": [("Bass.wav", "broken")],
        "B": [("Keys.wav", "broken"), ("Pad.wav", "broken")],
    }


def test_questions_that_do_not_arise_are_counted_once_each():
    rules = [asking(scope, NotApplicable(reason="no")) for scope in ("stem", "song", "show")]
    audit = judge(TWO, rules, version="0")
    assert not audit.incomplete
    assert audit.not_applicable == {"length-mismatch": 3 + 2 + 1}


def test_the_shows_own_limit_replaces_the_rules():
    def check(_: object, limit: Limit) -> Iterator[Outcome]:
        yield Hit(value=limit.value, message="{limit:g}", cure="none")

    asked = replace(asking("stem", model="dc-offset"), check=check)
    own = judge(TWO, [asked], version="0", limits={"dc-offset": Limit(value=-12.0, unit="dBFS")})
    assert {(f.value, f.limit, f.message) for one in own.songs for f in one.findings} == {
        (-12.0, -12.0, "−12")
    }


def test_the_worst_stands_first_then_stems_by_name_then_time():
    def hit(name: str, severity: Severity, at_s: float | None = None) -> Hit:
        return Hit(stem=name, severity=severity, at_s=at_s, message="m", cure="c")

    note, warning, error = Severity.NOTE, Severity.WARNING, Severity.ERROR
    some = (hit("B", note), hit("A", warning, 9.0), hit("B", error), hit("A", warning, 2.0), hit("A", error))
    audit = judge(TWO, [asking("song", *some)], version="0")
    order = [(f.severity, f.stem, f.at_s) for f in audit.songs[0].findings]
    assert order == [
        (error, "A", None), (error, "B", None), (warning, "A", 2.0), (warning, "A", 9.0), (note, "B", None),
    ]  # fmt: skip
