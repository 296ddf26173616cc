"""What a person may set of a comparison: one value that requests, the case, the command line and the window share."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import Any, Literal

Edge = Literal["rising", "falling"]
HIGHEST_SUPPLY_V = 20.0
"""No logic here is fed with more; a larger number is a slip of the hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareSettings:
    """``clock`` is a signal name, or None to take the best candidate, ``edge`` its active edge; ``offset`` None finds
    the offset. ``same_start`` says that both captures were triggered by the same event. ``family`` is the logic family
    of channels in volts whose row on the sheet names none. ``tolerance_ps`` None takes the sum of both sample periods
    and 10 ns for two boards' parts. ``qualifier`` is a condition on signals, in the operators of IEEE Std 1364: cycles
    in which it is true are left out on both sides. ``same_file`` allows the same bytes on both sides, as a self-test.
    ``supply_v`` is the supply at the chips in volts, ``bandwidth_hz`` that of the scope with its probe, in hertz, None
    where it is not known.
    """

    clock: str | None = None
    edge: Edge = "rising"
    offset: int | None = None
    same_start: bool = False
    family: str = "74"
    tolerance_ps: int | None = None
    qualifier: str | None = None
    same_file: bool = False
    supply_v: float = 5.0
    bandwidth_hz: float | None = None

    @property
    def settings(self) -> CompareSettings:
        """The settings alone, of whatever is made of them and more."""
        return CompareSettings(**{f.name: getattr(self, f.name) for f in fields(CompareSettings)})

    @property
    def named(self) -> dict[str, Any]:
        """By name, to make a request of.

        >>> CompareSettings(clock="CLK").named["clock"]
        'CLK'
        """
        return asdict(self.settings)
