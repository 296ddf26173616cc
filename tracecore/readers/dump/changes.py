"""The changes of a value change dump (IEEE Std 1364-2005, 18.2.1 and 18.2.2), many thousands of words at once.

A block of text is cut into words; times, single bits and vectors are told apart by their first letter and read
as whole columns of numbers. Every byte is looked at; the first word that does not fit is named by its line.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.errors import MalformedCapture
from tracecore.readers.dump.declarations import Variable

TIME, BIT, VECTOR, REAL, COMMAND = 1, 2, 3, 4, 5
_SECTIONS = (b"$dumpvars", b"$dumpall", b"$dumpon", b"$dumpoff")
_COMMENT = re.compile(rb"(?<!\S)\$comment(?!\S)")
_END = re.compile(rb"(?<!\S)\$end(?!\S)")
_KEYWORD = re.compile(rb"(?<!\S)\$(?:comment|dump(?:vars|all|on|off))(?!\S)")
_LARGEST_PS = 10**18
_LONGEST_TIME = 19
_STEPS_KEPT = 50_000
_EXPECTED = (
    "an identifier code that is declared",
    "a vector, which begins with b, as declared",
    "a real number, which begins with r, as declared",
)
_NOT_YET = np.iinfo(np.int64).min
"""Stands for the time of changes before the first time mark."""

Bools = np.ndarray[Any, np.dtype[np.bool_]]


def _table(**letters: int) -> UInt8:
    table = np.zeros(256, np.uint8)
    for text, value in letters.items():
        for letter in text.encode():
            table[letter] = value
    return table


_WHITE = b"\n \r\t\v\f"
_STRAY = np.zeros(256, np.bool_)
_STRAY[:32] = True
_STRAY[9:14] = False
_KIND = _table(**{"#": TIME, "01xXzZ": BIT, "bB": VECTOR, "rRsS": REAL, "$": COMMAND})
_LEVEL = np.full(256, 255, np.uint8)
for _letters, _level in ((b"0", 0), (b"1", 1), (b"xXzZ", UNKNOWN)):
    _LEVEL[list(_letters)] = _level


class DumpChanges:
    """Collects the entries of each bit; blocks are given to ``add`` one after the other."""

    def __init__(self, path: str, variables: dict[bytes, Variable], unit_ps: Fraction, zero_ps: int, line: int) -> None:
        self.path, self.line, self.unit_ps, self.zero_ps = path, line, unit_ps, zero_ps
        self.first_ps: int | None = None
        self.last_ps = 0
        self._changed_ps: int | None = None
        self._early = False
        self.section = ""
        self.steps: list[Int64] = []
        self._in_comment = False
        self._comment_line = 0
        self._largest = int((_LARGEST_PS - abs(zero_ps)) / unit_ps)
        codes = self._codes = sorted(variables, key=_key)
        self._keys = np.array([_key(code) for code in codes], np.uint64)
        self._first = np.array([variables[code].first for code in codes], np.int64)
        self._width = np.array([variables[code].width for code in codes], np.int64)
        self._no_bit = np.array([not variables[code].event for code in codes]) & (self._width == 0)
        self._short: Int64 | None = None
        if max(map(len, codes)) <= 2:
            self._short = np.full(1 << 16, -1, np.int64)
            self._short[self._keys.astype(np.int64)] = np.arange(len(codes))
        bits = int(self._width.sum())
        self._times: list[list[Int64]] = [[] for _ in range(bits)]
        self._levels: list[list[UInt8]] = [[] for _ in range(bits)]

    def add(self, block: bytes) -> int:
        """``block`` begins and ends at white space; how many bytes of it are done, as a vector may wait for its code.

        Raises MalformedCapture with the line.
        """
        text = self._without_comments(block)
        data = np.frombuffer(b" " + text + b" ", np.uint8)
        space = data <= 32
        edges = np.flatnonzero(space[1:] != space[:-1])
        starts, ends = edges[::2] + 1, edges[1::2] + 1
        self._check_white(data, space, block)
        if not len(starts):
            self.line += block.count(b"\n")
            return len(block)
        kinds, values = _kinds(data, starts)
        done, count = len(block), len(starts)
        if values[-1]:
            done, count = int(starts[-1]) - 1, count - 1
        words = _Words(data, starts[:count], (ends - starts)[:count], kinds[:count], values[:count])
        try:
            self._take(words)
        except _BadWord as bad:
            raise self.wrong(bad, block) from None
        self.line += block.count(b"\n", 0, done)
        return done

    def _check_white(self, data: UInt8, space: Bools, block: bytes) -> None:
        """A control character that is no white space must not part words: it may have been a digit."""
        count = int(np.count_nonzero(space))
        for letter in _WHITE:
            # counting letter by letter, the most frequent first, takes a fraction of the time of a look at each
            count -= int(np.count_nonzero(data == letter))
            if not count:
                return
        at = int(_STRAY[data].argmax())
        raise self.wrong(_BadWord(at, repr(chr(data[at])), "printable characters and white space"), block)

    def wrong(self, bad: _BadWord, block: bytes) -> MalformedCapture:
        """The error for a word of a block."""
        return MalformedCapture(
            self.path,
            line=self.line + block.count(b"\n", 0, bad.at - 1),
            found=bad.found,
            expected=bad.expected,
            do="Export the dump again, or correct this line.",
        )

    def check_end(self) -> None:
        """Raises MalformedCapture where a comment has no end."""
        if self._in_comment:
            self.line = self._comment_line
            raise self.wrong(_BadWord(1, "$comment without an end", "$end behind it"), b"")

    def is_whole(self, left: bytes) -> bool:
        """Is the last word of a file, without white space behind it, one that cannot go on?"""
        words = left.split()
        if len(words) == 1 and words[0] == b"$end":
            return True
        if not words or left[-1:].isspace() or _KIND[words[0][0]] not in (BIT, VECTOR):
            return False
        code = words[-1] if len(words) == 2 else words[0][1:]
        longer = [c for c in self._codes if c.startswith(code)]
        return longer == [code] and len(words) == (2 if _KIND[words[0][0]] == VECTOR else 1)

    @property
    def last_changes(self) -> bool:
        """Did anything change at the last time, however often that is marked?"""
        return self.last_ps == (self.start_ps if self._changed_ps == _NOT_YET else self._changed_ps)

    @property
    def start_ps(self) -> int:
        """The first time; time zero where values stand before it, which hold from there on."""
        return self.zero_ps if self._early else self.first_ps or 0

    def entries(self) -> list[tuple[Int64, UInt8]]:
        """Times in ps and levels of each bit; a time may stand twice, and a level may repeat."""
        first = self.start_ps
        found = []
        for times, levels in zip(self._times, self._levels, strict=True):
            when = np.concatenate([np.empty(0, np.int64), *times])
            when[when == _NOT_YET] = first
            found.append((when, np.concatenate([np.empty(0, np.uint8), *levels])))
            times.clear()
            levels.clear()
        return found

    def _without_comments(self, block: bytes) -> bytes:
        """Comments become blanks, line ends aside, so that places stay as they are."""
        if not self._in_comment and b"$comment" not in block:
            return block
        text, at, look = bytearray(block), 0, 0
        while True:
            if not self._in_comment:
                begin = _COMMENT.search(block, at)
                if begin is None:
                    return bytes(text)
                at, look, self._in_comment = begin.start(), begin.end(), True
                self._comment_line = self.line + block.count(b"\n", 0, at)
            end = _END.search(block, at)
            stop = end.end() if end else len(block)
            if _KEYWORD.search(block, look, stop):
                self.check_end()
            text[at:stop] = re.sub(rb"[^\n]", b" ", text[at:stop])
            at = stop
            if end is None:
                return bytes(text)
            self._in_comment = False

    def _take(self, words: _Words) -> None:
        words.refuse(np.arange(len(words.kinds)), words.kinds == 0, "a time, a value or a command")
        marks = np.flatnonzero(words.kinds == TIME)
        times = self._read_times(words, marks)
        self._commands(words)
        before = np.empty(len(times) + 1, np.int64)
        before[0] = self.last_ps if self.first_ps is not None else _NOT_YET
        before[1:] = times
        entries = [self._bits(words)]
        if words.values.any():
            entries += self._vectors(words)
        if words.bad:
            raise min(words.bad, key=lambda bad: bad.at)
        if len(times):
            self.first_ps = int(times[0]) if self.first_ps is None else self.first_ps
            self.last_ps = int(times[-1])
        changed = [at[-1] for at, _, _ in entries if len(at)]
        if changed:
            self._changed_ps = int(before[marks.searchsorted(max(changed))])
        at, bits, levels = (np.concatenate(column) for column in zip(*entries, strict=True))
        places = before[marks.searchsorted(at)]
        self._early = self._early or bool((places == _NOT_YET).any())
        self._keep(places, bits, levels, at if len(entries) > 1 else None)

    def _read_times(self, words: _Words, marks: Int64) -> Int64:
        times, lengths = np.zeros(len(marks), np.int64), words.lengths[marks]
        if not len(marks):
            return times
        ends, least, most = words.starts[marks] + lengths, int(lengths.min()), int(lengths.max())
        wrong = (lengths < 2) | (lengths > _LONGEST_TIME)
        for place in range(1, min(most, _LONGEST_TIME)):
            # a place in front of a short word is looked up, too, and is no digit
            digit = words.data[ends - place] - np.uint8(48)
            if place >= least:
                digit[lengths <= place] = 0
            wrong |= digit > 9
            times += digit * np.int64(10 ** (place - 1))
        if words.refuse(marks, wrong | (times > self._largest), "'#' and a whole number below 10^18 ps (11 days)"):
            return times
        top, bottom = self.unit_ps.numerator, self.unit_ps.denominator
        times = (times * top + bottom // 2) // bottom + self.zero_ps
        steps = np.diff(times, prepend=self.last_ps if self.first_ps is not None else times[0])
        if int(steps.min()) < 0:
            at = int(words.starts[marks[(steps < 0).argmax()]])
            words.bad.append(_BadWord(at, "a time before the one above", "times that never run backwards"))
        if sum(map(len, self.steps)) < _STEPS_KEPT:
            self.steps.append(steps[:_STEPS_KEPT])
        return times

    def _commands(self, words: _Words) -> None:
        for i in np.flatnonzero(words.kinds == COMMAND).tolist():
            word = words.text(i)
            if word in _SECTIONS and not self.section:
                self.section = word.decode()
            elif word == b"$end" and self.section:
                self.section = ""
            else:
                expected = "$end before it" if self.section else "$dumpvars, $dumpall, $dumpon, $dumpoff or $comment"
                words.refuse(np.array([i]), np.array([True]), expected)
                return

    def _bits(self, words: _Words) -> tuple[Int64, Int64, UInt8]:
        """Changes of single bits: place among the words, bit, level."""
        at = np.flatnonzero(words.kinds == BIT)
        variable = self._variables(words.data, words.starts[at] + 1, words.lengths[at] - 1)
        width = self._width[variable]
        wrong = (variable < 0) | (width > 1) | self._no_bit[variable]
        words.refuse(at, wrong, lambda i: _EXPECTED[0 if variable[i] < 0 else 1 if width[i] else 2])
        logic = width == 1
        if not logic.all():
            at, variable = at[logic], variable[logic]
        return at, self._first[variable], _LEVEL[words.data[words.starts[at]]]

    def _variables(self, data: UInt8, starts: Int64, lengths: Int64) -> Int64:
        """Number of the variable that each code stands for, -1 where there is none."""
        if self._short is not None:
            key = data[starts].astype(np.int64)
            key[lengths < 1] = 0
            second = lengths > 1
            if second.any():
                key[second] |= data[starts[second] + 1].astype(np.int64) << 8
            found = self._short[key]
            found[(lengths < 1) | (lengths > 2)] = -1
            return found
        wide = np.zeros(len(starts), np.uint64)
        for place in range(int(min(8, lengths.max(initial=0)))):
            has = np.flatnonzero(lengths > place)
            wide[has] |= data[starts[has] + place].astype(np.uint64) << np.uint64(8 * place)
        found = np.minimum(self._keys.searchsorted(wide), len(self._keys) - 1)
        found[(self._keys[found] != wide) | (lengths < 1) | (lengths > 8)] = -1
        return np.asarray(found)

    def _vectors(self, words: _Words) -> list[tuple[Int64, Int64, UInt8]]:
        at = np.flatnonzero(words.values)
        variable = self._variables(words.data, words.starts[at + 1], words.lengths[at + 1])
        width, size, vector = self._width[variable], words.lengths[at] - 1, words.kinds[at] == VECTOR
        words.refuse(at + 1, variable < 0, "an identifier code that is declared")
        fits = (size >= 1) & (size <= width)
        wrong = (variable >= 0) & ((vector & ~fits) | (~vector & (width > 0)))
        value = "a value of its kind, as declared"
        words.refuse(at, wrong, lambda i: f"a vector of at most {width[i]} bits" if width[i] else value)
        found = []
        use = vector & (variable >= 0) & fits
        for pair in np.unique(variable[use] << 32 | size[use]).tolist():
            number, letters = pair >> 32, pair & 0xFFFFFFFF
            own = at[use & (variable == number) & (size == letters)]
            levels = _LEVEL[words.data[(words.starts[own] + 1)[:, None] + np.arange(letters)]]
            words.refuse(own, (levels > UNKNOWN).any(axis=1), "a vector of 0, 1, x and z")
            # bits left away in front are 0, or unknown where the first one given is (18.2.1, table 18-1)
            front = np.where(levels[:, :1] == UNKNOWN, np.uint8(UNKNOWN), np.uint8(0))
            first, missing = int(self._first[number]), int(self._width[number]) - letters
            whole = np.concatenate([np.repeat(front, missing, axis=1), levels], axis=1)
            found += [(own, np.full(len(own), first + i, np.int64), column) for i, column in enumerate(whole.T)]
        return found

    def _keep(self, times: Int64, bits: Int64, levels: UInt8, at: Int64 | None) -> None:
        """Sorts entries by bit, and within a bit by their place in the file."""
        if not len(bits):
            return
        small = bits.astype(np.uint16) if len(self._times) < 1 << 16 else bits
        order = np.argsort(small, kind="stable") if at is None else np.lexsort((at, small))
        times, levels, small = times[order], levels[order], small[order]
        change = np.empty(len(small), np.bool_)
        change[0] = True
        np.not_equal(small[1:], small[:-1], out=change[1:])
        cuts = [*np.flatnonzero(change).tolist(), len(small)]
        for begin, stop in itertools.pairwise(cuts):
            bit = int(small[begin])
            self._times[bit].append(times[begin:stop])
            self._levels[bit].append(levels[begin:stop])


class _BadWord(ValueError):
    def __init__(self, at: int, found: str, expected: str) -> None:
        super().__init__(found)
        self.at, self.found, self.expected = at, found, expected


@dataclass(slots=True, eq=False)
class _Words:
    """The words of a block, int64[N] ``starts`` and ``lengths`` in ``data``, their kinds uint8[N], which of them are
    ``values`` whose code is the next word, and those that do not fit."""

    data: UInt8
    starts: Int64
    lengths: Int64
    kinds: UInt8
    values: Bools
    bad: list[_BadWord] = field(default_factory=list)

    def text(self, word: int) -> bytes:
        return self.data[self.starts[word] : self.starts[word] + self.lengths[word]].tobytes()

    def refuse(self, words: Int64, wrong: Bools, expected: str | Callable[[int], str]) -> bool:
        """Notes the first of ``words`` that is ``wrong``; is there one?"""
        if not wrong.any():
            return False
        first = int(wrong.argmax())
        found = repr(self.text(words[first])[:40].decode("latin-1"))
        said = expected if isinstance(expected, str) else expected(first)
        self.bad.append(_BadWord(int(self.starts[words[first]]), found, said))
        return True


def _key(code: bytes) -> int:
    return int.from_bytes(code, "little")


def _kinds(data: UInt8, starts: Int64) -> tuple[UInt8, Bools]:
    """The kind of each word, and which are values whose code is the next word; such codes get a kind of their own."""
    kinds = _KIND[data[starts]]
    apart = (kinds == VECTOR) | (kinds == REAL)
    if not apart.any():
        return kinds, apart
    # within a run of words that begin with b or r, value and code stand in turn
    index = np.arange(len(kinds))
    before = np.maximum.accumulate(np.where(apart, -1, index))
    values = apart & ((index - before) % 2 == 1)
    kinds[1:][values[:-1]] = 9
    return kinds, values
