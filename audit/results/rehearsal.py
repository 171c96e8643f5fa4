"""What a machine showed when it really streamed a song."""

from __future__ import annotations

from dataclasses import dataclass

FORGIVEN = 1e-3
"""Share of late callbacks that does not make a run dirty: this program's thread is no audio thread, and is
woken late now and then (own measurement: past 5 ms about once in 3000 times on a shared machine)."""

KEEPING_UP = 0.2
"""Share of late callbacks up to which a mixer at a higher speed keeps up: it cannot wake that often. A
buffer of 5 ms lasts 0.1 ms at 50 times the speed, about as long as a wake-up takes (own measurement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What one run at one speed showed."""

    speed: float
    rounds: int
    late_rounds: int
    callbacks: int
    late_callbacks: int
    lowest_buffer_s: float  # seconds of audio held at the worst moment; at most the prebuffer
    worst_round: float  # longest refill round as a share of the time it had
    cpu: float  # cores' worth of processor time that the whole run took
    refill_work: float = (
        0.0  # processor time that reading, decoding and converting took, a second of the show
    )
    mix_work: float = 0.0  # likewise of the mixer
    failure: str | None = None  # a stem that could not be read on

    @property
    def clean(self) -> bool:
        """No late refill, and hardly a late callback."""
        forgiven = FORGIVEN * self.callbacks + 1
        return self.failure is None and self.late_rounds == 0 and self.late_callbacks <= forgiven

    @property
    def keeps_up(self) -> bool:
        """No late refill, and the mixer not left behind: what a climb asks. At the song's own speed the mixer
        wakes as often as on stage, so there it has to be clean."""
        if self.speed <= 1.0:
            return self.clean
        mixed = self.late_callbacks <= KEEPING_UP * self.callbacks
        return self.failure is None and self.late_rounds == 0 and mixed


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """A song on this machine."""

    stems: int
    frames: int  # of a callback
    rate_hz: int
    refill_s: float
    prebuffer_s: float
    run: Run  # at the song's own speed, or the last clean one of a climb
    headroom: float | None  # the highest clean speed; None: not tried
    climb: tuple[Run, ...]
    opening_cold_s: float
    opening_warm_s: float
    surely_cold: bool  # the system was told to forget the files first
    failed: tuple[str, ...]  # stems that could not be opened, and why
    stopped: bool = False  # by the user, before its end
    others: float = 0.0  # share of all cores that other programs took meanwhile

    @property
    def clean(self) -> bool:
        """No late refill, hardly a late buffer, as far as it got."""
        return self.run.clean

    @property
    def good(self) -> bool:
        """Clean, or after a climb: it kept up at its own speed at least."""
        return self.clean if self.headroom is None else self.headroom >= 1.0
