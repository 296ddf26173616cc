"""Captures in, findings out: the one entry for the window, the command line and the tests."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tracecore.capture import Capture
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.compare.findings import Cause, SignalFinding
from tracecore.compare.lineup import Edge, Lineup

Progress = Callable[[float, str], None]
"""Called with a share (0 to 1) and what is being done; may raise ``Stopped`` to stop the work."""


class Stopped(Exception):  # noqa: N818 - a request of the person, not an error
    """Raised by a progress callback when the person asked to stop."""


@dataclass(frozen=True, slots=True, eq=False)
class CompareRequest:
    """What to compare. The first capture of each side is the pair that is shown; the others count in "seen in".

    ``clock`` is a signal name, or None to take the best candidate; ``offset`` None finds the offset.
    ``tolerance_ps`` None takes the sum of both sample periods and 10 ns for two boards' parts.
    """

    good: tuple[Capture, ...]
    suspect: tuple[Capture, ...]
    sheet: ProbeSheet = ProbeSheet()
    clock: str | None = None
    edge: Edge = "rising"
    offset: int | None = None
    family: str = "74"
    tolerance_ps: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """What came out. ``signals`` in the sheet's order, the clock first; ``causes`` best supported first."""

    request: CompareRequest
    lineup: Lineup
    signals: tuple[SignalFinding, ...]
    causes: tuple[Cause, ...]
    warnings: tuple[str, ...]

    @property
    def diverges(self) -> bool:
        """Does any signal diverge?"""
        return any(s.verdict == "diverges" for s in self.signals)

    def signal(self, name: str) -> SignalFinding:
        """The finding of one signal; KeyError where there is none."""
        for finding in self.signals:
            if finding.signal == name:
                return finding
        raise KeyError(name)


def compare(request: CompareRequest, progress: Progress | None = None) -> Comparison:
    """Compares. Raises RequestError where the request itself cannot be met (a clock that is not there)."""
    raise NotImplementedError
