"""Going from finding to finding on Compare: places that diverge, single cycles, broken limits, likely causes."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from app.pages.compare_steps import cycles_to_step, diverging_cycles, next_place, step_from
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from app.model.session import Session
    from tracecore.capture import Int64

NOTHING = "No divergence found"


class CompareFinder(QObject):
    """``said`` carries a line for the bottom of the window."""

    said = Signal(str)

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session

    def actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        return {
            "next_divergence": partial(self.step_place, True),
            "previous_divergence": partial(self.step_place, False),
            "next_cycle": partial(self.step_cycle, True),
            "previous_cycle": partial(self.step_cycle, False),
            "next_limit": partial(self.step_limit, True),
            "previous_limit": partial(self.step_limit, False),
            "next_cause": partial(self.step_cause, 1),
            "previous_cause": partial(self.step_cause, -1),
        }

    def step_place(self, forward: bool) -> None:
        """To the next place where the chosen signal diverges; where it has none left, to another signal's."""
        comparison, chosen = self._session.comparison, self._session.chosen
        if comparison is None:
            return
        found = next_place(comparison, chosen.signal, chosen.cycle, forward)
        if found is None:
            nothing = not any(len(own.diverging_cycles) for own in comparison.signals)
            self.said.emit(NOTHING if nothing else f"No {'later' if forward else 'earlier'} divergence")
            return
        signal, cycle = found
        self._session.choose(signal=signal, cycle=cycle)
        if chosen.signal is not None and signal != chosen.signal:
            side = "later" if forward else "earlier"
            self.said.emit(f"{chosen.signal} has no {side} place; {signal} diverges at cycle {group_digits(cycle)}")

    def step_cycle(self, forward: bool) -> None:
        """To the next single cycle that diverges."""
        comparison = self._session.comparison
        if comparison is None:
            return
        cycles = diverging_cycles(comparison, self._session.chosen.signal)
        if len(cycles):
            self._step_to(cycles, forward, "divergence")
        else:
            self.said.emit(NOTHING)

    def _step_to(self, cycles: Int64, forward: bool, what: str) -> None:
        chosen = self._session.chosen
        cycle = step_from(cycles, chosen.cycle, forward)
        if cycle is None:
            self.said.emit(f"No {'later' if forward else 'earlier'} {what}")
            return
        self._session.choose(signal=chosen.signal, cycle=cycle)

    def step_limit(self, forward: bool) -> None:
        """To the next level or time outside its limits."""
        if self._session.comparison is None:
            return
        cycles = cycles_to_step(self._session.comparison, self._session.chosen.signal)
        if len(cycles):
            self._step_to(cycles, forward, "level or time outside its limits")
        else:
            self.said.emit("No level and no time outside its limits")

    def step_cause(self, step: int) -> None:
        """To the next likely cause."""
        comparison = self._session.comparison
        causes = comparison.causes if comparison else ()
        if not causes:
            self.said.emit("No likely cause to go to")
            return
        ranks = [c.rank for c in causes]
        now = self._session.chosen.cause
        at = ranks.index(now) + step if now in ranks else 0
        self._session.choose(cause=ranks[min(max(at, 0), len(ranks) - 1)])
