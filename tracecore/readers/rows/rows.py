"""What reading the rows of a file comes to, whichever way they were read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

import numpy as np

from tracecore.capture import Float32, Int64, UInt8
from tracecore.readers.rows.time_log import TimeLog

Float64 = np.ndarray[Any, np.dtype[np.float64]]


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

    Channel c of logic, ``names[c]``, has the changes from ``bounds[c]`` to ``bounds[c + 1]`` (open), the first being
    the first row: to the ``levels`` uint8 at ``places`` int64, which are times in ps where the log says that these
    count, else numbers of rows from 0. ``last_changes`` says whether the last row changed anything.

    ``volts`` float32[N] stand by name, with the ``shown`` times in plain numbers of those rows; ``exact_ps`` int64[N]
    are other times of all rows, the first of which was at ``zero`` where they have a date, and the last digit of which
    is ``printed_ps``. ``words`` says how words were taken.
    """

    count: int
    names: tuple[str, ...]
    places: Int64
    levels: UInt8
    bounds: Int64
    last_changes: bool
    log: TimeLog
    volts: dict[str, Float32] = field(default_factory=dict)
    shown: ShownTimes | None = None
    exact_ps: Int64 | None = None
    zero: str = ""
    printed_ps: int = 1
    words: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def channels(self) -> Iterator[tuple[str, Int64, UInt8]]:
        """Name, places and levels of each channel of logic."""
        bounds = self.bounds.tolist()
        for name, start, stop in zip(self.names, bounds, bounds[1:], strict=False):
            yield name, self.places[start:stop], self.levels[start:stop]
