"""What stands above the rows of logic cells: comments, names, a sample rate, where the data starts."""

from __future__ import annotations

from tracecore.readers.dump.declarations import begins_as_dump
from tracecore.readers.headings.row_heading import Heading as Heading
from tracecore.readers.headings.row_heading import as_heading, lines_above
from tracecore.readers.headings.titles import TIME_HEADING, channel_names, title_and_units
from tracecore.readers.headings.titles import TYPES as TYPES
from tracecore.readers.headings.word_heading import word_heading
from tracecore.readers.plan.words import says_volts
from tracecore.readers.recognise.first_row import check_first_row, check_whole
from tracecore.readers.recognise.front_times import timed_rows
from tracecore.readers.recognise.lines_above import check_lines_above
from tracecore.readers.recognise.row_cells import LOGIC_CELL, LOOKED_AT, counts_up, is_logic, is_row, open_ended
from tracecore.readers.recognise.row_cells import NUMBER as NUMBER
from tracecore.readers.refusals import wrong_width
from tracecore.readers.source import Head


def read_heading(head: Head) -> Heading | None:
    """None where what stands below the heading is not, for the most part, rows of logic cells."""
    if begins_as_dump(head):
        return None
    return word_heading(head) or _logic_heading(head)


def _logic_heading(head: Head) -> Heading | None:
    above = lines_above(head, _is_first_row)
    titles, data_line = above.titles, above.data_line
    if data_line is None:
        return None
    if above.listed and tuple(head.cells(data_line)) == above.listed and data_line + 1 < len(head.lines):
        titles.append(head.cells(data_line))  # names such as 0,1 look like a row
        data_line += 1
    rows = head.rows(data_line, LOOKED_AT)
    if not rows or 2 * sum(is_logic(cells) for cells in rows) <= len(rows):
        return None
    check_first_row(head, data_line, above.listed)
    titles = titles or above.commented_title(head, len(rows[0]))
    title, unit_row = title_and_units(titles)
    if _says_volts(titles, title, unit_row):
        return None
    check_whole(head, data_line)
    timed = timed_rows(rows, bool(title) and bool(TIME_HEADING.fullmatch(title[0])))
    cells = _first_row(head, data_line, rows, title)
    check_lines_above(head, data_line, len(rows[0]))
    if len(cells) <= timed:
        return None
    names = channel_names(title[timed:], above.listed, len(cells) - timed)
    return as_heading(above, data_line, timed, rows, names, title, unit_row)


def _says_volts(titles: list[list[str]], title: list[str], unit_row: list[str]) -> bool:
    """A unit in brackets, below the names, or in a preamble of names and values; a name such as V is none."""
    united = [cell for cell in title[1:] if cell.rstrip().endswith((")", "]"))]
    pairs = [cells[1] for cells in titles if len(cells) == 2 and cells not in (title, unit_row)]
    return any(map(says_volts, (*united, *unit_row[1:], *pairs)))


def _is_first_row(head: Head, line: int, titles: list[list[str]]) -> bool:
    cells = head.cells(line)
    return (is_row(cells) and not counts_up(head, line)) or _is_damaged_row(cells, titles)


def _is_damaged_row(cells: list[str], titles: list[list[str]]) -> bool:
    """Below a heading of as many cells: logic cells behind a first one that is no number."""
    if not titles or len(titles[-1]) != len(cells) or len(cells) < 2 or TIME_HEADING.fullmatch(cells[0]):
        return False
    return all(LOGIC_CELL.fullmatch(c) for c in cells[1:]) and any(c in ("0", "1") for c in cells[1:])


def _first_row(head: Head, line: int, rows: list[list[str]], title: list[str]) -> list[str]:
    """The cells of the first row, without the empty one behind a trailing delimiter.

    Raises MalformedCapture where the heading and the rows below agree against it.
    """
    cells, below = open_ended(rows[0], title), [open_ended(row, title) for row in rows[1:3]]
    if len(title) > 1 and below and len(cells) != len(title) and all(len(b) == len(title) for b in below):
        raise wrong_width(head.path, line + 1, len(cells), f"{len(title)} as in the heading")
    return cells
