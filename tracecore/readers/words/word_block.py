"""A block of rows with words, taken apart at once where nothing in it is out of the ordinary."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.readers.logic.row_text import BadRow, RowLayout, split_time
from tracecore.readers.words.words import DIGIT_BITS, MOST_BITS, WordColumn

UInt64 = npt.NDArray[np.uint64]
_LEVEL = np.full(256, 255, np.uint8)
_LEVEL[list(b"01")], _LEVEL[list(b"xXzZ")] = (0, 1), UNKNOWN
_UNKNOWN_DIGIT, _NO_DIGIT = 64, 255
_DIGIT = np.full(256, _NO_DIGIT, np.uint8)
_DIGIT[list(b"0123456789")] = range(10)
_DIGIT[list(b"abcdef")] = _DIGIT[list(b"ABCDEF")] = range(10, 16)
_DIGIT[list(b"xXzZ")] = _UNKNOWN_DIGIT
_ALL = np.uint64(2**MOST_BITS - 1)


@dataclass(frozen=True, slots=True)
class Words:
    """One column of one block: values and unknown bits uint64[n], the most digits of a word."""

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
        return EvenCells(self.planes[:, where])

    @property
    def lengths(self) -> Int64:
        return np.full(self.planes.shape[1], len(self.planes), np.int64)


@dataclass(frozen=True, slots=True)
class Block:
    """Rows taken apart: ``times`` int64[n] or None, ``levels`` uint8[logic columns, n]."""

    times: Int64 | None
    levels: UInt8
    words: list[Words]


def split_block(data: bytes, layout: RowLayout, plan: tuple[WordColumn | None, ...], carriage: bool) -> Block | None:
    """Whole lines taken apart at once; None where anything is out of the ordinary."""
    if b'"' in data:
        return None
    cells = _even_cells(data, layout, len(plan) + layout.timed, carriage)
    if cells is None:
        cells = _cells(data, layout, len(plan) + layout.timed, carriage)
    if cells is None:
        return None
    times = _times(cells[0], layout) if layout.timed else None
    if layout.timed and times is None:
        return None
    levels, words = [], []
    for cell, column in zip(cells[layout.timed :], plan, strict=True):
        if column is None:
            level = _LEVEL[cell.octet(0)]
            if (cell.lengths != 1).any() or int(level.max()) > (UNKNOWN if layout.timed else 1):
                return None
            levels.append(level)
        elif (found := _words(cell, column)) is not None:
            words.append(found)
        else:
            return None
    rows = len(cells[0].lengths)
    return Block(times, np.array(levels, np.uint8).reshape(len(levels), rows), words)


def _even_cells(data: bytes, layout: RowLayout, wanted: int, carriage: bool) -> Sequence[Cells | EvenCells] | None:
    """Cells where all rows are as long and have their delimiters where the first one has."""
    first = data[: data.index(b"\n") + 1]
    width, text = len(first), first[: -1 - carriage]
    parts = text.split(layout.delimiter)
    if len(parts) == wanted + 1 and not parts[-1]:
        parts.pop()
    if len(data) % width or len(parts) != wanted or not all(parts) or b"\r" in text:
        return None
    planes = np.ascontiguousarray(np.frombuffer(data, np.uint8).reshape(-1, width).T)
    ends = [at for at in range(width) if first[at] in b"\r\n" + layout.delimiter]
    # what stands between is checked by those who read the cells: no digit is a delimiter
    if any((planes[at] != first[at]).any() for at in ends):
        return None
    found, start = [], 0
    for part in parts:
        blank = part.startswith(b" ")
        if blank and (len(part) == 1 or (planes[start] != 32).any()):
            return None
        found.append(EvenCells(planes[start + blank : start + len(part)]))
        start += len(part) + 1
    return found


def _cells(data: bytes, layout: RowLayout, wanted: int, carriage: bool) -> Sequence[Cells | EvenCells] | None:
    """Cells between the delimiters, wherever these stand; None where a row has more or fewer, or an empty one."""
    octets = np.frombuffer(data, np.uint8)
    marks = np.flatnonzero((octets == 10) | (octets == layout.delimiter[0]))
    each = data.count(layout.delimiter, 0, data.index(b"\n")) + 1
    if each not in (wanted, wanted + 1) or len(marks) % each:
        return None
    ends = np.ascontiguousarray(marks.reshape(-1, each).T)
    if (octets[ends[-1]] != 10).any() or (octets[ends[:-1]] == 10).any():
        return None
    starts = np.empty_like(ends)
    starts[1:] = ends[:-1] + 1
    starts[0, 0], starts[0, 1:] = 0, ends[-1, :-1] + 1
    if ((octets[ends[-1] - 1] == 13) != carriage).any():
        return None
    ends[-1] -= carriage
    if each > wanted and (ends[-1] != starts[-1]).any():
        return None
    starts[:wanted] += octets[starts[:wanted]] == 32
    if (ends[:wanted] <= starts[:wanted]).any():
        return None
    return [Cells(octets, starts[i], ends[i]) for i in range(wanted)]


def _words(cells: Cells | EvenCells, column: WordColumn) -> Words | None:
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
        return Words(value, np.zeros(len(lengths), np.uint64), most)
    leads = (_DIGIT[cells.octet(0)] == _UNKNOWN_DIGIT) & (lengths * each < MOST_BITS)
    unknown[leads] |= _ALL << (lengths[leads] * each).astype(np.uint64)
    return Words(value, unknown, most)


def _prefixed(cells: Cells | EvenCells, least: int) -> bool:
    """Does any word without a prefix begin with 0x? A single reading says what is wrong with it."""
    if least < 2:
        cells = cells.chosen(np.flatnonzero(cells.lengths > 1))
    return bool(((cells.octet(0) == 48) & ((cells.octet(1) | 32) == 120)).any())


def _times(cells: Cells | EvenCells, layout: RowLayout) -> Int64 | None:
    """Printed times in ps, by texts of one length; each must have its digits where the first of them has."""
    lengths = cells.lengths
    times = np.empty(len(lengths), np.int64)
    counts = np.bincount(np.minimum(lengths, 64))
    for length in np.flatnonzero(counts).tolist():
        alike = counts[length] == len(lengths)
        where = np.empty(0, np.int64) if alike else np.flatnonzero(lengths == length)
        part = cells if alike else cells.chosen(where)
        octets = [part.octet(place) for place in range(length)]
        text = bytes(int(octet[0]) for octet in octets)
        try:
            first = split_time(text, layout.unit, layout.decimal)
        except BadRow:
            return None
        if length > 63 or len(first.digits) + max(0, first.scale) > 18 or first.scale < -18:
            return None
        number = np.zeros(len(octets[0]), np.int64)
        for place, octet in enumerate(octets):
            digit = octet - np.uint8(48)
            if place in first.digits:
                number *= 10
                number += digit
            if int(digit.max()) > 9 if place in first.digits else (octet != text[place]).any():
                return None
        times[slice(None) if alike else where] = first.sign * _scaled(number, first.scale)
    return times


def _scaled(number: Int64, scale: int) -> Int64:
    if scale >= 0:
        return np.asarray(number * 10**scale)
    unit = 10**-scale
    return np.asarray((number + unit // 2) // unit)
