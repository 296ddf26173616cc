"""One signal in volts, on both sides."""

from __future__ import annotations

from dataclasses import dataclass

from tracecore.compare.findings import LevelViolation, Side
from tracecore.measure.level_figures import LevelFigures, LevelVerdict


@dataclass(frozen=True, slots=True)
class Difference:
    """Suspect less good, in volts or as a ratio, with what it reads to."""

    value: float
    reads_to: float

    @property
    def tells(self) -> bool:
        """Is it more than it reads to?"""
        return abs(self.value) > self.reads_to


@dataclass(frozen=True, slots=True)
class LevelFinding:
    """What stands out on one signal. ``title`` is short (``weak low 1.11 V``); ``text`` are sentences; ``probe`` says
    where to measure, ``readings`` what each reading there may mean. ``side`` is the side that shows it."""

    title: str
    text: str
    probe: str = ""
    readings: tuple[tuple[str, str], ...] = ()
    side: Side = "suspect"
    since_cycle: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SignalLevels:
    """One signal in volts. A side without volts has no figures. ``condition`` names a signal at whose one level all of
    the findings fall, and ``condition_high`` which."""

    signal: str
    place: str
    active: str
    good: LevelFigures | None
    suspect: LevelFigures | None
    violations: tuple[LevelViolation, ...]
    verdict: LevelVerdict
    finding: LevelFinding | None
    low_shift: Difference | None = None
    high_shift: Difference | None = None
    rise_ratio: Difference | None = None
    condition: str = ""
    condition_high: bool = True

    @property
    def sides(self) -> tuple[tuple[str, LevelFigures], ...]:
        """The sides that have volts, by their words."""
        both = ("known-good", self.good), ("suspect", self.suspect)
        return tuple((words, side) for words, side in both if side is not None)

    @property
    def worst_margin_v(self) -> float:
        """The smallest margin of either side; infinite where none was seen."""
        sides = (side.worst_margin_v for _, side in self.sides)
        return min((m for m in sides if m is not None), default=float("inf"))
