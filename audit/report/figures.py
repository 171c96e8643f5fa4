"""Numbers with their units, with as many digits as somebody can use."""

from __future__ import annotations

import math
import re

from audit.findings import Finding
from audit.report.words import signed
from audit.units import duration, grouped

SIGNED_UNITS = frozenset({"dBFS", "dBTP", "LUFS", "dB", "LU"})
SINGULARS = frozenset({
    "beat", "bar", "frame", "sample", "stem", "song", "semitone", "plateau", "onset", "bit", "character",
})  # fmt: skip


def figure(value: float, unit: str | None, *, changed: bool = False) -> str:
    """`−29.3 dBFS`, `20 ms`, `11.273 s`, `1 frame`, `0.4 %`: one digit after the point for levels, three
    figures for the rest. Infinite levels are silence. changed: levels above zero carry a plus sign."""
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "silence" if value < 0 else "beyond measure"
    if unit in SIGNED_UNITS:
        return f"{'+' if changed and value >= 0.05 else ''}{signed(value)} {unit}"
    if unit == "ms" and abs(value) >= 1000.0:
        return duration(value).replace("-", MINUS)
    if unit == "ppm" and abs(value) >= 10_000.0:
        value, unit = value / 10_000.0, "%"
    if unit in ("correlation", "fit"):
        return f"{unit} {signed(value, 2)}"
    if unit is not None and unit.startswith("share of "):
        value, unit = 100.0 * value, f"% of {unit.removeprefix('share of ')}"
    if unit == "% of the other songs" and value > 99.95:
        return "all of the other songs"
    return f"{_number(value, unit)} {_noun(value, unit)}".rstrip()


def _number(value: float, unit: str | None) -> str:
    if float(value).is_integer() or abs(value) >= 1000:
        digits = 0
    elif _noun(2.0, unit) in ("samples", "frames"):
        digits = 1
    else:
        digits = 1 if abs(value) >= 10 else 2
    if abs(value) >= 10_000:
        return grouped(value).replace("-", MINUS)
    return signed(value, digits)


def _noun(value: float, unit: str | None) -> str:
    """The unit with the ending that its number asks for."""
    if unit is None:
        return ""
    one = unit.removesuffix("s")
    if one not in SINGULARS:
        return unit
    return one if abs(value) == 1.0 else f"{one}s"


MINUS = "−"


def measured_words(finding: Finding) -> str:
    """`measured 20 ms, limit 2 ms`; what a stem is and the show is, where that is no number; else empty."""
    found, usual, level = (finding.measured.get(name) for name in ("found", "usual_words", "level"))
    limit = "" if finding.limit is None or math.isnan(finding.limit) else figure(finding.limit, finding.unit)
    if finding.value is not None and not math.isnan(finding.value):
        return f"measured {figure(finding.value, finding.unit, changed=True)}" + (
            f", limit {limit}" if limit else ""
        )
    if isinstance(found, str) and isinstance(usual, str):
        return f"measured {found}, the show has {usual}"
    if isinstance(level, str):
        return f"measured {level}" + (f", limit {limit}" if limit else "")
    return ""


def headline_of(finding: Finding) -> str:
    """The finding as a heading: its rule's name, or what is missing: `No timecode`."""
    missing = finding.measured.get("missing")
    if finding.rule == "missing-role" and isinstance(missing, str):
        return sentence(missing)
    return title_of(finding.rule)


def below_headline(finding: Finding) -> str:
    """The finding's message as it stands under its heading, which is not said again."""
    missing = finding.measured.get("missing")
    if headline_of(finding) != title_of(finding.rule) and isinstance(missing, str):
        left = finding.message.removeprefix(missing).lstrip(":, ")
        return "the settings require it" if left == "which the settings require" else left
    return finding.message


def title_of(rule: str) -> str:
    """A rule's id as a heading: `silent-stem` is `Silent stem`."""
    words = rule.replace("-", " ")
    return words[:1].upper() + words[1:] if not words.startswith("dc ") else "DC" + words[2:]


def sentence(text: str) -> str:
    """A finding's words as a line of its own: a capital letter, unless they begin with a name."""
    word = text.split(" ", 1)[0].rstrip(":,;")
    return text[:1].upper() + text[1:] if word.isalpha() and word.islower() else text


_CAUTION = re.compile(r"\b(?:PA|ears?|in-ears?|ear mix|monitors?)\b|sound pressure|turn everything down")


def with_cautions(text: str) -> str:
    """Where there is little room: the first sentence, with the next where it only says to listen, and every
    other one that keeps somebody from harm."""
    first, *others = re.split(r"(?<=\.) (?=[A-Z])", text)
    if first.startswith("Listen first") and others:
        first = f"{first} {others.pop(0)}"
    return " ".join([first, *(other for other in others if _CAUTION.search(other))])
