"""Which cycle of the suspect is which cycle of the good one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tracecore.capture import Int64

Status = Literal["unique", "weak", "ambiguous", "partial", "differs", "by hand", "none"]
Edge = Literal["rising", "falling"]


@dataclass(frozen=True, slots=True)
class MatchedRun:
    """``length`` cycles that pair one to one from good cycle ``good_start`` and suspect cycle ``suspect_start`` on."""

    good_start: int
    suspect_start: int
    length: int


@dataclass(frozen=True, slots=True)
class Candidate:
    """One offset that was tried: suspect cycle = good cycle + ``offset_cycles``.

    ``agreement`` is the share (0 to 1) of compared states that agree; ``overlap_cycles`` how many cycles
    both captures have there; ``disagreeing`` how many signals differ on more than 1 % of them.
    """

    offset_cycles: int
    agreement: float
    overlap_cycles: int
    disagreeing: int


@dataclass(frozen=True, slots=True, eq=False)
class Lineup:
    """The pairing of cycles. Falsy where none was found; ``reason`` then says why.

    ``good_edges_ps`` and ``suspect_edges_ps`` are the active edges of each side, int64, in its own time.
    ``runs`` are in order and do not overlap (one run today; slips make more). ``confidence`` is 0 to 1.
    """

    clock: str
    edge: Edge
    status: Status
    reason: str
    offset_cycles: int
    confidence: float
    runs: tuple[MatchedRun, ...]
    candidates: tuple[Candidate, ...]
    good_edges_ps: Int64
    suspect_edges_ps: Int64
    drift_ppm: float | None

    def __bool__(self) -> bool:
        return bool(self.runs)
