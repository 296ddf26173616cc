"""Where levels and words end up: the transitions of each channel, block by block."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.readers.plan.words import WordColumn, word_width
from tracecore.readers.rows.blocks import SHORT, Block, Changes
from tracecore.readers.rows.cell_block import UInt64, Words
from tracecore.readers.rows.two_at_once import in_halves, two_at_once

_ALTERNATING = np.tile(np.array([0, 1], np.uint8), 1 << 19)


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """A block that begins at row ``base``; ``fresh`` says which channels changed in its first row. ``times`` are those
    of the changes, ``first_ps`` that of the first row."""

    base: int
    changes: Changes
    fresh: UInt8
    times: Int64 | None
    first_ps: int

    def move(self, starts: Int64, by_time: bool, places: Int64, levels: UInt8 | None) -> None:
        """Writes the changes of channel c, its first row's among them, to ``places`` from ``starts[c]`` on, and their
        levels to ``levels`` where given."""
        changes, fresh = self.changes, self.fresh.astype(np.bool_)
        at = starts + fresh
        places[starts[fresh]] = self.first_ps if by_time else self.base
        if by_time:
            _spread(places, self.times, at, changes.cuts)
        else:
            _spread(places, changes.rows, at, changes.cuts, self.base)
        if levels is not None:
            levels[starts[fresh]] = changes.first[fresh]
            each = changes.levels
            if each is None:
                each = np.empty(len(changes.rows), np.uint8)
                _by_turns(np.uint8(1) - changes.first, changes.cuts[:-1], np.diff(changes.cuts), each)
            _spread(levels, each, at, changes.cuts)


class RowSink:
    """Collects transitions; remembers the last levels between blocks."""

    def __init__(self) -> None:
        self.count = 0
        self.last_changes = False
        self._last: UInt8 | None = None
        self._blocks: list[_Kept] = []

    def add(self, changes: Changes, times: Int64 | None) -> None:
        """The next rows, of at least one; ``times`` int64[rows] where rows carry them."""
        fresh = np.ones(len(changes.first), np.uint8)
        if self._last is not None:
            fresh = (changes.first != self._last).astype(np.uint8)
        placed = None if times is None else times.take(changes.rows)
        self._blocks.append(_Kept(self.count, changes, fresh, placed, 0 if times is None else int(times[0])))
        self.last_changes = bool(fresh.any()) if changes.count == 1 else changes.last_changes
        self._last = changes.last
        self.count += changes.count

    def channels(self, by_time: bool) -> list[tuple[Int64, UInt8]]:
        """Rows, or times where ``by_time``, and levels of the transitions of each channel. The blocks are let go."""
        if not self._blocks:
            return []
        blocks, self._blocks = self._blocks, []
        counts = np.array([np.diff(block.changes.cuts) for block in blocks])
        counts += np.array([block.fresh for block in blocks])
        total = counts.sum(0)
        bounds = np.concatenate(([0], np.cumsum(total)))
        starts = bounds[:-1] + counts.cumsum(0) - counts
        # one room for all channels: memory that is asked for in large pieces comes in large pages
        places, levels = np.empty(int(bounds[-1]), np.int64), np.empty(int(bounds[-1]), np.uint8)
        binary = all(block.changes.levels is None for block in blocks)
        if binary:
            _by_turns(blocks[0].changes.first, bounds[:-1], total, levels)

        def move(which: Sequence[int]) -> None:
            for i in which:
                blocks[i].move(starts[i], by_time, places, None if binary else levels)

        in_halves(move, range(len(blocks)))
        return [(places[a:b], levels[a:b]) for a, b in itertools.pairwise(bounds.tolist())]


def _spread(out: Any, part: Any, at: Int64, cuts: Int64, base: int = 0) -> None:
    """Moves what stands from ``cuts[c]`` on in a block, plus ``base``, to ``at[c]`` on in ``out``."""
    if len(part) >= SHORT * len(at):
        bounds = cuts.tolist()
        for start, stop, where in zip(bounds, bounds[1:], at.tolist(), strict=False):
            np.add(part[start:stop], base, out=out[where : where + stop - start], casting="unsafe")
        return
    where = np.repeat(at - cuts[:-1], np.diff(cuts))
    where += np.arange(len(part))
    out[where] = part + base if base else part


def _by_turns(first: UInt8, at: Int64, counts: Int64, out: UInt8) -> None:
    """0 and 1 in turn, from ``first`` on in each channel, which begins at ``at``, into ``out``."""
    if len(out) >= SHORT * len(at):
        for level, start, count in zip(first.tolist(), at.tolist(), counts.tolist(), strict=True):
            out[start : start + count] = _alternating(level, count)
        return
    turns = np.arange(len(out)) - np.repeat(at, counts)
    np.bitwise_and(turns, 1, out=turns)
    np.bitwise_xor(turns, np.repeat(first, counts), out=out, casting="unsafe")


def _alternating(first: int, count: int) -> UInt8:
    """0 and 1 in turn."""
    pattern = _ALTERNATING if count < len(_ALTERNATING) else np.tile(_ALTERNATING, count // len(_ALTERNATING) + 1)
    return pattern[first : first + count]


@dataclass(slots=True)
class WordSink:
    """Collects the changes of one column, block by block: rows, times where rows carry them, values, unknown bits."""

    column: WordColumn
    rows: list[Int64] = field(default_factory=list)
    times: list[Int64] = field(default_factory=list)
    values: list[UInt64] = field(default_factory=list)
    unknown: list[UInt64] = field(default_factory=list)
    digits: int = 0
    seen: int = 0
    last: tuple[int, int] | None = None

    @property
    def width(self) -> int:
        """Bits of the widest word so far."""
        return word_width(self.column, max(1, self.digits), self.seen)

    def add(self, words: Words, first: int, block: Block) -> bool:
        """Adds the words of a ``block`` that begins at row ``first``; did its last row change?"""
        value, unknown = words.value, words.unknown
        changed = np.empty(len(value), np.bool_)
        changed[1:] = (value[1:] != value[:-1]) | (unknown[1:] != unknown[:-1])
        changed[0] = (int(value[0]), int(unknown[0])) != self.last
        at = np.flatnonzero(changed)
        rows = words.rows[at]
        self.rows.append(rows + first)
        if block.times is not None:
            self.times.append(block.times[rows])
        self.values.append(value[at])
        self.unknown.append(unknown[at])
        self.last, self.digits = (int(value[-1]), int(unknown[-1])), max(self.digits, words.digits)
        self.seen |= int(np.bitwise_or.reduce(value))
        return bool(len(rows) and rows[-1] == block.count - 1)

    def bits(self, by_time: bool) -> list[tuple[Int64, UInt8]]:
        """Rows, or times where ``by_time``, and levels of the changes of each bit, most significant first."""
        places = np.concatenate(self.times if by_time else self.rows)
        values, unknown = np.concatenate(self.values), np.concatenate(self.unknown)
        self.times, self.rows, self.values, self.unknown = [], [], [], []
        turned = np.full(len(values), -1, np.int64).view(np.uint64)
        turned[1:] = values[1:] ^ values[:-1]
        hidden = _octets(unknown) if unknown.any() else None
        if hidden is not None:
            turned[1:] |= unknown[1:] ^ unknown[:-1]
        # a byte of each word at a time: an eighth of what would have to be moved
        octets, turns = _octets(values), _octets(turned)

        def bit_at(bit: int) -> tuple[Int64, UInt8]:
            byte, shift = bit // 8, np.uint8(bit % 8)
            at = np.flatnonzero((turns[byte] >> shift & 1).view(np.bool_))
            if hidden is None:
                return places.take(at), _alternating(int(octets[byte, 0] >> shift & 1), len(at)).copy()
            level = octets[byte].take(at) >> shift & 1
            level[hidden[byte].take(at) >> shift & 1 != 0] = UNKNOWN
            return places.take(at), level

        return list(two_at_once(bit_at, range(self.width - 1, -1, -1)))


def _octets(words: UInt64) -> UInt8:
    """The bytes uint8[bytes of a word, n], lowest first."""
    octets = words.astype(words.dtype.newbyteorder("<"), copy=False).view(np.uint8)
    return np.ascontiguousarray(octets.reshape(len(words), -1).T)
