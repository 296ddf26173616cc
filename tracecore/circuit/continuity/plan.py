"""A numbered sheet of readings to make, and what comes back from it: typed by number, or from a logging meter's CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from tracecore.circuit.continuity.comparison import Pair
from tracecore.circuit.continuity.pin_name import pair_of
from tracecore.circuit.continuity.readings import CARD_IN, ContinuityList, Reading, Side, parse_ohms
from tracecore.errors import SheetError

_READING_WORDS = ("ohms", "ohm", "reading", "resistance", "value", "measurement")
_NUMBER_WORDS = ("number", "no", "no.", "index", "#", "sample")


@dataclass(frozen=True, slots=True)
class Planned:
    """One row of the sheet: its number from 1, two pins, and what the other side read (None if nothing)."""

    number: int
    start: str
    end: str
    good_ohms: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class MeasuringPlan:
    """The rows of a sheet in the order in which they are prompted, for one side."""

    rows: tuple[Planned, ...]
    side: Side = "suspect"

    def entered(self, number: int, text: str, *, read_on: str = "", by: str = "", note: str = "") -> Reading:
        """The reading typed for a row. Raises SheetError where the number is none of the sheet, or the text no ohms."""
        if not 1 <= number <= len(self.rows):
            raise SheetError(
                "measuring plan",
                found=f"number {number}",
                expected=f"a number from 1 to {len(self.rows)}",
                do="Type the number that stands at the left of the row.",
            )
        row = self.rows[number - 1]
        try:
            ohms = parse_ohms(text)
        except ValueError:
            raise SheetError(
                "measuring plan",
                line=number,
                found=f"{text!r} as ohms",
                expected="a number with k or M, or open",
                do="Correct this reading.",
            ) from None
        return Reading(row.start, row.end, ohms, self.side, read_on, by, note or row.note)

    def filled(self, values: Mapping[int, str], *, read_on: str = "", by: str = "") -> tuple[Reading, ...]:
        """The readings typed back by their numbers; a row left empty stays to be measured and is left out."""
        readings = (self.entered(n, text, read_on=read_on, by=by) for n, text in sorted(values.items()))
        return tuple(reading for reading in readings if reading.ohms is not None)


def plan_of(pairs: Iterable[Pair], side: Side = "suspect") -> MeasuringPlan:
    """A plan of the pairs that one side has not read yet, in the order given."""
    rows: list[Planned] = []
    for pair in pairs:
        mine = pair.suspect_ohms if side == "suspect" else pair.good_ohms
        if mine is None and side not in pair.over:
            other = pair.good_ohms if side == "suspect" else pair.suspect_ohms
            like = _as_read(pair, side)
            rows.append(Planned(len(rows) + 1, like.start, like.end, other, like.note))
    return MeasuringPlan(tuple(rows), side)


def _as_read(pair: Pair, side: Side) -> Reading:
    """How a pair is to be read: as its own row says, else as the other side was read last: leads, slot, card."""
    own = [reading for reading in pair.readings if reading.side == side]
    other = [reading for reading in pair.readings if reading.side != side and reading.ohms is not None]
    if own or other:
        return (own or other)[-1]
    return Reading(pair.start, pair.end, None, side, note=CARD_IN if pair.card_in else "")


def plan_between(pairs: Iterable[tuple[str, str]], readings: ContinuityList, side: Side = "suspect") -> MeasuringPlan:
    """A plan of pairs of pins, such as a slot's pins and their drivers, with what the other side read."""
    other: dict[tuple[str, str], float | None] = {
        r.pair: r.ohms for r in readings.readings if r.side != side and not r.card_in
    }
    rows: dict[tuple[str, str], Planned] = {}
    for start, end in pairs:
        key = pair_of(start, end)
        if key not in rows:
            rows[key] = Planned(len(rows) + 1, start, end, other.get(key))
    return MeasuringPlan(tuple(rows.values()), side)


def read_meter(path: str | Path, plan: MeasuringPlan, *, read_on: str = "", by: str = "") -> tuple[Reading, ...]:
    """The readings that a logging meter wrote, one a row in the order of the plan.

    The readings stand in one column: the one headed ohms, reading, resistance or value, or the only column. A column
    number, where there is one, says which row of the plan is meant. Raises SheetError where the rows do not fit.
    """
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise SheetError(
            path, found=f"no readable file ({error.strerror})", expected="a meter's CSV", do="Check the name."
        ) from error
    except UnicodeDecodeError as error:
        raise SheetError(
            path, found="bytes that are not UTF-8 text", expected="a meter's CSV", do="Save it as CSV in UTF-8."
        ) from error
    delimiter = max(",;\t", key=text.split("\n", 1)[0].count)
    rows = csv.reader(io.StringIO(text), delimiter=delimiter)
    return _MeterTable(str(path), plan, delimiter != ",").taken(rows, read_on, by)


class _MeterTable:
    """Takes a meter's rows; knows the columns of the reading and of the number."""

    def __init__(self, path: str, plan: MeasuringPlan, decimal_comma: bool) -> None:
        self.path, self.plan, self.decimal_comma = path, plan, decimal_comma
        self.column, self.number_column = 0, -1

    def taken(self, rows: Iterable[list[str]], read_on: str, by: str) -> tuple[Reading, ...]:
        out: list[Reading] = []
        seen: dict[int, int] = {}
        for line, cells in enumerate(rows, start=1):
            if not any(cell.strip() for cell in cells) or (line == 1 and self._is_heading(cells)):
                continue
            number = self._number(cells, line) if self.number_column >= 0 else len(seen) + 1
            if number in seen or number > len(self.plan.rows):
                raise SheetError(
                    self.path,
                    line=line,
                    found=f"a reading for row {number}" + (" a second time" if number in seen else ""),
                    expected=f"one reading for each of the plan's {len(self.plan.rows)} rows",
                    do="Take out what was read besides, or give the plan that was prompted.",
                )
            seen[number] = line
            text = cells[self.column] if self.column < len(cells) else ""
            reading = self._reading(number, text, line, read_on, by)
            if reading.ohms is not None:
                out.append(reading)
        return tuple(out)

    def _is_heading(self, cells: list[str]) -> bool:
        words = [cell.strip().lower().split("(")[0].strip() for cell in cells]
        named = [index for index, word in enumerate(words) if word in _READING_WORDS]
        if not named:
            if len(cells) > 1:
                raise SheetError(
                    self.path,
                    line=1,
                    found=f"{len(cells)} columns and none headed ohms, reading, resistance or value",
                    expected="one column of readings",
                    do="Write ohms above the column of the readings.",
                )
            try:
                parse_ohms(cells[0])
            except ValueError:
                return True
            return False
        self.column = named[0]
        self.number_column = next((index for index, word in enumerate(words) if word in _NUMBER_WORDS), -1)
        return True

    def _number(self, cells: list[str], line: int) -> int:
        text = cells[self.number_column].strip() if self.number_column < len(cells) else ""
        if not text.isdecimal() or int(text) < 1:
            raise SheetError(
                self.path,
                line=line,
                column=self.number_column + 1,
                found=f"{text!r} as number",
                expected=f"a whole number from 1 to {len(self.plan.rows)}",
                do="Correct this cell.",
            )
        return int(text)

    def _reading(self, number: int, text: str, line: int, read_on: str, by: str) -> Reading:
        plain = text.replace(",", ".") if self.decimal_comma else text
        try:
            parse_ohms(plain)
        except ValueError:
            raise SheetError(
                self.path,
                line=line,
                column=self.column + 1,
                found=f"{text.strip()!r} as ohms",
                expected="a number with k or M, or open",
                do="Correct this cell.",
            ) from None
        return self.plan.entered(number, plain, read_on=read_on, by=by)
