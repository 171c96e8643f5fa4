"""A place in a stem as a person types it: `1:23.456`, `83.456`, or the number of a sample."""

from __future__ import annotations

import re

from audit.errors import UsageError

_CLOCK = re.compile(r"(?:(?:(?P<h>\d{1,3}):)?(?P<m>\d{1,4}):)?(?P<s>\d{1,6}(?:[.,]\d{1,9})?)\s*s?")


def check_one_place(at: str | None, sample: str | None) -> None:
    """Raises UsageError unless exactly one of the two is given and can be read."""
    if (at is None) == (sample is None):
        raise UsageError(
            "say one place: --at 1:23.456 (minutes and seconds), --at 83.456, or --sample 4005888"
        )
    read_place(at, sample, 1)


def read_place(at: str | None, sample: str | None, rate_hz: int) -> int:
    """The frame of a place, 0-based.

    at: [hours:]minutes:seconds or seconds, decimals after a point or a comma. Raises UsageError.
    """
    if sample is not None:
        digits = re.sub(r"[\s_']", "", sample)
        if not re.fullmatch(r"\d{1,15}", digits, re.ASCII):
            raise UsageError(f"--sample {sample}: not the number of a sample; give a whole number from 0 on")
        return int(digits)
    assert at is not None
    found = _CLOCK.fullmatch(at.strip()) if at.isascii() else None
    if found is None:
        raise UsageError(
            f"--at {at}: not a place; give minutes and seconds as 1:23.456, or seconds as 83.456"
        )
    seconds = float(found["s"].replace(",", "."))
    if (found["m"] is not None and seconds >= 60) or (found["h"] is not None and int(found["m"]) >= 60):
        raise UsageError(f"--at {at}: a minute has 60 seconds, an hour 60 minutes; give it as 1:23.456")
    return round((int(found["h"] or 0) * 3600 + int(found["m"] or 0) * 60 + seconds) * rate_hz)
