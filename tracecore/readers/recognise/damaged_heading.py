"""What is damaged above the rows: a damaged first row must not pass for a heading, nor a row glued to the heading or a
heading torn in two for names; a row alone and cut short is no whole file."""

from __future__ import annotations

import re
from collections.abc import Sequence

from tracecore.errors import MalformedCapture
from tracecore.readers.headings.titles import are_units, is_unit, time_unit_in
from tracecore.readers.plan.words import is_word
from tracecore.readers.recognise.cells import LOGIC_CELLS, NUMBER, edits, filled
from tracecore.readers.recognise.first_row import counts_up, stands_in_front
from tracecore.readers.refusals import END_LINE
from tracecore.readers.source import Head, comment_text, split_cells

_NUMBERS = re.compile(r"(?<![^,;\teE])[+-]?\d+|\d+")
_PREFIXED = re.compile(r"0[xXoO][\da-fA-F]+")
_DECIMALS = re.compile(r"9(?:\.9)?(?:[eE]9)?")
# letters are digits where a word of a bus has one digit at least
_WORDS = re.compile(r"(?<![^\W_])[A-Fa-f]*\d[\dA-Fa-f]*(?![^\W_])")
_ROWS_LOOKED_AT = 8
_LINES_LOOKED_AT = 4
_CORRECT = "Correct this line, or say which line is the first row (--first-row)."
_COMMENT = "Correct it, put a ; before it if it is a comment, or say which line is the first row (--first-row)."


def check_heading(head: Head, data_line: int, width: int, listed: Sequence[str] = (), *, words: bool = False) -> None:
    """Raises MalformedCapture where what stands above rows of ``width`` cells, from line ``data_line`` (from 0) on, is
    damaged.

    ``listed`` are names that stand elsewhere; ``words`` says that rows may hold hex words. Nothing above the rows is
    looked at where a person said where these begin.
    """
    if head.first_row is None:
        _check_row_above(head, data_line, listed, words)
    check_whole(head, data_line)
    if head.first_row is None:
        _check_lines_above(head, data_line, width)


def check_whole(head: Head, data_line: int) -> None:
    """Raises MalformedCapture where the only row has no line end and may be the front part of a longer one."""
    rows = [i for i in range(data_line, len(head.lines)) if head.lines[i].strip()]
    if head.whole and rows == [len(head.lines) - 1]:
        found = "one row only, without a line end, which may be cut short"
        raise MalformedCapture(head.path, line=rows[0] + 1, found=found, expected="a whole row", do=END_LINE)


# ---- a damaged row above the rows


def _check_row_above(head: Head, data_line: int, listed: Sequence[str], words: bool) -> None:
    """A line is a damaged row where a letter or two make a row of it, or make two rows of it; but not where its cells
    are ``listed``, count up, or stand behind a word for time or index."""
    above = _filled_above(head, data_line)
    if above is None or _is_names(head, above, listed):
        return
    rows = [line for line in head.lines[data_line:] if line.strip()][:_ROWS_LOOKED_AT]
    text = pattern(head.lines[above], head.delimiter, words)
    shapes = {pattern(row, head.delimiter, words) for row in rows}
    coarse = {_DECIMALS.sub("9", shape) for shape in shapes}
    near = _is_near(text, shapes) or _is_near(_DECIMALS.sub("9", text), coarse)
    near = near or any(edits(text, f"{one}\n{two}") < 2 for one in shapes for two in shapes)
    cells, wanted = head.cells(above), split_cells(rows[0], head.delimiter, head.decimal)
    comment = comment_text(head.lines[above])
    if words and comment is not None and len(cells) == len(wanted) and len(cells[0]) < 2:
        # the mark of a comment may stand for the first cell of a row of words; words of letters alone look like names
        near = near or all(is_word(a) and len(a) == len(b) for a, b in zip(cells[1:], wanted[1:], strict=True))
    # a row may be glued to a comment, though a list of channels may look like that
    glued = comment is not None and "channel" not in comment.lower()
    near = near or (glued and any(len(shape) > 2 and text.endswith(shape) for shape in shapes))
    if not (near or _is_stray_letter(head, above, rows)):
        return
    odd = [i for i, cell in enumerate(cells) if not NUMBER.fullmatch(cell) and cell not in LOGIC_CELLS]
    one = len(cells) == len(wanted) and len(odd) == 1
    what = cells[odd[0]] if one else head.lines[above].strip()
    raise MalformedCapture(
        head.path,
        line=above + 1,
        column=odd[0] + 1 if one else None,
        found=f"{what[:40]!r} above the rows, which looks like a damaged row",
        expected=f"a row such as {rows[0].strip()[:40]!r}, or names that cannot be taken for one",
        do=_CORRECT,
    )


def _filled_above(head: Head, line: int) -> int | None:
    return next((i for i in range(line - 1, -1, -1) if head.lines[i].strip()), None)


def _is_near(text: str, shapes: set[str]) -> bool:
    return any(edits(text, shape) < min(3, len(shape) / 2) for shape in shapes)


def _is_names(head: Head, line: int, listed: Sequence[str]) -> bool:
    cells = head.cells(line)
    if (listed and tuple(cells) == tuple(listed)) or counts_up(head, line):
        return True
    return stands_in_front(cells[0]) and not _is_titled(head, line)


def _is_titled(head: Head, line: int) -> bool:
    """Does a line of as many cells stand above this one? Then this one is no line of names."""
    above = _filled_above(head, line)
    if above is None or comment_text(head.lines[above]) is not None:
        return False
    return len(head.cells(above)) == len(head.cells(line))


def _is_stray_letter(head: Head, line: int, rows: list[str]) -> bool:
    """In a file of one column a damaged row is one letter below the name, which has no blanks as prose has."""
    above = _filled_above(head, line)
    short = all(len(row.strip()) == 1 for row in (head.lines[line], *rows))
    return short and above is not None and " " not in head.lines[above].strip() and _is_titled(head, line)


def pattern(line: str, delimiter: str, words: bool = False) -> str:
    """A line with each number in it as one 9, without quotes and blanks around the cells.

    >>> pattern('1.20E-08, "-0.15"', ",")
    '9.9E9,9.9'
    """
    text = delimiter.join(cell.strip(' "') for cell in line.strip().split(delimiter))
    numbered = _NUMBERS.sub("9", _PREFIXED.sub("9", text) if words else text)
    return _WORDS.sub("9", numbered) if words else numbered


# ---- a torn heading


def _check_lines_above(head: Head, data_line: int, width: int) -> None:
    """The line above the rows has no more cells than they have, and no more than one line of units stands between them
    and a heading that begins with a word for time."""

    def wrong(line: int, found: str, expected: str) -> MalformedCapture:
        return MalformedCapture(head.path, line=line + 1, found=found, expected=expected, do=_COMMENT)

    lines = [i for i in range(data_line) if head.lines[i].strip() and comment_text(head.lines[i]) is None]
    for i in lines:
        if head.lines[i].count('"') % 2 and any(c.strip().startswith('"') for c in head.lines[i].split(head.delimiter)):
            raise wrong(i, "a quote without its pair", "quotes in pairs, or none")
    if not lines:
        return
    lines = lines[: -_LINES_LOOKED_AT - 1 : -1]
    cells = filled(head.cells(lines[0]))
    names = filled([name.lower() for name in head.cells(lines[1])]) if len(lines) > 1 else []
    if "start" in names and "increment" in names:
        # their values stand behind what the rows hold
        names = names[: min(names.index("start"), names.index("increment"))]
        cells = cells[: len(names)]
    united = 2 * sum(map(is_unit, cells)) >= len(cells)
    for line, count in ((lines[0], len(cells)), *([(lines[1], len(names))] if names and united else [])):
        if count > max(width, 1) and width > 1:
            raise wrong(line, f"{count} cells above rows of {width}", f"{width} names at most")
    widths = {width, len(filled(head.cells(data_line)))}
    heading = next((k for k, line in enumerate(lines) if _is_heading(head.cells(line), widths)), 0)
    if heading and not (heading == 1 and are_units(head.cells(lines[0]), head.cells(lines[1]))):
        found = f"{head.lines[lines[0]].strip()[:40]!r} between the heading and the rows"
        raise wrong(lines[0], found, "units, or nothing")


def _is_heading(cells: list[str], widths: set[int]) -> bool:
    """A word for time or index first, behind it as many names as a row has cells."""
    count = len(cells)
    if count < 2 or not widths & {count, len(filled(cells))} or any(cell[:1].isdecimal() for cell in cells[1:]):
        return False
    return stands_in_front(cells[0]) or (time_unit_in(cells[0])[0] is not None and not is_unit(cells[0]))
