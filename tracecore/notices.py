"""What a person must know beside the findings: one sort of value, and the table of all that there are.

A notice is about the captures, their line-up or the leads; what is wrong with the board is a finding. To add one: a
row in ``NOTICE_KINDS``, ``notice(code, ...)`` where the matter is known, and a recipe in ``tests/notices``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Severity = Literal["info", "look", "doubt"]
"""``info`` is good to know, ``look`` asks for a look, ``doubt`` forbids the outcome "agrees"."""

WORST_FIRST: tuple[Severity, ...] = ("doubt", "look", "info")


@dataclass(frozen=True, slots=True)
class Notice:
    """One notice. ``code`` is a stable word of ``NOTICE_KINDS``; ``text`` says what was found, in one or two sentences;
    ``do`` what to do about it, empty where there is nothing; ``signals`` are those it is about, by the sheet."""

    code: str
    severity: Severity
    text: str
    do: str = ""
    signals: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """All of it, as one reads it in a line."""
        return f"{self.text} {self.do}".strip()


@dataclass(frozen=True, slots=True)
class NoticeKind:
    """One row of the table: how grave it is, what it means, and an example with what to do."""

    severity: Severity
    meaning: str
    example: str
    do: str = ""


NOTICE_KINDS: Mapping[str, NoticeKind] = MappingProxyType(
    {
        "no_lineup": NoticeKind(
            "doubt",
            "No offset makes the two sides fit, so nothing could be compared cycle by cycle.",
            "No line-up: at no offset do the two sides agree.",
            "Capture both from the same event on, and set the offset by hand if it is known.",
        ),
        "doubtful_lineup": NoticeKind(
            "doubt",
            "An offset was found, but another one may be the right one.",
            "Line-up ambiguous: offset +12 and offset +76 fit equally well.",
            "Capture both from the same event on, or add a signal that tells the two apart.",
        ),
    }
)
"""All codes. A code keeps its meaning for ever, since scripts read it in the JSON."""


def notice(code: str, text: str, do: str | None = None, signals: tuple[str, ...] = ()) -> Notice:
    """A notice of a kind in the table, which gives its severity, and what to do where ``do`` is None.

    Raises KeyError for a code that is not in the table.

    >>> notice("no_lineup", "No line-up: nothing fits.", "Capture again.").severity
    'doubt'
    """
    kind = NOTICE_KINDS[code]
    return Notice(code, kind.severity, text, kind.do if do is None else do, signals)


def in_order(notices: tuple[Notice, ...]) -> tuple[Notice, ...]:
    """The gravest first, each told once; those of one severity stay as they come."""
    return tuple(sorted(dict.fromkeys(notices), key=lambda own: WORST_FIRST.index(own.severity)))
