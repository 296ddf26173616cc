"""Digits that stand at the same bytes of many rows, taken eight at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tracecore.capture import Int64, UInt8

UInt64 = np.ndarray[tuple[int, ...], np.dtype[np.uint64]]
_WORD = 8
# neighbours are drawn together: digits to pairs, pairs to fours, fours to eights
_STEPS = tuple(
    (np.uint64(1 + (10 ** (bits // 8) << bits)), np.uint64(bits), np.uint64(keep))
    for bits, keep in ((8, 0x00FF00FF00FF00FF), (16, 0x0000FFFF0000FFFF), (32, 0xFFFFFFFF))
)


@dataclass(frozen=True, slots=True)
class _Window:
    """Eight bytes from ``offset`` on, the last of them a digit. The bytes of ``behind`` are digits, and those of
    ``before``, which stand in front of a decimal mark, are one byte too far to the left; ``shift`` bits take bytes
    away that lie behind where the window would begin before the row."""

    offset: int
    shift: int
    behind: int
    before: int
    digits: int


class DigitPlaces:
    """Reads whole numbers whose digits stand at bytes ``places`` of each row, the most significant first.

    >>> rows = np.frombuffer(b"a 12.5,b\\na 07.0,b\\n", np.uint8).reshape(2, 9) - 48
    >>> DigitPlaces((2, 3, 5)).numbers(rows).tolist()
    [125, 70]
    """

    def __init__(self, places: tuple[int, ...]) -> None:
        self.places = places
        self._windows = _windows(places)

    def numbers(self, matrix: UInt8) -> Int64:
        """Numbers int64[rows] of bytes uint8[rows, width] from which 48 is taken off, contiguous; up to 18 digits."""
        if matrix.shape[1] < _WORD:
            return self._one_by_one(matrix)
        total: Int64 | None = None
        power = 0
        for window in self._windows:
            words = _words(matrix, window)
            # the digits in front seldom change within a block
            if total is not None and bool((words == words[0]).all()):
                total += int(drawn_together(words[:1])[0]) * 10**power
            else:
                part = drawn_together(words).view(np.int64)
                if total is None:
                    total = part
                else:
                    part *= 10**power
                    total += part
            power += window.digits
        return np.zeros(len(matrix), np.int64) if total is None else total

    def _one_by_one(self, matrix: UInt8) -> Int64:
        total = np.zeros(len(matrix), np.int64)
        for place in self.places:
            total *= 10
            total += matrix[:, place]
        return total


def _windows(places: tuple[int, ...]) -> list[_Window]:
    """From the last digit on forwards; one byte between two digits may be left out in each window."""
    found = []
    left = list(places)
    while left:
        end = left[-1] + 1
        gap = 0
        chosen: list[int] = []
        while left and left[-1] > end - 1 - _WORD:
            step = chosen[-1] - left[-1] if chosen else 1
            if step > 1 and (gap or step > 2):
                break
            gap = gap or (chosen[-1] if step > 1 else 0)
            chosen.append(left.pop())
        offset = end - _WORD
        behind = sum(0xFF << 8 * (place - offset) for place in chosen if place >= gap)
        before = sum(0xFF << 8 * (place - offset) for place in chosen if place < gap)
        found.append(_Window(max(0, offset), 8 * max(0, -offset), behind, before, len(chosen)))
    return found


def _words(matrix: UInt8, window: _Window) -> UInt64:
    rows, width = matrix.shape
    # a load of eight bytes costs no more than one of a single byte
    words: UInt64 = np.ndarray((rows,), "<u8", buffer=matrix, offset=window.offset, strides=(width,)).astype(np.uint64)
    if window.shift:
        words <<= np.uint64(window.shift)
    if window.before:
        before = words & np.uint64(window.before)
        before <<= np.uint64(8)
        words &= np.uint64(window.behind)
        words |= before
    elif window.digits < _WORD:
        words &= np.uint64(window.behind)
    return words


def drawn_together(words: UInt64) -> UInt64:
    """Words uint64[n] of eight digits each, the first in the lowest byte, to their numbers, in place."""
    for factor, shift, keep in _STEPS:
        words *= factor
        words >>= shift
        words &= keep
    return words
