"""What reading the rows of a file comes to, whichever way they were read."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from tracecore.capture import Float32, Int64, UInt8
from tracecore.readers.rows.blocks import Float64
from tracecore.readers.rows.time_log import TimeLog


@dataclass(frozen=True, slots=True, eq=False)
class ShownTimes:
    """``times`` float64[N] as printed, in picoseconds where they are dates or have a unit each; the ``first`` and the
    ``last`` one exactly; ``printed`` is the last printed digit of the largest time, in the same unit."""

    times: Float64
    first: Fraction
    last: Fraction
    printed: Fraction


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """All rows of a file.

    ``channels`` of logic are a name, the places int64 of the changes, the first row among them, and their levels uint8.
    Places are times in ps where the log says that these count, else numbers of rows from 0. ``last_changes`` says
    whether the last row changed anything.

    ``volts`` float32[N] stand by name, with the ``shown`` times of those rows; ``index`` int64[N] are the numbers of
    samples beside logic. The first row was at ``zero`` where times have a date; the last digit of times with dates or
    units is ``printed_ps``. ``words`` says how words were taken.
    """

    count: int
    channels: tuple[tuple[str, Int64, UInt8], ...]
    last_changes: bool
    log: TimeLog
    volts: dict[str, Float32] = field(default_factory=dict)
    shown: ShownTimes | None = None
    index: Int64 | None = None
    zero: str = ""
    printed_ps: int = 1
    words: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
