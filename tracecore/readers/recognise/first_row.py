"""The first row: damaged, it must not pass for a heading above the others; alone and cut short, for a whole file."""

from __future__ import annotations

import re
from collections.abc import Sequence

from tracecore.errors import MalformedCapture
from tracecore.readers.plan.words import is_word
from tracecore.readers.recognise.row_cells import LOGIC_CELLS, NUMBER, counts_up
from tracecore.readers.source import Head, comment_text, split_cells

_FRONT = re.compile(r"(?:time|t|timestamp|seconds?|x-axis|x|n|no\.?|index|sample|sequence)\b.*", re.IGNORECASE)
_NUMBERS = re.compile(r"(?<![^,;\teE])[+-]?\d+|\d+")
_PREFIXED = re.compile(r"0[xXoO][\da-fA-F]+")
_DECIMALS = re.compile(r"9(?:\.9)?(?:[eE]9)?")
# letters are digits where a word of a bus has one digit at least
_WORDS = re.compile(r"(?<![^\W_])[A-Fa-f]*\d[\dA-Fa-f]*(?![^\W_])")
_MOST_EDITS = 2
_ROWS_LOOKED_AT = 8
END_LINE = "Export the capture again, or end this line if it is whole."
_DO = "Correct this line, or say which line is the first row (--first-row)."


def check_first_row(head: Head, data_line: int, listed: Sequence[str] = (), *, words: bool = False) -> None:
    """Raises MalformedCapture where the line above the rows (from line ``data_line`` on, from 0) is a damaged row.

    It is one where a letter or two make a row of it, or make two rows of it. Names that are ``listed`` elsewhere, that
    count up, or that stand behind a word for time or index, are names. ``words`` says that rows may hold hex words.
    """
    if head.first_row_said:
        return
    above = next((i for i in range(data_line - 1, -1, -1) if head.lines[i].strip()), None)
    if above is None or _is_heading(head, above, listed):
        return
    rows = [line for line in head.lines[data_line:] if line.strip()][:_ROWS_LOOKED_AT]
    text = pattern(head.lines[above], head.delimiter, words)
    shapes = {pattern(row, head.delimiter, words) for row in rows}
    pairs = {f"{one}\n{two}" for one in shapes for two in shapes}
    coarse = _DECIMALS.sub("9", text), {_DECIMALS.sub("9", shape) for shape in shapes}
    near = _is_near(text, shapes) or _is_near(*coarse) or any(edits(text, pair) < 2 for pair in pairs)
    near = near or (words and _is_marked(head, above, rows[0]))
    if near or _is_stray_letter(head, above, rows) or _ends_in_row(head.lines[above], text, shapes):
        raise _damaged(head, above, rows)


def _is_near(text: str, shapes: set[str]) -> bool:
    return any(edits(text, shape) < min(3, len(shape) / 2) for shape in shapes)


def _ends_in_row(line: str, text: str, shapes: set[str]) -> bool:
    """Is a row glued to a comment? A list of channels may look like that."""
    comment = comment_text(line)
    glued = comment is not None and "channel" not in comment.lower()
    return glued and any(len(shape) > 2 and text.endswith(shape) for shape in shapes)


def _is_marked(head: Head, line: int, row: str) -> bool:
    """Does the mark of a comment stand for the first cell of a row of words? Words of letters alone look like names."""
    cells, wanted = head.cells(line), split_cells(row, head.delimiter, head.decimal)
    if comment_text(head.lines[line]) is None or len(cells[0]) > 1 or len(cells) != len(wanted):
        return False
    return all(is_word(one) and len(one) == len(other) for one, other in zip(cells[1:], wanted[1:], strict=True))


def _is_heading(head: Head, line: int, listed: Sequence[str]) -> bool:
    cells = head.cells(line)
    if (listed and tuple(cells) == tuple(listed)) or counts_up(head, line):
        return True
    return bool(_FRONT.fullmatch(cells[0])) and not _is_titled(head, line, len(cells))


def _is_titled(head: Head, line: int, cells: int) -> bool:
    """Does a line of as many cells stand above this one? Then this one is no line of names."""
    above = next((i for i in range(line - 1, -1, -1) if head.lines[i].strip()), None)
    return above is not None and comment_text(head.lines[above]) is None and len(head.cells(above)) == cells


def _is_stray_letter(head: Head, line: int, rows: list[str]) -> bool:
    """In a file of one column a damaged row is one letter below the name, which has no blanks as prose has."""
    above = next((text for i in range(line - 1, -1, -1) if (text := head.lines[i].strip())), " ")
    short = all(len(row.strip()) == 1 for row in (head.lines[line], *rows))
    return short and " " not in above and _is_titled(head, line, 1)


def _damaged(head: Head, line: int, rows: list[str]) -> MalformedCapture:
    cells, wanted = head.cells(line), split_cells(rows[0], head.delimiter, head.decimal)
    odd = [i for i, cell in enumerate(cells) if not NUMBER.fullmatch(cell) and cell not in LOGIC_CELLS]
    one = len(cells) == len(wanted) and len(odd) == 1
    what = cells[odd[0]] if one else head.lines[line].strip()
    return MalformedCapture(
        head.path,
        line=line + 1,
        column=odd[0] + 1 if one else None,
        found=f"{what[:40]!r} above the rows, which looks like a damaged row",
        expected=f"a row such as {rows[0].strip()[:40]!r}, or names that cannot be taken for one",
        do=_DO,
    )


def pattern(line: str, delimiter: str, words: bool = False) -> str:
    """A line with each number in it as one 9, without quotes and blanks around the cells.

    >>> pattern('1.20E-08, "-0.15"', ",")
    '9.9E9,9.9'
    """
    cells = (cell.strip(' "') for cell in line.strip().split(delimiter))
    text = delimiter.join(cells)
    if words:
        return _WORDS.sub("9", _NUMBERS.sub("9", _PREFIXED.sub("9", text)))
    return _NUMBERS.sub("9", text)


def edits(one: str, other: str) -> int:
    """How many letters changed, put in or taken out make one text of the other; 3 stands for that many or more.

    >>> edits("9.9,9", "9/9,9"), edits("9,9", "9,9,"), edits("9,9", "A,B"), edits("9,9", "Time,A")
    (1, 1, 2, 3)
    """
    far = _MOST_EDITS + 1
    if abs(len(one) - len(other)) > _MOST_EDITS:
        return far
    row = {j: j for j in range(min(len(other), _MOST_EDITS) + 1)}
    for i, letter in enumerate(one, start=1):
        now: dict[int, int] = {}
        for j in range(max(0, i - _MOST_EDITS), min(len(other), i + _MOST_EDITS) + 1):
            same = row.get(j - 1, far) + (letter != other[j - 1]) if j else far
            now[j] = min(same, row.get(j, far) + 1, now.get(j - 1, far) + 1)
        row = now
        if min(row.values()) >= far:
            return far
    return min(far, row[len(other)])


def check_whole(head: Head, data_line: int) -> None:
    """Raises MalformedCapture where the only row has no line end and may be the front part of a longer one."""
    rows = [i for i in range(data_line, len(head.lines)) if head.lines[i].strip()]
    if head.whole and len(rows) == 1 and rows[0] == len(head.lines) - 1:
        found = "one row only, without a line end, which may be cut short"
        raise MalformedCapture(head.path, line=rows[0] + 1, found=found, expected="a whole row", do=END_LINE)
