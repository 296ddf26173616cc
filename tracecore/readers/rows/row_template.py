"""The layout of a row as bytes, so that thousands of rows of the same layout are checked and read in one step.

0.000000004,+1.2500,1    nine decimals, a sign and four decimals, a letter: one layout, whatever the digits are
0.000000008,-0.1250,0

Each byte of a row has a lowest value and an allowed range: a digit 48 and 9, a letter 48 and 1, a sign 43 and 2, any
other itself and 0. So ``row - lowest > range`` (in wrapping uint8) is true exactly where a byte does not fit, and the
differences are the digits and the levels.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, field

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.readers.plan.words import WordColumn
from tracecore.readers.refusals import BadRow
from tracecore.readers.rows.blocks import Block, Changes, Float64, changes_of
from tracecore.readers.rows.cell_block import EvenCells, words_of
from tracecore.readers.rows.digit_places import DigitPlaces
from tracecore.readers.rows.row_text import TimeText, cell_level, scaled, split_time
from tracecore.readers.rows.row_values import RowValues

_NUMBER = {
    mark: re.compile(rb"( *)([+-]?)(\d+)(?:(" + re.escape(mark) + rb")(\d+))?(?:([eE])([+-])(\d{1,2}))? *")
    for mark in (b".", b",")
}
_LEVEL = np.full(256, 255, np.uint8)
_LEVEL[list(b"01")], _LEVEL[list(b"xXzZ")] = (0, 1), UNKNOWN
# whole numbers of 15 digits and powers of ten up to the 22nd are exact doubles, so one division rounds correctly
_MOST_DIGITS = 15
_LARGEST_POWER = 22
_POWERS = 10.0 ** np.arange(_LARGEST_POWER + 1)
# rows are folded to one in strips of this many bytes, which stay in the nearest cache
_STRIP = 4096
# one word in so many may hold a change, for changes to be looked up one by one
_QUIET = 32


@dataclass(frozen=True, slots=True)
class _Number:
    """Where the parts of a number stand in a row; ``sign`` and ``power_sign`` are -1 where there is none."""

    digits: DigitPlaces
    decimals: int
    sign: int
    power: tuple[int, ...]
    power_sign: int

    def read(self, less: UInt8) -> Float64:
        """Numbers float64[rows] of differences uint8[rows, width], each equal to ``float`` of its cell."""
        out = self.digits.numbers(less).astype(np.float64)
        if self.power:
            power = self.powers(less)
            # dividing and multiplying by an exact power rounds once; by a broken one it would round twice
            np.divide(out, _POWERS[np.maximum(-power, 0)], out=out)
            out *= _POWERS[np.maximum(power, 0)]
        elif self.decimals:
            out /= _POWERS[self.decimals]
        if self.sign >= 0:
            np.negative(out, out=out, where=less[:, self.sign] == 2)
        return out

    def powers(self, less: UInt8) -> Int64:
        """The power of ten of a number with exponent, its decimals counted in."""
        power = np.zeros(len(less), np.int64)
        for spot in self.power:
            power *= 10
            power += less[:, spot]
        np.negative(power, out=power, where=less[:, self.power_sign] == 2)
        power -= self.decimals
        return power


@dataclass(slots=True)
class _Places:
    """What stands where in a row: ``numbers`` by their cells, the ``time`` of rows of logic, ``words`` by their cells,
    each from its first byte to its last, the ``letters`` of levels (-1 where a cell is empty), and ``others``, letters
    of columns that are left out. ``lettered`` says that one of them is no 0 or 1."""

    words: list[tuple[int, WordColumn, int, int]] = field(default_factory=list)
    numbers: dict[int, _Number] = field(default_factory=dict)
    time: TimeText | None = None
    letters: list[int] = field(default_factory=list)
    others: list[int] = field(default_factory=list)
    lettered: bool = False


class TemplateRows:
    """Reads pieces of rows that all have one layout, by the plan in ``values``."""

    def __init__(self, values: RowValues) -> None:
        self._values = values
        self._latest: RowTemplate | None = None

    def read(self, piece: bytes) -> Block | None:
        """The values of whole lines; None where they are not laid out as the first one, or one holds anything out of
        the ordinary: that is for a slower reading to judge."""
        data = np.frombuffer(piece, np.uint8)
        template = self._latest
        if template is None or not template.holds_first(data):
            template = self._latest = self.template(piece[: piece.find(b"\n") + 1])
        if template is None or len(data) % template.width:
            return None
        return template.read(data)

    def template(self, row: bytes) -> RowTemplate | None:
        """The layout of a row; None where only a single reading can tell what it is."""
        values = self._values
        body = row.removesuffix(b"\r\n" if values.carriage else b"\n")
        cells = body.split(values.delimiter)
        if len(body) == len(row) or b"\r" in body or b'"' in body or not values.spans(cells):
            return None
        if len(cells) < values.plan.width and not values.closable:
            return None
        places, at = _Places(), 0
        for column, cell in zip(values.plan.columns, cells, strict=False):
            if not self._found(places, column.cell, cell, at):
                return None
            at += len(cell) + 1
        return RowTemplate(row, places)

    def _found(self, places: _Places, number: int, cell: bytes, at: int) -> bool:
        """Adds what a cell holds; False where that is not plain."""
        values = self._values
        column, mark = values.plan.columns[number], values.plan.decimal.encode()
        if number in values.by_number:
            found = _number(cell, at, mark)
            if found is not None:
                places.numbers[number] = found
            return found is not None
        if column.kind == "time":
            try:
                time = split_time(cell, values.scale.power, mark)
            except BadRow:
                return False
            places.time = TimeText(0, tuple(at + place for place in time.digits), time.scale, time.sign)
            # times of so many digits may exceed the range, as only a single reading can tell
            least = 0 if column.form else -18
            return len(time.digits) + max(0, time.scale) <= 18 and time.scale >= least
        if column.word is not None:
            text = cell.strip(b" \t")
            start = at + cell.index(text)
            places.words.append((number, column.word, start, start + len(text)))
            return bool(text)
        if not column.of_letters:
            return True  # what is left out stays as it is, or makes another layout
        level, letter = cell_level(cell, True), cell.strip(b" \t")
        used = column.kind == "logic"
        if level is None or (level == UNKNOWN and used and not values.gaps):
            return False
        places.lettered = places.lettered or (level == UNKNOWN and bool(letter))
        (places.letters if used else places.others).append(at + cell.index(letter) if letter else -1)
        return True


def _number(cell: bytes, at: int, mark: bytes) -> _Number | None:
    found = _NUMBER[mark].fullmatch(cell)
    if found is None:
        return None

    def spots(group: int) -> tuple[int, ...]:
        return tuple(range(at + found.start(group), at + found.end(group))) if found[group] else ()

    digits, decimals, power = spots(3) + spots(5), len(spots(5)), spots(8)
    reach = decimals + (10 ** len(power) - 1 if power else 0)
    # an exponent of two digits may go further than doubles are exact, which _fit() looks at
    if len(digits) > _MOST_DIGITS or (not power and reach > _LARGEST_POWER):
        return None
    return _Number(DigitPlaces(digits), decimals, (spots(2) or (-1,))[0], power, (spots(7) or (-1,))[0])


class RowTemplate:
    """The layout of rows of ``width`` bytes, their line end included."""

    def __init__(self, row: bytes, places: _Places) -> None:
        numbers, time = list(places.numbers.values()), places.time
        low = np.frombuffer(row, np.uint8).copy()
        span = np.zeros_like(low)
        digits = [p for n in numbers for p in n.digits.places + n.power] + list(time.digits if time else ())
        self._signs = [p for n in numbers for p in (n.sign, n.power_sign) if p >= 0]
        self._known = [i for i, place in enumerate(places.letters) if place >= 0]
        cells = [places.letters[i] for i in self._known]
        either = cells + [p for p in places.others if p >= 0]
        low[digits], span[digits] = 48, 9
        low[self._signs], span[self._signs] = 43, 2
        # below a row with an X or Z any letter passes here in a cell, and is looked up
        low[either], span[either] = (0, 255) if places.lettered else (48, 1)
        for _, _, start, end in places.words:
            # these are looked up, too: no digit of a word is a delimiter
            low[start:end], span[start:end] = 0, 255
        self._words = places.words
        self.low, self.span, self.width = low, span, len(low)
        self._time, self._numbers, self._channels = time, places.numbers, len(places.letters)
        self._time_digits = DigitPlaces(time.digits if time else ())
        self._powered = [number for number in numbers if number.power]
        self._lettered, self._looked_up = places.lettered, either
        whole = not places.lettered and len(self._known) == self._channels
        self._by_change = whole and not numbers and time is None and not places.words
        self._channel_at = np.zeros(self.width, np.uint16)
        self._channel_at[cells] = self._known
        # evenly spaced cells are taken by a slice, which costs no copy
        steps = {b - a for a, b in itertools.pairwise(cells)}
        self._cells: slice | list[int] = cells
        if cells and len(steps) < 2 and min(steps, default=1) > 0:
            self._cells = slice(cells[0], cells[-1] + 1, steps.pop() if steps else 1)
        self._tiled = low

    def holds_first(self, data: UInt8) -> bool:
        """Has the first row this layout?"""
        less = data[: self.width] - self.low if len(data) >= self.width else None
        return less is not None and not (less > self.span).any() and self._fit(less[None])

    def _fit(self, less: UInt8) -> bool:
        """Have all rows of bytes minus the lowest ones uint8[rows, width] this layout, where none is above its range;
        and are they exact in doubles?"""
        return (
            # a comma lies between plus and minus
            all(not (less[:, spot] == 1).any() for spot in self._signs)
            and all(int(np.abs(number.powers(less)).max()) <= _LARGEST_POWER for number in self._powered)
            and (not self._lettered or int(_LEVEL[less[:, self._looked_up]].max()) <= UNKNOWN)
        )

    def read(self, data: UInt8) -> Block | None:
        """The values of rows laid out one after the other; None where one does not fit."""
        rows = len(data) // self.width
        if self._by_change:
            return self._read_by_change(data, rows)
        if len(self._tiled) < len(data):
            self._tiled = np.tile(self.low, rows)
        less = data - self._tiled[: len(data)]
        matrix = less.reshape(rows, self.width)
        if (folded(np.maximum, less, self.width) > self.span).any() or not self._fit(matrix):
            return None
        words = {}
        for cell, word, start, end in self._words:
            own = words_of(EvenCells(np.ascontiguousarray(matrix[:, start:end].T)), word)
            if own is None:
                return None
            words[cell] = own
        changes = changes_of(self.levels(matrix)) if self._channels else None
        return Block(rows, self.numbers(matrix), self.times_ps(matrix), changes, words)

    def _read_by_change(self, data: UInt8, rows: int) -> Block | None:
        """The same of letters 0 and 1 alone: as a byte may differ from the one above it in nothing but the last bit of
        a cell, each row behind the first one fits by induction."""
        if not self.holds_first(data):
            return None
        size = len(data) - self.width
        # eight bytes more than rows can take, as changes are looked for in words of eight
        room = np.empty(size + 8, np.uint8)
        turned = np.bitwise_xor(data[self.width :], data[:size], out=room[:size])
        room[size:] = 0
        if (folded(np.bitwise_or, turned, self.width) & ~self.span).any():
            return None
        first = data[: self.width][self._cells] - np.uint8(48)
        words = room[: -(-size // 8) * 8].view(np.uint64)
        changed = words != 0
        if np.count_nonzero(changed) * _QUIET > len(words):
            turns = np.zeros((self._channels, rows), np.bool_)
            turns[:, 1:] = turned.reshape(rows - 1, self.width)[:, self._cells].T
            return Block(rows, changes=Changes.at(turns, first))
        where = np.flatnonzero(changed)
        spots = np.flatnonzero(words[where].view(np.uint8))
        row, place = np.divmod(where[spots >> 3] * 8 + (spots & 7), self.width)
        channel = self._channel_at[place]
        order = np.argsort(channel, kind="stable")
        cuts = channel[order].searchsorted(np.arange(self._channels + 1))
        return Block(rows, changes=Changes(rows, cuts, (row[order] + 1).astype(np.int32), first))

    def numbers(self, less: UInt8) -> dict[int, Float64]:
        """Numbers float64[rows] by their cells, of differences uint8[rows, width]."""
        return {cell: number.read(less) for cell, number in self._numbers.items()}

    def levels(self, less: UInt8) -> UInt8:
        """Levels uint8[channels, rows] of the same."""
        known = np.ascontiguousarray(less[:, self._cells].T)
        if self._lettered:
            known = _LEVEL[known]
        if len(self._known) == self._channels:
            return known
        levels = np.full((self._channels, len(less)), UNKNOWN, np.uint8)
        levels[self._known] = known
        return levels

    def times_ps(self, less: UInt8) -> Int64 | None:
        """Times int64[rows] of the same, rounded half up as in a single row."""
        if self._time is None:
            return None
        return scaled(self._time_digits.numbers(less), self._time.scale, self._time.sign)


def folded(ufunc: np.ufunc, flat: UInt8, width: int) -> UInt8:
    """Rows uint8[k * width] to one; reading all once costs half of comparing each byte and looking for a hit."""
    each = max(1, _STRIP // width)
    strips = len(flat) // (each * width)
    if strips < 2:
        return np.asarray(ufunc.reduce(flat.reshape(-1, width), axis=0))
    size = strips * each * width
    strip = ufunc.reduce(flat[:size].reshape(strips, -1), axis=0)
    row = ufunc.reduce(strip.reshape(each, width), axis=0)
    if size < len(flat):
        row = ufunc(row, ufunc.reduce(flat[size:].reshape(-1, width), axis=0))
    return np.asarray(row)
