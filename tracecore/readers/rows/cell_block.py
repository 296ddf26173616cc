"""The cells of a block of rows, taken apart at once where nothing in them is out of the ordinary."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.readers.plan.words import DIGIT_BITS, MOST_BITS, WordColumn
from tracecore.readers.refusals import BadRow
from tracecore.readers.rows.row_text import scaled, split_time
from tracecore.readers.rows.row_values import RowValues

UInt64 = npt.NDArray[np.uint64]
_LEVEL = np.full(256, 255, np.uint8)
_LEVEL[list(b"01")], _LEVEL[list(b"xXzZ")] = (0, 1), UNKNOWN
_UNKNOWN_DIGIT, _NO_DIGIT = 64, 255
_DIGIT = np.full(256, _NO_DIGIT, np.uint8)
_DIGIT[list(b"0123456789")] = range(10)
_DIGIT[list(b"abcdef")] = _DIGIT[list(b"ABCDEF")] = range(10, 16)
_DIGIT[list(b"xXzZ")] = _UNKNOWN_DIGIT
_LOWER = np.arange(256, dtype=np.uint8)
_LOWER[65:91] += 32
_ALL = np.uint64(2**MOST_BITS - 1)


@dataclass(frozen=True, slots=True)
class Words:
    """One column of one block: the ``rows`` int64[n] that may differ from the one above, the first one among them,
    values and unknown bits uint64[n] in these, and the most digits of a word."""

    rows: Int64
    value: UInt64
    unknown: UInt64
    digits: int


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of one column of a block: from octet ``starts`` to ``ends`` (open), int64[n] each."""

    octets: UInt8
    starts: Int64
    ends: Int64

    def octet(self, place: int) -> UInt8:
        """Octet ``place`` of each cell; below zero it counts from the end."""
        return self.octets[(self.starts if place >= 0 else self.ends) + place]

    def without(self, count: int) -> Cells:
        return Cells(self.octets, self.starts + count, self.ends)

    def chosen(self, where: Int64) -> Cells:
        return Cells(self.octets, self.starts[where], self.ends[where])

    def texts(self, coding: str) -> list[str]:
        octets = self.octets.tobytes()
        return [octets[a:b].decode(coding, "replace").strip() for a, b in zip(self.starts, self.ends, strict=True)]

    def fresh(self) -> Int64:
        """The cells that may differ from the one before: all."""
        return np.arange(len(self.starts))

    @property
    def lengths(self) -> Int64:
        return self.ends - self.starts


@dataclass(frozen=True, slots=True)
class EvenCells:
    """The same where all cells are as long: ``planes`` uint8[length, n] holds their first octets, and so on."""

    planes: UInt8

    def octet(self, place: int) -> UInt8:
        return np.asarray(self.planes[place])

    def without(self, count: int) -> EvenCells:
        return EvenCells(self.planes[count:])

    def chosen(self, where: Int64) -> EvenCells:
        return EvenCells(self.planes.take(where, axis=1))

    def fresh(self) -> Int64:
        """The cells that differ from the one before, the first one among them."""
        differs = np.zeros(self.planes.shape[1], np.bool_)
        differs[0] = True
        for plane in self.planes:
            differs[1:] |= plane[1:] != plane[:-1]
        return np.flatnonzero(differs)

    @property
    def lengths(self) -> Int64:
        return np.full(self.planes.shape[1], len(self.planes), np.int64)


Column = Cells | EvenCells


def split_block(data: bytes, values: RowValues) -> list[Cells] | None:
    """The cells that are needed of whole lines; None where rows differ in cells, or one is not as it should be."""
    first = data[: data.index(b"\n") + 1]
    each, width = first.count(values.delimiter) + 1, values.plan.width
    if not values.spans([b""] * each):
        return None
    cells = _cells(data, each, values)
    if cells is None or any(int(cell.lengths.max()) for cell in cells[len(values.plan.columns) :]):
        return None
    if each < width and not values.closable and not int(cells[values.last.cell].lengths.min()):
        return None
    return cells[: values.needed]


def unquoted(data: bytes, delimiter: bytes) -> bytes | None:
    """Whole lines without the quotes around their cells; None where a quote stands anywhere else.

    >>> unquoted(b'"1","0"\\n', b","), unquoted(b'"1,"0\\n', b",")
    (b'1,0\\n', None)
    """
    if b'"' not in data:
        return data
    octets = np.frombuffer(b"\n" + data, np.uint8)
    quotes = np.flatnonzero(octets == 34)
    if len(quotes) % 2:
        return None
    opening, closing = quotes[::2], quotes[1::2]
    marks = np.isin(octets, np.frombuffer(b"\r\n" + delimiter, np.uint8))
    # no mark within a pair, and a mark or a blank on either side of it
    inside, outside = np.cumsum(marks), marks | (octets == 32)
    whole = outside[opening - 1] & outside[closing + 1] & (inside[opening] == inside[closing])
    return data.replace(b'"', b"") if bool(whole.all()) else None


def _cells(data: bytes, each: int, values: RowValues) -> list[Cells] | None:
    """Cells between the delimiters, wherever these stand; None where a row has more or fewer."""
    octets = np.frombuffer(data, np.uint8)
    mark = octets == 10
    rows = int(np.count_nonzero(mark))
    mark |= octets == values.delimiter[0]
    marks = np.flatnonzero(mark)
    if len(marks) != rows * each:
        return None
    ends = np.ascontiguousarray(marks.reshape(-1, each).T)
    if (octets[ends[-1]] != 10).any():
        return None
    # each carriage return stands at the end of a row, and each row has one, or none has
    ends[-1] -= values.carriage
    if (b"\r" in data) != values.carriage:
        return None
    if values.carriage and (np.count_nonzero(octets == 13) != rows or (octets[ends[-1]] != 13).any()):
        return None
    starts = np.empty_like(ends)
    starts[1:] = ends[:-1] + 1
    starts[0, 0], starts[0, 1:] = 0, ends[-1, :-1] + 1 + values.carriage
    if b" " in data:
        starts += octets[starts] == 32
    return None if (ends < starts).any() else [Cells(octets, starts[i], ends[i]) for i in range(each)]


def levels_of(cells: Column, unknown_allowed: bool) -> UInt8 | None:
    """Levels of cells of one letter, or none where a level is not known yet; None for any other cell."""
    lengths = cells.lengths
    if int(lengths.max()) > 1 or (not int(lengths.max()) and not unknown_allowed):
        return None
    if not int(lengths.max()):
        return np.full(len(lengths), UNKNOWN, np.uint8)
    level: UInt8 = _LEVEL[cells.octet(0)]
    if not int(lengths.min()):
        level[lengths == 0] = UNKNOWN
    return level if int(level.max()) <= (UNKNOWN if unknown_allowed else 1) else None


def worded_levels(cells: Column, words: dict[str, int], unknown_allowed: bool) -> UInt8 | None:
    """The same of cells that are one of the ``words``, in small letters, for a level."""
    known = words | {"0": 0, "1": 1} | (dict.fromkeys(("", "x", "z"), UNKNOWN) if unknown_allowed else {})
    level, lengths = np.full(len(cells.lengths), 255, np.uint8), cells.lengths
    for word, value in known.items():
        where = np.flatnonzero((lengths == len(word)) & (level == 255))
        chosen = cells.chosen(where)
        same = np.ones(len(where), np.bool_)
        for place, letter in enumerate(word.encode()):
            same &= _LOWER[chosen.octet(place)] == letter
        level[where[same]] = value
    return None if int(level.max()) == 255 else level


def words_of(cells: Column, column: WordColumn) -> Words | None:
    """Words of cells that all have a digit; None where one does not fit, or is printed in an unusual way."""
    # a cell like the one above it is what that one is
    rows = cells.fresh()
    cells = cells.chosen(rows)
    if int(cells.lengths.min()) <= len(column.prefix):
        return None
    for place, letter in enumerate(column.prefix.encode()):
        if (cells.octet(place) != letter).any():
            return None
    cells = cells.without(len(column.prefix))
    base, lengths = column.base or 16, cells.lengths
    each, least, most = DIGIT_BITS[base], int(lengths.min()), int(lengths.max())
    if most * each > MOST_BITS:
        return None
    if base != 2 and not column.prefix and most > 1 and _prefixed(cells, least):
        return None
    value = np.zeros(len(lengths), np.uint64)
    unknown: UInt64 | None = None
    for place in range(most):
        # a place in front of a short word is looked up, too, and is no digit
        digit = _DIGIT[cells.octet(-1 - place)]
        if place >= least:
            digit[lengths <= place] = 0
        if int(digit.max()) >= base:
            strange = digit == _UNKNOWN_DIGIT
            if ((digit >= base) & ~strange).any():
                return None
            unknown = np.zeros(len(lengths), np.uint64) if unknown is None else unknown
            unknown[strange] |= np.uint64(((1 << each) - 1) << (each * place))
            digit[strange] = 0
        value |= digit.astype(np.uint64) << np.uint64(each * place)
    if column.bits and (most > -(-len(column.bits) // each) or (value >> np.uint64(len(column.bits) - 1) > 1).any()):
        return None
    if unknown is None:
        return Words(rows, value, np.zeros(len(lengths), np.uint64), most)
    leads = (_DIGIT[cells.octet(0)] == _UNKNOWN_DIGIT) & (lengths * each < MOST_BITS)
    unknown[leads] |= _ALL << (lengths[leads] * each).astype(np.uint64)
    return Words(rows, value, unknown, most)


def _prefixed(cells: Column, least: int) -> bool:
    """Does any word without a prefix begin with 0x? A single reading says what is wrong with it."""
    if least < 2:
        cells = cells.chosen(np.flatnonzero(cells.lengths > 1))
    return bool(((cells.octet(0) == 48) & ((cells.octet(1) | 32) == 120)).any())


def times_of(cells: Column, values: RowValues) -> Int64 | None:
    """Printed times in ps, or numbers of samples, by texts of one length; each must have its digits where the first of
    them has."""
    whole = values.time is not None and values.time.form == "index"
    lengths = cells.lengths
    times = np.empty(len(lengths), np.int64)
    counts = np.bincount(np.minimum(lengths, 64))
    if counts[0]:
        return None
    for length in np.flatnonzero(counts).tolist():
        alike = counts[length] == len(lengths)
        where = np.empty(0, np.int64) if alike else np.flatnonzero(lengths == length)
        part = cells if alike else cells.chosen(where)
        octets = [part.octet(place) for place in range(length)]
        text = bytes(int(octet[0]) for octet in octets)
        try:
            first = split_time(text, values.scale.power, values.plan.decimal.encode())
        except BadRow:
            return None
        if length > 63 or len(first.digits) + max(0, first.scale) > 18 or first.scale < (0 if whole else -18):
            return None
        number = np.zeros(len(octets[0]), np.int64)
        for place, octet in enumerate(octets):
            digit = octet - np.uint8(48)
            if place in first.digits:
                number *= 10
                number += digit
            if int(digit.max()) > 9 if place in first.digits else (octet != text[place]).any():
                return None
        times[slice(None) if alike else where] = scaled(number, first.scale, first.sign)
    return times
