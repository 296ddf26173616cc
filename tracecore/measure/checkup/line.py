"""What a check-up says: sentences, each with how bad it is for comparing."""

from __future__ import annotations

from collections.abc import Iterable
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


def few(names: Iterable[str], most: int = 8) -> str:
    """Names in a row, the first ones only where there are many.

    >>> few("ABCDE", 3)
    'A, B, C and 2 more'
    """
    listed = list(names)
    return ", ".join(listed[:most]) + (f" and {len(listed) - most} more" if len(listed) > most else "")
