"""What reading the rows of a file comes to, whichever way they were read."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from tracecore.capture import Float32, Int64, UInt8
from tracecore.readers.rows.blocks import Float64
from tracecore.readers.rows.time_log import TimeLog


@dataclass(frozen=True, slots=True, eq=False)
class ShownTimes:
    """``times`` float64[N] as printed; the first and the last one as text; ``printed`` is the last printed digit of the
    largest time, in the unit of the time column."""

    times: Float64
    first_text: str
    last_text: str
    printed: Fraction


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """All rows of a file.

    ``channels`` of logic are a name, the places int64 of the changes, the first row among them, and their levels uint8.
    Places are times in ps where the log says that these count, else numbers of rows from 0. ``last_changes`` says
    whether the last row changed anything.

    ``volts`` float32[N] stand by name, with the ``shown`` times in plain numbers of those rows; ``exact_ps`` int64[N]
    are other times of all rows, where the plan keeps them. The first row was at ``zero`` where times have a date; the
    last digit of times with dates or units is ``printed_ps``. ``words`` says how words were taken.
    """

    count: int
    channels: tuple[tuple[str, Int64, UInt8], ...]
    last_changes: bool
    log: TimeLog
    volts: dict[str, Float32] = field(default_factory=dict)
    shown: ShownTimes | None = None
    exact_ps: Int64 | None = None
    zero: str = ""
    printed_ps: int = 1
    words: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
