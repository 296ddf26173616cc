"""A line of the log that was begun and not added, as it waits for whoever goes on with it."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from app.case.values import ENTRY_KINDS, EntryKind


@dataclass(frozen=True, slots=True)
class LineDraft:
    """What was typed, without who and when. ``because`` and ``corrects`` are numbers of entries, as in ``Entry``."""

    kind: EntryKind
    text: str
    details: str = ""
    cycle: str = ""
    because: tuple[int, ...] = ()
    corrects: int | None = None

    def as_text(self) -> str:
        """For a file of settings."""
        return json.dumps(asdict(self), ensure_ascii=False)


def read_draft(text: str) -> LineDraft | None:
    """What ``as_text`` wrote; None for anything else, since a file of settings can be edited by hand.

    >>> read_draft(LineDraft("done", "U14 exch", because=(3,)).as_text())
    LineDraft(kind='done', text='U14 exch', details='', cycle='', because=(3,), corrects=None)
    >>> read_draft("{}") is None
    True
    """
    try:
        found = json.loads(text)
        kind, words, details, cycle = (found[name] for name in ("kind", "text", "details", "cycle"))
        because, corrects = found["because"], found["corrects"]
    except (ValueError, KeyError, TypeError):
        return None
    fits = (
        kind in ENTRY_KINDS
        and all(isinstance(part, str) for part in (words, details, cycle))
        and isinstance(because, list)
        and all(isinstance(number, int) for number in because)
        and (corrects is None or isinstance(corrects, int))
    )
    return LineDraft(kind, words, details, cycle, tuple(because), corrects) if fits else None
