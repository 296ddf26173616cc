"""Which lead of a capture each channel is read from, where clips sat on wrong pins: exceptions to the shared sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from app.case.change import Change
from app.case.changes import EditCapture
from app.case.record import OpenCase
from app.case.values import HeldCapture

Moves = tuple[tuple[str, str], ...]
"""Pairs of channels: what is read under the first name belongs under the second."""


def leads_of(held: HeldCapture) -> dict[str, str]:
    """Channel to the lead whose trace it gets; exchanges add up in their order. Channels that no lead reads are left
    out.

    >>> leads_of(HeldCapture("k", "n", "", "", 0, "r", 1, 0, 1, ("A", "B", "C"), swaps=(("A", "B"), ("B", "C"))))
    {'A': 'B', 'B': 'C', 'C': 'A'}
    """
    leads = {channel: channel for channel in held.channels}
    for a, b in held.swaps:
        leads[a], leads[b] = leads.get(b, b), leads.get(a, a)
    return {channel: lead for channel, lead in leads.items() if channel not in held.unread}


def moved_words(held: HeldCapture) -> tuple[str, ...]:
    """What was put right of the leads, a sentence's part each: "5 is read from lead 6", "lead 7 is turned over"."""
    leads = leads_of(held)
    moved = [f"{channel} is read from lead {lead}" for channel, lead in leads.items() if channel != lead]
    turned = [f"lead {lead} is turned over" for lead in held.inverted]
    return (*moved, *turned, *(f"no lead reads {channel}" for channel in held.unread))


@dataclass(frozen=True, slots=True)
class MendLeads(Change):
    """What one capture shows under wrong names goes under the right ones; ``inverted`` channels are turned over.

    Where leads are exchanged among themselves, nothing is lost. Where a row of clips sits one place off, the first of
    these channels is read by no lead any more, and the lead that was named by the last belongs to none.
    """

    key: str
    moves: Moves = ()
    inverted: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        if self.moves and self.inverted:
            return "put the leads right"
        if len(self.moves) == 2 and set(self.moves[0]) == set(self.moves[1]):
            return "swap two leads"
        return "move leads" if self.moves else "turn leads over"

    def applied(self, case: OpenCase) -> OpenCase:
        (held,) = (c for c in case.captures if c.key == self.key)
        leads = leads_of(held)
        turned = [leads[c] for c in self.inverted if c in leads]
        inverted = (*(c for c in held.inverted if c not in turned), *(c for c in turned if c not in held.inverted))
        more, unread = _as_swaps(self.moves)
        swaps = held.swaps
        for pair in more:
            # an exchange right after the same one takes it back
            swaps = swaps[:-1] if swaps[-1:] == (pair,) else (*swaps, pair)
        mended = replace(held, swaps=swaps, inverted=inverted, unread=(*held.unread, *unread))
        return EditCapture(mended).applied(case)


@dataclass(frozen=True, slots=True)
class RestoreLeads(Change):
    """All leads of a capture as they were clipped."""

    key: str

    @property
    def words(self) -> str:
        return "put leads back"

    def applied(self, case: OpenCase) -> OpenCase:
        (held,) = (c for c in case.captures if c.key == self.key)
        return EditCapture(replace(held, swaps=(), inverted=(), unread=())).applied(case)


def _as_swaps(moves: Moves) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """Exchanges, one after the other, that carry out the moves; and the channels that then no lead reads."""
    target = dict(moves)
    swaps: list[tuple[str, str]] = []
    unread: list[str] = []
    done: set[str] = set()
    heads = [c for c in target if c not in target.values()]
    for start in (*heads, *target):
        if start in done:
            continue
        way = _way(start, target)
        done |= set(way)
        if start in heads:
            unread.append(start)
        swaps += _pairs(way)
    return tuple(swaps), tuple(unread)


def _way(start: str, target: dict[str, str]) -> list[str]:
    """The channels from ``start`` on, each in the place of the next; the last is either back at it, or the end."""
    way = [start]
    while (further := target.get(way[-1])) is not None and further not in way:
        way.append(further)
    return way


def _pairs(way: Sequence[str]) -> list[tuple[str, str]]:
    """Exchanges after which each of ``way`` holds what the one before it held, and the first what the last did."""
    if len(way) < 2:
        return []
    found = [(way[0], way[-1]), *((way[i], way[i - 1]) for i in range(len(way) - 1, 1, -1))]
    return [(min(pair), max(pair)) for pair in found]
