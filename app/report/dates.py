"""Days and times of the log in words, as they were where they were written."""

from __future__ import annotations

from datetime import datetime

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_words(at: str) -> str:
    """The day of an ISO 8601 text; the text itself where it is none.

    >>> day_words("2026-02-03T09:40:00+01:00")
    '3 Feb 2026'
    """
    try:
        when = datetime.fromisoformat(at)
    except ValueError:
        return at
    return f"{when.day} {MONTHS[when.month - 1]} {when.year}"


def time_words(at: str) -> str:
    """Day and time: ``3 Feb 2026, 09:40``."""
    try:
        when = datetime.fromisoformat(at)
    except ValueError:
        return at
    return f"{day_words(at)}, {when:%H:%M}"


def signed_words(at: str, author: str) -> str:
    """When and by whom: ``3 Feb 2026, 09:40 · R.``; what is not known falls out."""
    return " · ".join(part for part in (time_words(at), author) if part)


def camera_words(taken: str) -> str:
    """A camera's time, ``YYYY:MM:DD HH:MM:SS``, in words; another text as it stands.

    The form is that of CIPA DC-008 (Exif), tag DateTime, from memory.

    >>> camera_words("2026:02:04 15:20:11")
    '4 Feb 2026, 15:20'
    """
    day, space, time = taken.partition(" ")
    return time_words(f"{day.replace(':', '-')}T{time}") if space and day.count(":") == 2 else taken
