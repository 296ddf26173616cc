"""What a check-up says: sentences, each with how bad it is for comparing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tracecore.measure.clock import ClockCandidate

Kind = Literal["fine", "look", "bad"]
WORST_FIRST: tuple[Kind, ...] = ("bad", "look", "fine")


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One sentence: fine, worth a look, or bad for comparing."""

    kind: Kind
    text: str


@dataclass(frozen=True, slots=True)
class Checkup:
    """``lines`` worst first; ``clocks`` the clock candidates, best first."""

    lines: tuple[CheckLine, ...]
    clocks: tuple[ClockCandidate, ...]

    @property
    def worst(self) -> CheckLine:
        """The line to show when there is room for one."""
        return self.lines[0]
