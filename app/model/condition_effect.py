"""What a condition for leaving out cycles says and does, before it is applied. No Qt here."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tracecore.errors import RequestError
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from tracecore.comparison import Comparison
    from tracecore.lineup.condition import Condition

_PLACE = re.compile(r"character (\d+)")


@dataclass(frozen=True, slots=True)
class Reading:
    """A condition as typed: ``words`` in plain words, or ``trouble`` with ``at`` the character, from 0, it is at."""

    words: str = ""
    trouble: str = ""
    at: int | None = None


@dataclass(frozen=True, slots=True)
class Effect:
    """Cycles of each side that a condition would leave out, and how many slips lie wholly in them."""

    good: int
    suspect: int
    slips: int
    of_slips: int

    @property
    def words(self) -> str:
        """The effect in a sentence."""
        cycles = f"Would leave out {group_digits(self.good)} good and {group_digits(self.suspect)} suspect cycles"
        if not self.of_slips:
            return cycles + "."
        return f"{cycles}, and with them {group_digits(self.slips)} of {group_digits(self.of_slips)} slips."


def read_condition(text: str, comparison: Comparison | None) -> Reading:
    """Reads what is typed back; names are looked up where there is a comparison. Quick enough for every key."""
    from tracecore.lineup.condition import in_words, parse
    from tracecore.lineup.leaving_out import left_out

    if not text.strip():
        return Reading()
    try:
        condition = parse(text)
        if comparison is not None:
            nothing = np.empty(0, np.uint8)
            left_out(condition, dict.fromkeys(_names(comparison), nothing), _buses(comparison))
    except RequestError as error:
        place = _PLACE.search(str(error))
        return Reading(trouble=str(error), at=int(place[1]) - 1 if place else None)
    return Reading(words=in_words(condition))


def effect(text: str, comparison: Comparison, tell: Callable[[float, str], None] | None = None) -> Effect:
    """What leaving out would do to the captures as they are lined up now; ``tell`` may raise to stop the work.

    Raises RequestError as ``parse`` does.
    """
    from tracecore.lineup.condition import parse
    from tracecore.lineup.leaving_out import left_out

    condition, lineup = parse(text), comparison.lineup
    buses = _buses(comparison)
    found = []
    for side in ("good", "suspect"):
        states = _states(comparison, condition, side, tell)
        found.append(left_out(condition, states, buses))
    good, suspect = found
    gone = 0
    for s in lineup.slips:
        own = good[s.good_cycle : s.good_cycle + s.missing]
        other = suspect[s.suspect_cycle : s.suspect_cycle + s.inserted]
        gone += bool(own.all() and other.all())
    return Effect(int(good.sum()), int(suspect.sum()), gone, len(lineup.slips))


def _names(comparison: Comparison) -> list[str]:
    counting = comparison.lineup.clock.split("+")
    return [
        f.signal
        for f in comparison.signals
        if f.good_trace is not None and f.suspect_trace is not None and f.signal not in counting
    ]


def _buses(comparison: Comparison) -> dict[str, dict[int, str]]:
    known, buses = set(_names(comparison)), dict[str, dict[int, str]]()
    for f in comparison.signals:
        if f.bus and f.bit is not None and f.signal in known:
            buses.setdefault(f.bus, {})[f.bit] = f.signal
    return buses


def _states(
    comparison: Comparison, condition: Condition, side: str, tell: Callable[[float, str], None] | None
) -> dict[str, np.ndarray]:
    """States of the signals that the condition names, and of one more where it names none."""
    from tracecore.measure.clock import cycle_states

    buses, names = _buses(comparison), _names(comparison)
    wanted = {bit for name in condition.names for bit in buses.get(name, {}).values()} | set(condition.names)
    lineup, request = comparison.lineup, comparison.request
    edges = lineup.good_edges_ps if side == "good" else lineup.suspect_edges_ps
    capture = (request.good if side == "good" else request.suspect)[0]
    rows = {}
    for f in comparison.signals:
        trace = f.good_trace if side == "good" else f.suspect_trace
        if trace is not None and f.signal in names and (f.signal in wanted or f.signal == names[0]):
            if tell is not None:
                tell(0.0 if side == "good" else 0.5, f"counting the cycles to leave out, {f.signal}")
            rows[f.signal] = cycle_states(trace, edges, capture.resolution_ps)
    return rows
