"""Columns of numbers whose cells change in length, read as one flat JSON array.

-0.25,12.5
3,-7e-05        [-0.25,12.5,3,-7e-05]

That grammar knows no plus in front, no leading zero and no point without a digit on either side; where one of these
stands in a piece, each of its cells is read by ``float``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

import numpy as np

from tracecore.capture import UInt8
from tracecore.readers.rows.blocks import Bools, Float64
from tracecore.readers.rows.cell_block import Cells
from tracecore.readers.rows.row_values import RowValues

if TYPE_CHECKING:
    from simdjson import Array, Parser

_COMMA, _POINT, _NEITHER, _OPEN, _CLOSE = b",._[]"


class NumberText:
    """Reads numbers by the plan in ``values``, whatever threads ask."""

    def __init__(self, values: RowValues) -> None:
        self._values = values
        # a parser keeps its memory for the next piece
        self._idle: list[Parser] = []

    def of_rows(self, piece: bytes) -> Float64 | None:
        """Numbers float64[rows, width] of whole lines of numbers alone, each equal to ``float`` of its cell; None where
        rows differ in cells, or a cell is no number."""
        octets, width = np.frombuffer(piece, np.uint8), self._values.plan.width
        delimiter = self._values.delimiter[0]
        newline, marks = np.zeros((2, len(octets) + len(octets) % 2), np.bool_)
        np.equal(octets, 10, out=newline[: len(octets)])
        np.equal(octets, delimiter, out=marks[: len(octets)])
        text = np.empty(len(octets) + 1, np.uint8)
        text[0], text[1:] = _OPEN, octets
        self._with_points(text)
        for letter, where in ((10, newline), (delimiter, marks)):
            if letter != _COMMA:
                # six times as fast as an assignment by a mask
                text[1:] += where[: len(octets)].view(np.uint8) * np.uint8((_COMMA - letter) % 256)
        text[-1] = _CLOSE
        marks |= newline
        rows = int(np.count_nonzero(newline))
        # as numbers stand between marks, no pair of bytes holds two of them; a row ends at each mark of that number
        pairs = np.flatnonzero(marks.view(np.uint16) != 0)
        if len(pairs) != rows * width or np.count_nonzero(marks) != len(pairs):
            return None
        if not newline.view(np.uint16)[pairs[width - 1 :: width]].all():
            return None
        if not self._ended(piece, octets, newline[: len(octets)], rows):
            return None
        return self._parsed(text, rows, width)

    def of_cells(self, columns: Sequence[Cells]) -> Float64 | None:
        """Numbers float64[rows, columns] of these columns, which stand from left to right, with others among them."""
        text = np.empty(len(columns[0].octets) + 2, np.uint8)
        text[0], text[1:-1] = _OPEN, columns[0].octets
        self._with_points(text)
        # from each cell on to the mark behind it
        steps = np.zeros(len(text), np.int8)
        steps[0], steps[1] = 1, -1
        for column in columns:
            text[1:][column.ends] = _COMMA
            steps[1:][column.starts] += 1
            steps[2:][column.ends] -= 1
        text = text[np.cumsum(steps, dtype=np.int8).view(np.bool_)]
        text[-1] = _CLOSE
        return self._parsed(text, len(columns[0].ends), len(columns))

    def _ended(self, piece: bytes, octets: UInt8, newline: Bools, rows: int) -> bool:
        """Does each row, and nothing else, end as the first row of the file does?"""
        if not self._values.carriage:
            return b"\r" not in piece
        returns = octets == 13
        return int(np.count_nonzero(returns)) == rows == int(np.count_nonzero(returns[:-1] & newline[1:]))

    def _with_points(self, text: UInt8) -> None:
        if self._values.plan.decimal == ",":
            # a point is no mark beside decimal commas
            points = text == _POINT
            text[text == _COMMA], text[points] = _POINT, _NEITHER

    def _parsed(self, text: UInt8, rows: int, width: int) -> Float64 | None:
        from simdjson import Parser

        array = text.tobytes()
        # what no number holds fails, or has no value, but for an array within; a tab may stand before a quote
        if array.find(_OPEN, 1) > 0 or b"\t" in array:
            return None
        try:
            parser = self._idle.pop()
        except IndexError:
            parser = Parser()
        try:
            # no name holds what was parsed, as a parser is not used again while somebody does
            flat = np.frombuffer(cast("Array", parser.parse(array)).as_buffer(of_type="d"), np.float64)
        except (TypeError, ValueError, RuntimeError):
            flat = _one_by_one(array)
        finally:
            self._idle.append(parser)
        return flat.reshape(rows, width) if len(flat) == rows * width else None


def _one_by_one(text: bytes) -> Float64:
    """The same by ``float``; none where a cell is no number."""
    try:
        # float() knows underscores among digits
        return np.array([] if b"_" in text else [float(cell) for cell in text[1:-1].split(b",")])
    except ValueError:
        return np.empty(0)
