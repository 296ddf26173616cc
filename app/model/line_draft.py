"""A line of the log, or a mark, that was begun and not kept, as it waits for whoever goes on with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from app.case.codec import decode, encode
from app.case.values import EntryKind, Mark, MarkKind, MarkSide, Picture

Draft = TypeVar("Draft", "LineDraft", "MarkDraft")


@dataclass(frozen=True, slots=True)
class LineDraft:
    """What was typed and chosen, without who and when. ``because``, ``corrects`` and ``mark`` are numbers, as in
    ``Entry``; ``pictures`` are photos that lie in the case already, ``reading`` what was typed of a reading."""

    kind: EntryKind
    text: str
    details: str = ""
    cycle: str = ""
    because: tuple[int, ...] = ()
    corrects: int | None = None
    pictures: tuple[Picture, ...] = ()
    mark: int | None = None
    helped: bool | None = None
    reading: tuple[str, ...] = ()

    def as_text(self) -> str:
        """For a file of settings."""
        return encode(self)


@dataclass(frozen=True, slots=True)
class MarkDraft:
    """The form of a mark as it was left: ``mark`` is what it was opened on, the others what was typed and chosen."""

    mark: Mark
    kind: MarkKind
    note: str
    signals: str
    side: MarkSide

    def as_text(self) -> str:
        """For a file of settings."""
        return encode(self)


def read_draft(kind: type[Draft], text: str) -> Draft | None:
    """What ``as_text`` wrote; None for anything else, since a file of settings can be edited by hand.

    >>> read_draft(LineDraft, LineDraft("done", "U14 exch", because=(3,)).as_text()).because
    (3,)
    >>> read_draft(LineDraft, "{}") is None
    True
    """
    try:
        return decode(kind, text)
    except ValueError:
        return None
