"""Does a part begin inside its first sound: has its head been cut off.

    HeadMeter(rate_hz, channels)   .add(levels)   .result(onsets, channels) -> Head | None

Fed with the levels that the onset meter makes (four bands, one value a millisecond). The first sound, as its
bands move in dB over 100 ms, is laid over the sounds that begin later in the same part: from their beginning,
and from up to 150 ms inside them. A whole first sound looks like the beginning of another; one whose head is
missing looks like the inside of others, so many milliseconds after they began, and like the beginning of
none. Levels are compared as they are: who repeats a note repeats its level, and a softer one is no like.

Own method. What it needs: a first sound that is there at once (a swell has no attack to lose), and three
later sounds like it within 40 s.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.results import Head, Onsets

HOPS = 40_000
"""So much is kept, from the first sound on: 40 s. Memory: four bytes each and channel."""

SOUND = np.float32(10.0 ** (-70.0 / 20.0))

SPAN = 100
"""Hops of the first sound that are compared: 100 ms, within which most sounds tell what they are."""

INSIDE = 150
"""How far inside later sounds it is looked for."""

BEFORE, BEGUN = 12, 6
"""An onset may be timed up to so many hops late; from so many after it on, it has begun."""

NEXT = 30
"""So many hops before the next onset its beginning may lie: slow attacks are timed late. A first sound like
that is like a beginning."""

SKIPPED = 2
"""A cut is a step of the waveform: it fills every band for a hop or two."""

RANGE_DB = 50.0
MOST_LIKES = 64
LIKES = 3
"""A likeness to one or two later sounds may be chance."""

SAME_PLACE = 3
"""The likes agree where they agree in the place to so many hops."""

STEP_DB = 0.5
"""Levels are kept in half dB above −127.5 dBFS."""

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float32]


class HeadMeter:
    """Memory: 160 kB a channel at most."""

    def __init__(self, hop_s: float, channels: int) -> None:
        self._hop_s = hop_s
        self._channels = channels
        self._kept: list[Bytes] = []
        self._hops = 0
        self._from_hop: int | None = None
        self._stored = 0

    def add(self, levels: Floats) -> None:
        """The next hops of every channel: linear levels, shape (channels, hops, bands)."""
        hops = levels.shape[1]
        begin = 0
        if self._from_hop is None:
            sounding = (levels > SOUND).any(axis=(0, 2))
            begin = int(np.argmax(sounding)) if sounding.any() else hops
            self._from_hop = self._hops + begin if begin < hops else None
        taken = levels[:, begin : begin + HOPS - self._stored]
        self._hops += hops
        if taken.shape[1]:
            quiet_db = 20.0 * np.log10(np.maximum(taken, 1e-7))
            self._kept.append(np.clip((quiet_db + 127.5) / STEP_DB, 0.0, 255.0).astype(np.uint8))
            self._stored += taken.shape[1]

    def result(self, onsets: Onsets, channels: tuple[int, ...]) -> Head | None:
        """Of some channels together (0-based). None: no sound, none at once, or too few later sounds."""
        if self._from_hop is None:
            return None
        kept = np.concatenate(self._kept, axis=1)[list(channels)]
        levels = (10.0 ** ((kept.astype(np.float32) * STEP_DB - 127.5) / 20.0)).sum(axis=0, dtype=np.float32)
        sounding = np.flatnonzero((levels > SOUND).any(axis=1))
        if not len(sounding):
            return None
        first = int(sounding[0])
        at = np.round(np.array(onsets.times_s) / self._hop_s).astype(np.int64) - self._from_hop
        return _fitted(levels, first, at, self._hop_s, (self._from_hop + first) * self._hop_s)


def _fitted(levels: Floats, first: int, at: npt.NDArray[np.int64], hop_s: float, at_s: float) -> Head | None:
    head = levels[first : first + SPAN]
    later = at[(at > first + SPAN + INSIDE) & (at + INSIDE + SPAN <= len(levels))][:MOST_LIKES]
    if len(head) < SPAN or len(later) < LIKES:
        return None
    floor = float(head.max()) * 10.0 ** (-RANGE_DB / 20.0)
    head_db = 20.0 * np.log10(np.maximum(head[SKIPPED:], floor))
    around = later[:, None] + np.arange(SKIPPED - BEFORE, INSIDE + SPAN)
    distance = _distances(20.0 * np.log10(np.maximum(levels[around], floor)), head_db)
    whole = distance[:, : BEFORE + BEGUN]
    inside = distance[:, BEFORE + BEGUN :]
    following = np.searchsorted(at, later, side="right")
    until = (
        np.where(following < len(at), at[np.minimum(following, len(at) - 1)] - later, INSIDE + NEXT) - NEXT
    )
    inside[np.arange(inside.shape[1])[None, :] + BEGUN > until[:, None]] = np.inf
    nearest = inside.min(axis=1)
    likes = np.argsort(nearest, kind="stable")[:LIKES]
    places = inside[likes].argmin(axis=1) + BEGUN
    return Head(
        at_s=at_s,
        start_db=20.0 * float(np.log10(head[:3].max() / head.max())),
        like_beginning_db=float(whole.min()),
        like_inside_db=float(nearest[likes[-1]]),
        missing_ms=1000.0 * hop_s * float(np.median(places)),
        agreed=bool(np.ptp(places) <= SAME_PLACE),
    )


def _distances(sounds_db: Floats, head_db: Floats) -> npt.NDArray[np.float64]:
    """RMS difference in dB, all bands, at each place of each sound: shape (sounds, places).

    sounds_db: shape (sounds, hops, bands); head_db: shape (hops, bands). All places of a sound at once, by
    their spectra.
    """
    from scipy.fft import irfft, next_fast_len, rfft

    hops, span = sounds_db.shape[1], len(head_db)
    sounds, wanted = sounds_db.astype(np.float64), head_db.astype(np.float64)
    size = next_fast_len(hops, real=True)
    product = rfft(sounds, size, axis=1) * np.conj(rfft(wanted, size, axis=0))
    crossed = irfft(product.sum(axis=2), size, axis=1)[:, : hops - span + 1]
    squares = np.zeros((len(sounds), hops + 1))
    np.cumsum((sounds**2).sum(axis=2), axis=1, out=squares[:, 1:])
    power = squares[:, span:] - squares[:, :-span]
    left = power - 2.0 * crossed + float((wanted**2).sum())
    found: npt.NDArray[np.float64] = np.sqrt(np.maximum(left, 0.0) / wanted.size)
    return found
