"""The changes of a value change dump (IEEE Std 1364-2005, 18.2.1 and 18.2.2), many thousands of words at once.

A block of text is cut into words; times, single bits and vectors are told apart by their first letter and read
as whole columns of numbers. Every byte is looked at; the first word that does not fit is named by its line.
"""

from __future__ import annotations

import itertools
import re
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
        done = len(block)
        if values[-1]:
            done = int(starts[-1]) - 1
            starts, ends, kinds, values = starts[:-1], ends[:-1], kinds[:-1], values[:-1]
        try:
            self._words(data, starts, ends, kinds, values)
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

    def _words(self, data: UInt8, starts: Int64, ends: Int64, kinds: UInt8, values: Bools) -> None:
        lengths = ends - starts
        bad: list[_BadWord] = []
        odd = np.flatnonzero(kinds == 0)
        if len(odd):
            bad.append(_bad(data, starts[odd[0]], ends[odd[0]], "a time, a value or a command"))
        marks = np.flatnonzero(kinds == TIME)
        times = self._read_times(data, starts[marks], lengths[marks], bad)
        self._commands(data, starts, ends, np.flatnonzero(kinds == COMMAND), bad)
        before = np.empty(len(times) + 1, np.int64)
        before[0] = self.last_ps if self.first_ps is not None else _NOT_YET
        before[1:] = times
        words = [self._bits(data, starts, lengths, kinds, bad)]
        if values.any():
            words += self._vectors(data, starts, lengths, kinds, values, bad)
        if bad:
            raise min(bad, key=lambda b: b.at)
        if len(times):
            self._note_times(times)
        changed = [at[-1] for at, _, _ in words if len(at)]
        if changed:
            self._changed_ps = int(before[marks.searchsorted(max(changed))])
        at, bits, levels = (np.concatenate(column) for column in zip(*words, strict=True))
        places = before[marks.searchsorted(at)]
        self._early = self._early or bool((places == _NOT_YET).any())
        self._keep(places, bits, levels, at if len(words) > 1 else None)

    def _read_times(self, data: UInt8, starts: Int64, lengths: Int64, bad: list[_BadWord]) -> Int64:
        times = np.zeros(len(starts), np.int64)
        if not len(starts):
            return times
        wrong = (lengths < 2) | (lengths > 19)
        for length in np.flatnonzero(np.bincount(np.minimum(lengths, 20))).tolist():
            if not 2 <= length <= 19:
                continue
            group = np.flatnonzero(lengths == length) if int(lengths.min()) != int(lengths.max()) else slice(None)
            at, value = starts[group], np.zeros(len(starts[group]), np.int64)
            sound = np.ones(len(at), np.bool_)
            for place in range(1, length):
                digit = data[at + place] - np.uint8(48)
                sound &= digit < 10
                value = value * 10 + digit
            times[group] = value
            wrong[group] |= ~sound | (value > self._largest)
        if wrong.any():
            first = int(wrong.argmax())
            what = "'#' and a whole number below 10^18 ps (11 days)"
            bad.append(_bad(data, starts[first], starts[first] + lengths[first], what))
            return times
        times = self._scaled(times)
        steps = np.diff(times, prepend=self.last_ps if self.first_ps is not None else times[0])
        if int(steps.min()) < 0:
            first = int((steps < 0).argmax())
            bad.append(_BadWord(int(starts[first]), "a time before the one above", "times that never run backwards"))
        return times

    def _scaled(self, times: Int64) -> Int64:
        top, bottom = self.unit_ps.numerator, self.unit_ps.denominator
        return np.asarray((times * top + bottom // 2) // bottom + self.zero_ps)

    def _note_times(self, times: Int64) -> None:
        steps = np.diff(times, prepend=self.last_ps if self.first_ps is not None else times[0])
        if sum(map(len, self.steps)) < 50_000:
            self.steps.append(steps[:50_000])
        if self.first_ps is None:
            self.first_ps = int(times[0])
        self.last_ps = int(times[-1])

    def _commands(self, data: UInt8, starts: Int64, ends: Int64, where: Int64, bad: list[_BadWord]) -> None:
        for i in where.tolist():
            word = data[starts[i] : ends[i]].tobytes()
            if word in _SECTIONS and not self.section:
                self.section = word.decode()
            elif word == b"$end" and self.section:
                self.section = ""
            else:
                expected = "$end before it" if self.section else "$dumpvars, $dumpall, $dumpon, $dumpoff or $comment"
                bad.append(_bad(data, starts[i], ends[i], expected))
                return

    def _bits(
        self, data: UInt8, starts: Int64, lengths: Int64, kinds: UInt8, bad: list[_BadWord]
    ) -> tuple[Int64, Int64, UInt8]:
        """Changes of single bits: place among the words, bit, level."""
        at = np.flatnonzero(kinds == BIT)
        begin = starts[at]
        variable = self._variables(data, begin + 1, lengths[at] - 1)
        width = self._width[variable]
        wrong = (variable < 0) | (width > 1) | self._no_bit[variable]
        if wrong.any():
            first = int(wrong.argmax())
            expected = _EXPECTED[0 if variable[first] < 0 else 1 if width[first] else 2]
            bad.append(_bad(data, begin[first], begin[first] + lengths[at[first]], expected))
        logic = width == 1
        if not logic.all():
            at, begin, variable = at[logic], begin[logic], variable[logic]
        return at, self._first[variable], _LEVEL[data[begin]]

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

    def _vectors(
        self, data: UInt8, starts: Int64, lengths: Int64, kinds: UInt8, values: Bools, bad: list[_BadWord]
    ) -> list[tuple[Int64, Int64, UInt8]]:
        at = np.flatnonzero(values)
        code = at + 1
        variable = self._variables(data, starts[code], lengths[code])
        width, size = self._width[variable], lengths[at] - 1
        vector = kinds[at] == VECTOR
        wrong = variable < 0
        if wrong.any():
            first = int(wrong.argmax())
            where = starts[code[first]]
            bad.append(_bad(data, where, where + lengths[code[first]], "an identifier code that is declared"))
        wrong = ~wrong & ((vector & ((size < 1) | (size > width))) | (~vector & (width > 0)))
        if wrong.any():
            first = int(wrong.argmax())
            expected = (
                f"a vector of at most {width[first]} bits" if width[first] else "a value of its kind, as declared"
            )
            bad.append(_bad(data, starts[at[first]], starts[at[first]] + lengths[at[first]], expected))
        found = []
        use = vector & (variable >= 0) & (size >= 1) & (size <= width)
        for pair in np.unique(variable[use] << 32 | size[use]).tolist():
            number, letters = pair >> 32, pair & 0xFFFFFFFF
            own = at[use & (variable == number) & (size == letters)]
            levels = _LEVEL[data[(starts[own] + 1)[:, None] + np.arange(letters)]]
            if int(levels.max()) > UNKNOWN:
                first = int((levels > UNKNOWN).any(axis=1).argmax())
                where = starts[own[first]]
                bad.append(_bad(data, where, where + lengths[own[first]], "a vector of 0, 1, x and z"))
            found += self._extended(own, levels, int(self._first[number]), int(self._width[number]))
        return found

    def _extended(self, at: Int64, levels: UInt8, first: int, width: int) -> list[tuple[Int64, Int64, UInt8]]:
        """Bits that are left away in front are 0, or unknown where the first one given is (18.2.1, table 18-1)."""
        missing = width - levels.shape[1]
        front = np.where(levels[:, :1] == UNKNOWN, UNKNOWN, 0).astype(np.uint8)
        whole = np.concatenate([np.repeat(front, missing, axis=1), levels], axis=1)
        return [(at, np.full(len(at), first + i, np.int64), whole[:, i]) for i in range(width)]

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


def _bad(data: UInt8, start: Any, end: Any, expected: str) -> _BadWord:
    word = data[int(start) : int(end)].tobytes()[:40].decode("latin-1")
    return _BadWord(int(start), repr(word), expected)


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
