"""What a comparison is asked for, and how it tells of its progress."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from tracecore.capture import Capture
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.circuit.wire_list import WireList
from tracecore.lineup.lineup import Edge

Progress = Callable[[float, str], None]
"""Called with a share (0 to 1) and what is being done; may raise ``Stopped`` to stop the work."""


class Stopped(Exception):
    """Raised by a progress callback when the person asked to stop."""


@dataclass(frozen=True, slots=True, eq=False)
class CompareRequest:
    """What to compare. The first capture of each side is the pair that is shown; the others count in "seen in".

    ``clock`` is a signal name, or None to take the best candidate; ``offset`` None finds the offset.
    ``tolerance_ps`` None takes the sum of both sample periods and 10 ns for two boards' parts. ``qualifier`` is a
    condition on signals, in the operators of IEEE Std 1364: cycles in which it is true are left out on both sides.
    """

    good: tuple[Capture, ...]
    suspect: tuple[Capture, ...]
    sheet: ProbeSheet = field(default_factory=ProbeSheet)
    clock: str | None = None
    edge: Edge = "rising"
    offset: int | None = None
    family: str = "74"
    tolerance_ps: int | None = None
    qualifier: str | None = None
    wire_list: WireList | None = None
    """Which nets feed which part, in signal names; it orders the likely causes."""
