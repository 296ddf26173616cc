"""The layout of a row as bytes, so that a thousand rows of the same layout are checked in one step."""

from __future__ import annotations

import itertools

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.readers.rows.digit_places import DigitPlaces
from tracecore.readers.rows.row_text import SplitRow

BLOCK = 1 << 20
UInt16 = np.ndarray[tuple[int, ...], np.dtype[np.uint16]]
_LEVEL = np.full(256, 255, np.uint8)
_LEVEL[list(b"01")], _LEVEL[list(b"xXzZ")] = (0, 1), UNKNOWN
# rows are folded to one in strips of this many bytes, which stay in the nearest cache
_STRIP = 4096
# one word in so many may hold a change, for changes to be looked up one by one
_QUIET = 32


class RowTemplate:
    """Lowest value and allowed range of each byte of a row with its line end.

    A digit of the time is 48 and 9, a cell 48 and 1, any other byte itself and 0; so ``row - lowest > span``
    (in wrapping uint8) is true exactly where a byte does not fit, and the differences are the digits and levels.
    Below a row with an X or Z any byte passes here in a cell, and its letter is looked up.
    """

    def __init__(self, row: bytes, split: SplitRow) -> None:
        low = np.frombuffer(row + b"\n", np.uint8).copy()
        span = np.zeros_like(low)
        digits = list(split.time.digits)
        cells = [c for c in split.cells if c >= 0]
        low[digits], span[digits] = 48, 9
        self.lettered = any(c >= 0 and v == UNKNOWN for c, v in zip(split.cells, split.levels, strict=True))
        low[cells], span[cells] = (0, 255) if self.lettered else (48, 1)
        self.width = len(low)
        self.low, self.span = low, span
        self.time = split.time
        # digits this many may exceed the range, as only a single reading can tell
        self.fast = len(digits) + max(0, split.time.scale) <= 18 and split.time.scale >= -18
        self.columns = len(split.cells)
        self._digits = DigitPlaces(split.time.digits)
        self._known = [i for i, c in enumerate(split.cells) if c >= 0]
        self._channel_at = np.zeros(self.width, np.uint16)
        self._channel_at[cells] = self._known
        self.binary = not self.lettered and len(self._known) == self.columns
        # evenly spaced cells are taken by a slice, which costs no copy
        steps = {b - a for a, b in itertools.pairwise(cells)}
        self._cells: slice | list[int] = cells
        if cells and len(steps) < 2:
            self._cells = slice(cells[0], cells[-1] + 1, steps.pop() if steps else 1)
        self._tiled: dict[str, UInt8] = {}

    def _tile(self, what: str, row: UInt8, size: int) -> UInt8:
        tiled = self._tiled.get(what)
        if tiled is None or len(tiled) < size:
            # a template that is used for some rows only is not worth a block
            room = size if size < BLOCK // 8 else max(size, BLOCK)
            tiled = self._tiled[what] = np.tile(row, room // self.width + 1)
        return tiled[:size]

    def differences(self, data: UInt8, out: UInt8, wrong: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int:
        """``data`` uint8[k * width] minus the lowest values into ``out``; how many rows fit from the front on."""
        np.subtract(data, self._tile("low", self.low, len(data)), out=out)
        rows = len(data) // self.width
        if (folded(np.maximum, out, self.width) > self.span).any():
            np.greater(out, self._tile("span", self.span, len(data)), out=wrong)
            rows = int(wrong.argmax()) // self.width
        if not self.lettered:
            return rows
        misfits = self._strange(out[: rows * self.width].reshape(rows, self.width))
        return int(misfits.argmax()) if misfits.any() else rows

    def fits(self, matrix: UInt8) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Which rows of differences uint8[rows, width] fit."""
        misfits = np.asarray((matrix > self.span).any(1))
        return np.asarray(~(misfits | self._strange(matrix))) if self.lettered else ~misfits

    def _strange(self, matrix: UInt8) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Which rows have a letter in a cell that is no level."""
        return np.asarray((_LEVEL[matrix[:, self._cells]] > UNKNOWN).any(1))

    def changes(self, data: UInt8, before: UInt8, out: UInt8, room: UInt8) -> int:
        """Which bytes differ from the row before, into ``out``; how many rows fit from the front on.

        Only for rows without a time. The first of ``before`` is known to fit; as a byte may differ from the one
        above it in nothing but a cell's last bit, each further row fits by induction.
        """
        np.bitwise_xor(data, before, out=out)
        if not (folded(np.bitwise_or, out, self.width) & ~self.span).any():
            return len(data) // self.width
        fixed = self._tile("fixed", np.invert(self.span), len(data))
        np.bitwise_and(out, fixed, out=room)
        return int((room != 0).argmax()) // self.width

    def few_changes(self, room: UInt8, rows: int) -> tuple[UInt16, Int64] | None:
        """Channel and row of each change among the first ``rows`` of what ``changes`` found, by channel and row.

        None where there are many, which are faster laid out. ``room`` is eight bytes longer than these rows.
        """
        size = rows * self.width
        room[size : size + 8] = 0
        words = room[: -(-size // 8) * 8].view(np.uint64)
        changed = words != 0
        if np.count_nonzero(changed) * _QUIET > len(words):
            return None
        where = np.flatnonzero(changed)
        spots = np.flatnonzero(words[where].view(np.uint8))
        row, place = np.divmod(where[spots >> 3] * 8 + (spots & 7), self.width)
        channel = self._channel_at[place]
        order = np.argsort(channel, kind="stable")
        return channel[order], row[order]

    def levels(self, matrix: UInt8) -> UInt8:
        """Levels uint8[columns, rows] of differences uint8[rows, width]; rows laid out one after the other."""
        known = np.ascontiguousarray(matrix[:, self._cells].T)
        if self.lettered:
            known = _LEVEL[known]
        if len(self._known) == self.columns:
            return known
        levels = np.full((self.columns, len(matrix)), UNKNOWN, np.uint8)
        levels[self._known] = known
        return levels

    def times_ps(self, matrix: UInt8) -> Int64:
        """Times int64[rows] of differences uint8[rows, width], rounded half up as in a single row."""
        times = self._digits.numbers(matrix)
        if self.time.scale >= 0:
            if (factor := self.time.sign * 10**self.time.scale) != 1:
                times *= factor
            return times
        unit = 10**-self.time.scale
        return np.asarray(self.time.sign * ((times + unit // 2) // unit))


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
