"""Numbers to the paths of pictures. Only figures go in and only figures and path letters come out.

All paths are drawn in a box of BOX_WIDTH by BOX_HEIGHT that the page stretches.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from audit.evidence import SongEvidence
from audit.results import Envelope, Trace

BOX_WIDTH, BOX_HEIGHT = 1000, 100
FLOOR_DB = -60.0
SONG_BINS = 400
STEM_BINS = 360


def level_db(code: int) -> float:
    """What an Envelope's byte stands for, in dBFS."""
    return -math.inf if code == 0 else (code - 240) / 2.0


def height(level: float) -> float:
    """0 at FLOOR_DB and below, 1 at full scale and above."""
    return min(1.0, max(0.0, 1.0 - level / FLOOR_DB))


def skyline(levels_db: Sequence[float], share: float = 1.0) -> str:
    """A closed path that stands on the box's foot, one step a level; share: part of the width it takes.

    Empty where all of it is silent.
    """
    tops = [round(BOX_HEIGHT * (1.0 - height(level))) for level in levels_db]
    if not tops or min(tops) == BOX_HEIGHT:
        return ""
    wide = BOX_WIDTH * share / len(tops)
    parts = [f"M0 {BOX_HEIGHT}"]
    before = BOX_HEIGHT
    for at, top in enumerate(tops):
        if top != before:
            parts.append(f"H{_short(at * wide)}V{top}")
            before = top
    parts.append(f"H{_short(len(tops) * wide)}V{BOX_HEIGHT}Z")
    return "".join(parts)


def song_levels(song: SongEvidence) -> list[float]:
    """How loud what the audience hears is, SONG_BINS times from the song's start to its end: the powers of
    its stems added up, as far as nothing in them cancels. Empty where nothing is known."""
    length_s = song.duration_s
    heard = [
        part.measures.envelope
        for stem in song.stems
        for part in stem.parts
        if part.audience and part.measures.envelope is not None
        and (song.mix is None or stem.name in song.mix.from_stems)
    ]  # fmt: skip
    if not heard or length_s <= 0.0:
        return []
    powers = [0.0] * SONG_BINS
    for envelope in heard:
        codes, bin_s = envelope.levels, envelope.bin_s
        for at in range(SONG_BINS):
            first = int(at * length_s / SONG_BINS / bin_s)
            last = max(first + 1, int((at + 1) * length_s / SONG_BINS / bin_s))
            loudest = max(codes[first:last], default=0)
            powers[at] += POWERS[loudest]
    return [10.0 * math.log10(power) if power > 0.0 else -math.inf for power in powers]


POWERS = tuple(0.0 if code == 0 else 10.0 ** ((code - 240) / 20.0) for code in range(256))


def stem_levels(codes: bytes) -> list[float]:
    """The levels of an envelope's bytes."""
    return [level_db(code) for code in codes]


def fewer(codes: bytes, most: int = STEM_BINS) -> bytes:
    """At most `most` bins, each the highest of those it stands for."""
    together = -(-len(codes) // most) if codes else 1
    return bytes(max(codes[at : at + together]) for at in range(0, len(codes), together))


def ticks(shares: Iterable[float]) -> str:
    """Upright strokes over the whole height at these shares of the width."""
    return "".join(f"M{_short(BOX_WIDTH * share)} 0V{BOX_HEIGHT}" for share in shares if 0.0 <= share <= 1.0)


def wave(trace: Trace, top: float) -> str:
    """The samples of a trace as a line, or as an area where a column holds several; `top`: the value at the
    box's upper edge."""
    scale = BOX_HEIGHT / 2.0 / top
    step = BOX_WIDTH / max(1, len(trace.highs))

    def y(value: float) -> str:
        return _short(BOX_HEIGHT / 2.0 - value * scale)

    if trace.lows == trace.highs:
        points = [f"{_short((at + 0.5) * step)} {y(value)}" for at, value in enumerate(trace.highs)]
        return "M" + "L".join(points)
    over = [f"{_short((at + 0.5) * step)} {y(value)}" for at, value in enumerate(trace.highs)]
    under = [f"{_short((at + 0.5) * step)} {y(value)}" for at, value in enumerate(trace.lows)]
    return "M" + "L".join([*over, *reversed(under)]) + "Z"


def highest(traces: Iterable[Trace]) -> float:
    """The largest |sample| of the traces."""
    return max(
        (max(abs(v) for v in (*trace.lows, *trace.highs)) for trace in traces if trace.highs), default=0.0
    )


def whole(envelope: Envelope | None, length_s: float, song_s: float) -> tuple[str, str]:
    """A stem over its song's length: (its peaks, its level) as skylines."""
    if envelope is None or song_s <= 0.0:
        return "", ""
    share = min(1.0, length_s / song_s)
    return (
        skyline(stem_levels(fewer(envelope.peaks)), share),
        skyline(stem_levels(fewer(envelope.levels)), share),
    )


def _short(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
