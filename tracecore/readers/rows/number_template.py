"""Columns of decimal numbers that stand at the same bytes of many rows, taken for all rows at once.

0.000000004,+1.2500,1    nine decimals, a sign and four decimals, a letter: one layout, whatever the digits are
0.000000008,-0.1250,0
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracecore.capture import Int64, UInt8
from tracecore.readers.rows.digit_places import DigitPlaces
from tracecore.readers.rows.row_template import folded

Float64 = np.ndarray[Any, np.dtype[np.float64]]
Bools = np.ndarray[Any, np.dtype[np.bool_]]

_NUMBER = {
    "decimal point": re.compile(rb"( *)([+-]?)(\d+)(?:(\.)(\d+))?(?:([eE])([+-])(\d{1,2}))? *"),
    "decimal comma": re.compile(rb"( *)([+-]?)(\d+)(?:(,)(\d+))?(?:([eE])([+-])(\d{1,2}))? *"),
}
# whole numbers of 15 digits and powers of ten up to the 22nd are exact doubles, so one division rounds correctly
_MOST_DIGITS = 15
_LARGEST_POWER = 22
_POWERS = 10.0 ** np.arange(_LARGEST_POWER + 1)
# more of them, as signs that come and go make, are no faster here than in a parser (measured)
_MOST_LAYOUTS = 3
# enough at once to keep two threads out of each other's way, few enough to stay in the cache
_ROWS = 1 << 15
_BYTES = 1 << 22


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the parts of a number stand in a row; ``sign`` and ``power_sign`` are -1 where there is none."""

    number: DigitPlaces
    decimals: int
    sign: int
    power: tuple[int, ...]
    power_sign: int


class NumberRows:
    """Reads rows of ``width`` cells, the numbers in ``columns``; ``letters`` are those that hold 0 or 1 alone."""

    def __init__(
        self, columns: tuple[int, ...], width: int, delimiter: str, decimal: str, letters: tuple[int, ...] = ()
    ) -> None:
        self._columns, self._width, self._delimiter, self._letters = columns, width, delimiter.encode(), letters
        self._number = _NUMBER["decimal comma" if decimal == "," else "decimal point"]

    def read(self, piece: bytes) -> list[Float64] | None:
        """The columns float64[rows] of whole lines, each equal to ``float`` of its cell.

        None where the rows have too many layouts, or one holds anything but plain numbers: that is for a slower
        reader to judge.

        >>> [c.tolist() for c in NumberRows((0, 1), 2, ",", ".").read(b"0.1,-2.5E+01\\n0.2,+3.5E-01\\n10,1\\n")]
        [[0.1, 0.2, 10.0], [-25.0, 0.35, 1.0]]
        """
        data = np.frombuffer(piece, np.uint8)
        first = self._layout(piece[: piece.find(b"\n") + 1])
        if first is None:
            return None
        rows, rest = divmod(len(data), first.width)
        if not rest:
            found = [np.empty(rows) for _ in self._columns]
            if first.take(data.reshape(rows, first.width), found):
                return found
        return self._grouped(piece, data)

    def _grouped(self, piece: bytes, data: UInt8) -> list[Float64] | None:
        ends = np.flatnonzero(data == 10)
        starts = np.concatenate(([0], ends[:-1] + 1))
        lengths = ends - starts + 1
        found = [np.empty(len(ends)) for _ in self._columns]
        left = np.arange(len(ends))
        for _ in range(_MOST_LAYOUTS):
            layout = self._layout(piece[int(starts[left[0]]) : int(ends[left[0]]) + 1])
            if layout is None:
                return None
            same = lengths[left] == layout.width
            group = left[same]
            matrix = np.lib.stride_tricks.sliding_window_view(data, layout.width)[starts[group]]
            fits = layout.fits(matrix - layout.low)
            good = group[fits]
            taken = [np.empty(len(good)) for _ in self._columns]
            layout.take(matrix[fits], taken)
            for column, values in zip(found, taken, strict=True):
                column[good] = values
            left = np.concatenate([left[~same], group[~fits]])
            if not len(left):
                return found
        return None

    def _layout(self, row: bytes) -> _Layout | None:
        body = row.removesuffix(b"\n").removesuffix(b"\r")
        cells = body.split(self._delimiter)
        if len(cells) != self._width or b"\r" in body or b'"' in body:
            return None
        places, letters, at = [], [], 0
        for column, cell in enumerate(cells):
            if column in self._letters:
                if cell not in (b"0", b"1"):
                    return None
                letters.append(at)
            if column in self._columns:
                place = self._place(cell, at)
                if place is None:
                    return None
                places.append(place)
            at += len(cell) + 1
        return _Layout(row, places, letters) if len(places) == len(self._columns) else None

    def _place(self, cell: bytes, at: int) -> _Place | None:
        found = self._number.fullmatch(cell)
        if found is None:
            return None

        def spots(group: int) -> tuple[int, ...]:
            return tuple(range(at + found.start(group), at + found.end(group))) if found[group] else ()

        digits, decimals, power = spots(3) + spots(5), len(spots(5)), spots(8)
        reach = decimals + (10 ** len(power) - 1 if power else 0)
        # an exponent of two digits may go further than doubles are exact; take() looks at that
        if len(digits) > _MOST_DIGITS or (not power and reach > _LARGEST_POWER):
            return None
        return _Place(DigitPlaces(digits), decimals, (spots(2) or (-1,))[0], power, (spots(7) or (-1,))[0])


class _Layout:
    """Lowest value and allowed range of each byte: a digit 48 and 9, a letter 48 and 1, a sign 43 and 2, any other
    itself and 0."""

    def __init__(self, row: bytes, places: list[_Place], letters: list[int]) -> None:
        low = np.frombuffer(row, np.uint8).copy()
        span = np.zeros_like(low)
        digits = [p for place in places for p in place.number.places + place.power]
        self._signs = [p for place in places for p in (place.sign, place.power_sign) if p >= 0]
        low[digits], span[digits] = 48, 9
        span[letters] = 1
        low[self._signs], span[self._signs] = 43, 2
        self.low, self.width = low, len(low)
        self._places = places
        self._rows = max(1, min(_ROWS, _BYTES // len(low)))
        self._lows = np.tile(low, self._rows)
        self._span = span
        self._powered = [place for place in places if place.power]

    def fits(self, less: UInt8) -> Bools:
        """Which rows of bytes minus ``low`` uint8[rows, width] have this layout, and are exact in doubles."""
        good = ~(less > self._span).any(1)
        # a comma lies between plus and minus
        for spot in self._signs:
            good &= less[:, spot] != 1
        for place in self._powered:
            good &= np.abs(_power(less, place)) <= _LARGEST_POWER
        return np.asarray(good)

    def take(self, matrix: UInt8, found: list[Float64]) -> bool:
        """Numbers of bytes uint8[rows, width] into ``found``; False at the first rows that do not fit."""
        room = np.empty(len(self._lows), np.uint8)
        for at in range(0, len(matrix), self._rows):
            flat = matrix[at : at + self._rows].reshape(-1)
            less = room[: len(flat)]
            np.subtract(flat, self._lows[: len(flat)], out=less)
            rows = less.reshape(-1, self.width)
            plain = bool((folded(np.maximum, less, self.width) <= self._span).all())
            if not plain or ((self._signs or self._powered) and not self.fits(rows).all()):
                return False
            for place, column in zip(self._places, found, strict=True):
                _numbers(rows, place, column[at : at + len(rows)])
        return True


def _numbers(less: UInt8, place: _Place, out: Float64) -> None:
    out[:] = place.number.numbers(less)
    if place.power:
        power = _power(less, place)
        # dividing and multiplying by an exact power rounds once; by a broken one it would round twice
        np.divide(out, _POWERS[np.maximum(-power, 0)], out=out)
        out *= _POWERS[np.maximum(power, 0)]
    elif place.decimals:
        out /= _POWERS[place.decimals]
    if place.sign >= 0:
        np.negative(out, out=out, where=less[:, place.sign] == 2)


def _power(less: UInt8, place: _Place) -> Int64:
    """The power of ten of a number with exponent, its decimals counted in."""
    power = np.zeros(len(less), np.int64)
    for spot in place.power:
        power *= 10
        power += less[:, spot]
    np.negative(power, out=power, where=less[:, place.power_sign] == 2)
    power -= place.decimals
    return power
