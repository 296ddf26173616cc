"""Days and times of a case in words, as they were where they were written."""

from __future__ import annotations

from datetime import datetime

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def moment(at: str) -> datetime | None:
    """The wall clock where it was written; None where the text is no ISO 8601 time."""
    try:
        return datetime.fromisoformat(at)
    except ValueError:
        return None


def day_words(at: str, year: bool = True) -> str:
    """The day of an ISO 8601 time; the text itself where it is none.

    >>> day_words("2026-02-03T09:40:00+01:00"), day_words("2026-02-03T09:40:00+01:00", year=False)
    ('3 Feb 2026', '3 Feb')
    """
    when = moment(at)
    if when is None:
        return at
    return f"{when.day} {MONTHS[when.month - 1]}" + (f" {when.year}" if year else "")


def time_words(at: str, year: bool = True) -> str:
    """Day and time: ``3 Feb 2026, 09:40``, or without the year ``3 Feb 09:40``."""
    when = moment(at)
    if when is None:
        return at
    return f"{day_words(at, year)}{',' if year else ''} {when:%H:%M}"


def signed_words(at: str, author: str, year: bool = True) -> str:
    """When and by whom; what is not known falls out.

    >>> signed_words("2026-02-03T09:40:00+01:00", "R.", year=False)
    '3 Feb 09:40 · R.'
    """
    return " · ".join(part for part in (time_words(at, year), author) if part)


def camera_words(taken: str) -> str:
    """A camera's time, ``YYYY:MM:DD HH:MM:SS``, in words; another text as it stands.

    The form is that of CIPA DC-008 (Exif), tag DateTime, from memory.

    >>> camera_words("2026:02:04 15:20:11")
    '4 Feb 2026, 15:20'
    """
    day, space, time = taken.partition(" ")
    return time_words(f"{day.replace(':', '-')}T{time}") if space and day.count(":") == 2 else taken
