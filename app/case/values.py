"""What a case holds: frozen values, each plain enough to be written as one line of JSON.

Times of day are ISO 8601 text with their offset from UTC. Numbers (``id``) count from 1 within a case and are what
a person sees ("entry 3"). Cycles count the known-good capture's active edges from 0, as everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

EntryKind = Literal["seen", "suspected", "measured", "done", "result"]
ENTRY_KINDS: tuple[EntryKind, ...] = ("seen", "suspected", "measured", "done", "result")
MarkKind = Literal["question", "finding", "reference"]
MARK_KINDS: tuple[MarkKind, ...] = ("question", "finding", "reference")
CaseState = Literal["open", "waiting for a part", "repaired", "verified", "parked"]
CASE_STATES: tuple[CaseState, ...] = ("open", "waiting for a part", "repaired", "verified", "parked")
MarkSide = Literal["both", "good", "suspect"]


def now() -> str:
    """This moment, to the second, with its offset from UTC: ``2026-02-03T09:40:00+01:00``."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


@dataclass(frozen=True, slots=True)
class Unit:
    """One of the two machines, or boards, that are compared."""

    name: str = ""
    serial: str = ""
    slot: str = ""
    note: str = ""


MOST_SLOTS, MOST_ROWS, MOST_PINS = 40, 8, 200
"""No crate has more; a file that says so is damaged."""


@dataclass(frozen=True, slots=True)
class CrateShape:
    """How many slots a crate has, its rows of pins by letter, pins a row, and the name of each slot from slot 1 on."""

    slots: int
    rows: tuple[str, ...]
    pins: int
    names: tuple[str, ...] = ()

    def name(self, slot: int) -> str:
        """What is in a slot; empty where nobody said."""
        return self.names[slot - 1] if 0 < slot <= len(self.names) else ""


@dataclass(frozen=True, slots=True)
class RowName:
    """A row of the traces: a signal's or a bus's."""

    kind: Literal["signal", "bus"]
    name: str


@dataclass(frozen=True, slots=True)
class ShownRows:
    """How a person arranged the rows of the traces: in which order, and which are hidden. Rows that ``order`` does not
    name stand behind those that it names, as they come."""

    order: tuple[RowName, ...] = ()
    hidden: tuple[RowName, ...] = ()


@dataclass(frozen=True, slots=True)
class HeldCapture:
    """A capture as the case knows it, without its samples; those are read again when they are looked at.

    ``key`` tells it from all others of the case. ``sample_rate`` (hertz as an exact fraction, ``24000000/1``) and
    ``layout`` are what a person said of a file that does not say it itself. ``path`` is where the file was when it
    came in, ``size_bytes`` its size there. ``shades`` is the thumbnail, one row of digits a channel. ``swaps`` names
    pairs of channels whose leads were clipped the wrong way round: each reads the other's pin, one exchange after the
    other. ``inverted`` leads read the opposite, ``unread`` channels have no lead. ``left_alone`` holds what a person
    was offered to correct and did not want to. ``said`` is what else was said of the file, as names
    and texts: delimiter, first row, unit of time, base of a word, scale of volts. ``scope`` is a scope capture of the
    same run, joined with this one through the channels ``through``: of this one, and of the scope's. ``parts`` are
    further files of the same run, whose channels stand beside its own, joined by ``parts_by``: "trigger", or a signal
    that each of them holds. ``called`` pairs names of the file's channels with the names that they have in the case, by
    the side's own sheet or by consent; ``channels`` and what is said of leads use the latter.
    """

    key: str
    name: str
    path: str
    sha256: str
    size_bytes: int
    reader: str
    resolution_ps: int
    start_ps: int
    stop_ps: int
    channels: tuple[str, ...]
    facts: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    sample_rate: str = ""
    layout: str = ""
    note: str = ""
    taken: str = ""
    shades: tuple[str, ...] = ()
    swaps: tuple[tuple[str, str], ...] = ()
    left_alone: tuple[str, ...] = ()
    said: tuple[tuple[str, str], ...] = ()
    inverted: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    scope: HeldCapture | None = None
    through: tuple[str, ...] = ()
    parts: tuple[HeldCapture, ...] = ()
    parts_by: str = ""
    called: tuple[tuple[str, str], ...] = ()

    @property
    def clipping(self) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...], tuple[str, ...]]:
        """All that was said of its leads; empty tuples where they sit as the sheet has them."""
        return self.swaps, self.inverted, self.unread

    @property
    def reclipped(self) -> bool:
        """Does any lead differ from the sheet?"""
        return any(self.clipping)

    @property
    def files(self) -> tuple[HeldCapture, ...]:
        """Each file that it is read from: its own, and those that are joined with it."""
        if self.scope is None and not self.parts:
            return (self,)
        own = replace(self, scope=None, through=(), parts=(), parts_by="")
        return (own, *self.parts, *((self.scope,) if self.scope is not None else ()))

    @property
    def joining(self) -> tuple[object, ...]:
        """Which further files it is joined with, and how; empty where it is one file."""
        further = tuple(other.sha256 or other.key for other in self.files[1:])
        return (further, self.parts_by, self.through) if further else ()

    @property
    def shown_as(self) -> tuple[object, ...]:
        """All that was said of what it shows, beyond its own file; empty where nothing was."""
        parts = (self.clipping if self.reclipped else (), self.joining, self.called)
        return parts if any(parts) else ()


@dataclass(frozen=True, slots=True)
class Mark:
    """A place in the traces that somebody wants to find again.

    It covers the good cycles ``first_cycle`` to ``last_cycle`` (both closed). ``start_ps`` and ``stop_ps`` (good time)
    are there where it was made from two cursors. ``signals`` empty means all of them.
    """

    id: int
    kind: MarkKind
    note: str
    first_cycle: int
    last_cycle: int
    signals: tuple[str, ...] = ()
    side: MarkSide = "both"
    start_ps: int | None = None
    stop_ps: int | None = None
    author: str = ""
    at: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a meter said: between which points, on the good and on the suspect side, as it was typed, with unit."""

    where: str
    good: str = ""
    suspect: str = ""
    unit: str = "ohm"


@dataclass(frozen=True, slots=True)
class Figure:
    """The trace figure of a finding: of which signal, around which good cycle, from which pair of captures."""

    signal: str
    cycle: int
    caption: str = ""
    good: str = ""
    suspect: str = ""


@dataclass(frozen=True, slots=True)
class Proof:
    """How many captures after the repair agree or diverge, and how many of them diverge. Of ``uncounted`` ones besides
    it cannot be told."""

    diverging: int
    captures: int
    note: str = ""
    uncounted: int = 0


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the log. It is never overwritten: ``corrects`` names the entry that this one puts right.

    ``because`` names the entries that led to it. ``helped`` is for results: True, False, or None where it does not
    apply. ``marks`` and ``pictures`` are ids; ``cycle`` is a good cycle to jump to.
    """

    id: int
    kind: EntryKind
    text: str
    author: str = ""
    at: str = ""
    cycle: int | None = None
    helped: bool | None = None
    corrects: int | None = None
    because: tuple[int, ...] = ()
    marks: tuple[int, ...] = ()
    pictures: tuple[int, ...] = ()
    figure: Figure | None = None
    readings: tuple[Reading, ...] = ()
    proof: Proof | None = None
    details: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo, stored scaled as JPEG under ``stored``; ``sha256`` is that of the original file."""

    id: int
    name: str
    sha256: str
    stored: str
    width: int
    height: int
    caption: str = ""
    taken: str = ""


@dataclass(frozen=True, slots=True)
class PartMove:
    """A part that went from one place to another; one of these for each way. ``entry`` is the log's line about it."""

    id: int
    part: str
    source: str
    target: str
    date_code: str = ""
    entry: int | None = None
    at: str = ""
    author: str = ""


@dataclass(frozen=True, slots=True)
class StateStamp:
    """The case came into a state, as a box ticked on a repair card."""

    id: int
    state: CaseState
    at: str = ""
    author: str = ""


@dataclass(frozen=True, slots=True)
class CardRow:
    """One row of a bench card. ``boxes`` names the boxes to fill ("" for one without a name, or low and high).
    ``state`` is what else decides the reading: "slot 7 empty", or "card 7 in, red lead on B04"."""

    power: Literal["off", "on"]
    probe: str
    how: str
    good: str
    limit: str
    unit: str
    boxes: tuple[str, ...] = ("",)
    state: str = ""

    @property
    def where(self) -> str:
        """What stands below the pins."""
        return f"{self.how}; {self.state}" if self.state else self.how


@dataclass(frozen=True, slots=True)
class BenchCard:
    """A card to take to the cabinet; ``number`` is typed to find it again, as ``14-3``.

    ``filled`` holds what was read, a tuple for each row, with a text for each of its boxes.
    """

    id: int
    number: str
    signal: str
    cycle: int | None
    finding: str
    rows: tuple[CardRow, ...]
    filled: tuple[tuple[str, ...], ...] = ()
    found: str = ""
    notes: str = ""
    at: str = ""
    author: str = ""


@dataclass(frozen=True, slots=True)
class Unlike:
    """Another case that somebody called not alike, so that it is not offered again. ``case`` is its identity."""

    id: int
    case: str


def date_code_words(code: str) -> str:
    """A four-digit date code spelled out; empty where it is none (common practice: year and week).

    >>> date_code_words("7338")
    '1973, week 38'
    """
    if len(code) != 4 or not code.isdecimal() or not 1 <= int(code[2:]) <= 53:
        return ""
    year = int(code[:2])
    return f"{1900 + year if year >= 60 else 2000 + year}, week {int(code[2:])}"
