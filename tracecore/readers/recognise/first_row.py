"""Where rows of any kind begin: the first line whose cells are like those below it, or where a person said.

Samples;24000             a preamble, which is no error whatever stands there
Time [us];CLK;BUS         names, of which few are like what stands below them
0,05;1;3F                 the first row; below names a damaged cell or two may be in it
0,10;0;3F
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from tracecore.errors import UnknownCapture
from tracecore.quantities import time_unit_ps
from tracecore.readers.headings.facts import Above, start_and_increment
from tracecore.readers.headings.titles import (
    INDEX_WORD,
    TIME_WORD,
    are_units,
    is_pair,
    is_unit,
    is_unit_word,
    split_title,
    time_unit_in,
)
from tracecore.readers.plan.words import is_word
from tracecore.readers.recognise.cells import LOGIC_CELLS, NUMBER, filled, is_level_word
from tracecore.readers.source import Head, comment_text

_LATER_LINES = 60
_MOST_STRAYS = 3
_NO_DIGITS = re.compile(r"[^\d.eE+-]")


def first_row(head: Head) -> int | None:
    """The line, from 0, of the first row; None where no line is like those below it.

    A line of other width than the rows is none where names stand below it.
    """
    if head.first_row is not None:
        return head.first_row
    if first_row not in head.found:
        head.found[first_row] = _first_row(head)
    found: int | None = head.found[first_row]
    return found


def above_rows(head: Head) -> Above | None:
    """All lines above the first row; None where there is none."""
    line = first_row(head)
    return None if line is None else Above.of(head, line)


def stands_in_front(title: str) -> bool:
    """A word for time or for the number of a sample."""
    return bool(TIME_WORD.fullmatch(title) or INDEX_WORD.fullmatch(title))


def is_logic(cells: Sequence[str]) -> bool:
    """Cells of logic, unknown ones among them; the first one may be a time."""
    if not all(c in LOGIC_CELLS for c in cells[1:]):
        return False
    # a row of blanks and X alone is no row of data
    return cells[0] in ("0", "1") if len(cells) == 1 else bool(NUMBER.fullmatch(cells[0]))


def counts_up(head: Head, line: int) -> bool:
    """Names such as 0,1,2,3 above rows of logic cells."""
    cells = [c for c in head.cells(line) if c]
    if len(cells) < 3 or not all(map(str.isdecimal, cells)) or line + 1 >= len(head.lines):
        return False
    return all(int(b) - int(a) == 1 for a, b in itertools.pairwise(cells)) and is_logic(head.cells(line + 1))


# ---- what stands below


@dataclass(frozen=True, slots=True)
class _Below:
    """What a column holds in the later rows; ``digits`` are numbers, dates and the like, ``mixed`` says that much else
    stands among these."""

    filled: bool
    numbers: bool
    words: bool
    letters: bool
    levels: bool
    digits: bool
    mixed: bool

    @classmethod
    def of(cls, cells: Iterable[str]) -> _Below:
        some = Counter(filter(None, cells))
        numbers = {cell for cell in some if NUMBER.fullmatch(cell)}
        words = {cell for cell in some if cell not in LOGIC_CELLS and is_word(cell)}
        levels = set(filter(is_level_word, some))
        known = sum(some[cell] for cell in some if cell in LOGIC_CELLS or cell in numbers | words | levels)
        digits = 2 * sum(some[cell] for cell in some if _is_stamp(cell)) > some.total()
        mixed = not digits and 2 * (some.total() - known) >= some.total()
        return cls(bool(some), bool(numbers), bool(words), not words <= numbers, bool(levels), digits, mixed)

    def likeness(self, cell: str) -> int:
        """1 for a cell that is like these, -1 for one that is not, 0 where that tells nothing."""
        if not cell or cell in LOGIC_CELLS - {"0", "1"}:
            return 0
        if NUMBER.fullmatch(cell):
            return int(self.numbers or self.words)
        if is_level_word(cell):
            return 1 if self.levels else -1
        if self.words and is_word(cell):
            # a word of letters alone may be a name
            return int(_has_digit_first(cell)) - (not _has_digit_first(cell) and not self.letters)
        if self.digits and _is_stamp(cell):
            # more letters make a name, and no damaged number
            return 1 if not self.numbers or len(_NO_DIGITS.findall(cell)) <= _MOST_STRAYS else -1
        return -int(self.filled and not self.mixed)


def _has_digit_first(cell: str) -> bool:
    return cell.lstrip("+-'")[:1].isdecimal()


def _is_stamp(cell: str) -> bool:
    """A number with decimals, or with its unit, or a date."""
    return _has_digit_first(cell) and not is_word(cell)


def _lines(head: Head) -> list[int]:
    if _lines not in head.found:
        filled_ones = (i for i, text in enumerate(head.lines) if text.strip())
        head.found[_lines] = [i for i in filled_ones if comment_text(head.lines[i]) is None]
    found: list[int] = head.found[_lines]
    return found


def _columns(head: Head, line: int) -> tuple[_Below, ...]:
    """The columns of the later rows, those behind ``line``; of rows as wide as most."""
    lines = _lines(head)
    sample = lines[-min(_LATER_LINES, max(3, len(lines) // 2)) :]
    later = [i for i in sample if i > line]
    key = _columns, len(later)
    if key not in head.found:
        widths = Counter(len(head.cells(i)) for i in reversed(sample)).most_common(1)
        # the last line may be cut
        tables = ([cells for i in own if len(cells := head.cells(i)) == widths[0][0]] for own in (later, sample))
        columns = list(zip(*next(filter(None, tables), []), strict=True))
        kinds = {cells: _Below.of(cells) for cells in set(columns)}
        head.found[key] = tuple(kinds[cells] for cells in columns)
    found: tuple[_Below, ...] = head.found[key]
    return found


# ---- which line is the first row


def _first_row(head: Head) -> int | None:
    found, names, valued = None, [""], False
    for line in _lines(head):
        cells, columns = head.cells(line), _columns(head, line)
        if valued:
            return line
        valued = start_and_increment([names, cells])[0] is not None
        title = valued or _is_title(head, line, columns, names)
        fits, may_fit = _fit(cells, columns, names)
        # a damaged row, or one that has a cell more or less, is the first unless names stand below it
        if found is None and may_fit and not title:
            found = line
        if fits and not title and len(cells) == len(columns):
            return found
        names_again = abs(len(cells) - len(columns)) <= 1 and not any(map(_has_digit_first, cells))
        if title or (names_again and found != line):
            found = None
        names = cells
    return found


def _fit(cells: Sequence[str], columns: Sequence[_Below], names: Sequence[str]) -> tuple[bool, bool]:
    """Are all cells like those of the rows? And are as many as a damaged row has? ``names`` stand above them."""
    alike, unlike = _likeness(cells, columns)
    closed = len(columns) > 1 and not columns[-1].filled
    named = names != [""] and len(columns) - len(names) in (0, closed) and not is_pair(names)
    worded = any(own.words and is_word(cell) for cell, own in zip(cells, columns, strict=False))
    if not unlike and (alike or (named and worded)):
        return True, True
    some = [cell for cell in cells if cell]
    if named:
        data = sum(_has_digit_first(cell) or cell in LOGIC_CELLS or is_level_word(cell) for cell in some)
        return False, 2 * data >= len(some) > 0
    # of another width nobody can tell a row from a preamble
    wide = len(cells) == len(columns)
    return False, wide and alike >= unlike > 0 and any(map(str.isdecimal, some[0]))


def _is_title(head: Head, line: int, columns: Sequence[_Below], above: Sequence[str]) -> bool:
    """Names that count up or are listed, or one for a time or an index in front."""
    cells = head.cells(line)
    near = bool(columns) and abs(len(cells) - len(columns)) <= 1
    if counts_up(head, line) or (near and _is_front(cells[0], columns[0])):
        return True
    return all(map(_has_digit_first, cells)) and tuple(cells) == Above.of(head, line).listed != tuple(above)


def _likeness(cells: Sequence[str], columns: Sequence[_Below]) -> tuple[int, int]:
    """How many cells are like those below them, and how many are not."""
    found = [own.likeness(cell) for cell, own in zip(cells, columns, strict=False)]
    return found.count(1), found.count(-1) + sum(map(bool, cells[len(columns) :]))


def _is_front(title: str, below: _Below) -> bool:
    """A word for time or index, or a unit of time behind a name; above numbers, and no unknown level of a word."""
    if stands_in_front(title) and not any(map(str.isdecimal, title)):
        return (below.numbers or below.digits) and not (title in LOGIC_CELLS and below.letters)
    united = not title[:1].isdecimal() and time_unit_in(title)[0] is not None
    return below.numbers and united and not is_unit(title)


# ---- where a person said


def with_first_row(head: Head, said: int) -> Head:
    """The head of a file of which a person said that the first row is in line ``said``, counted from 1, or below it
    where that line is blank, a comment, names or units.

    Lines between the names and that row are blank then, but for one of units; so are those above it where there are no
    names, but for pairs of a name and a value. Raises UnknownCapture where no row stands from that line on.
    """
    lines = _lines(head)
    above, below = [i for i in lines if i < said - 1], [i for i in lines if i >= said - 1]
    names = _names(head, above, _columns(head, said - 2))
    if len(below) > 1 and _is_heading(head.cells(below[0]), _columns(head, below[0]), names is not None):
        names = below.pop(0)
    if names is not None and len(below) > 1 and all(map(is_unit_word, head.cells(below[0]))):
        above.append(below.pop(0))
    if not below:
        raise UnknownCapture(
            head.path,
            found=f"no row from line {said} on",
            expected="the first row of data there",
            do="Say another line (--first-row).",
        )
    new = list(head.lines)
    between = [i for i in above if names is None or i > names]
    for i in between:
        cells = head.cells(i)
        kept = i == between[-1] and names is not None and are_units(cells, head.cells(names))
        if names is None:
            kept = len(filled(cells)) == 2 and bool(cells[0]) and not TIME_WORD.fullmatch(cells[0])
        new[i] = new[i] if kept else ""
    return replace(head, lines=tuple(new), first_row=below[0])


def _names(head: Head, above: Sequence[int], columns: Sequence[_Below]) -> int | None:
    """The nearest line above with as many cells as the rows, which is no row; or one of start and increment."""
    closed = len(columns) > 1 and not columns[-1].filled
    widths = {len(columns), len(columns) - closed}
    for i in reversed(above):
        cells = head.cells(i)
        increments = {"start", "increment"} <= {cell.lower() for cell in cells}
        alike, unlike = _likeness(cells, columns)
        if increments or ({len(cells), len(filled(cells))} & widths and (unlike or not alike)):
            units = all(map(is_unit_word, cells)) and any(len(head.cells(j)) == len(cells) for j in above if j < i)
            if not units:
                return i
    return None


def _is_heading(cells: Sequence[str], columns: Sequence[_Below], named: bool) -> bool:
    """Does a line begin with a name and a unit of time? Or, where no names are above it, are half of its cells, and two
    at least, none of those that stand below them? A damaged row has one or two."""
    if len(cells) not in (len(columns), len(columns) - 1):
        return False
    name, unit = split_title(cells[0])
    if named or (name and time_unit_ps(unit) is not None):
        return bool(name) and time_unit_ps(unit) is not None
    return _likeness(cells, columns)[1] >= max(2, len(list(filter(None, cells))) / 2) and not cells[0][:1].isdecimal()
