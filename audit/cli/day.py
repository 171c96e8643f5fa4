"""The day of a report, in words."""

from __future__ import annotations

import os
from datetime import date, datetime, timezone

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip


def today() -> date:
    """This day, or that of SOURCE_DATE_EPOCH (reproducible-builds.org, seconds since 1970 in UTC), so that
    the same files can give the same bytes on any day."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if epoch.isascii() and epoch.isdigit() and len(epoch) <= 11:
        return datetime.fromtimestamp(int(epoch), tz=timezone.utc).date()
    return date.today()


def midnight(day: date) -> datetime:
    """The day's beginning in UTC: reports tell no time of day."""
    return datetime(day.year, day.month, day.day, tzinfo=timezone.utc)


def today_words() -> str:
    """`28 November 2026`."""
    return day_words(today())


def day_words(day: date) -> str:
    """In English, whatever the system's language."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
