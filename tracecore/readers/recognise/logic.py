"""Rows of logic cells and of words of a bus: where they begin, and what each of their cells is.

; Samplerate: 10 MHz          a row a sample; with a time in front too, where the times go in even steps
D1,D3
0,1

Time [ns],BUS[7:0] (hex),CLK  a row where something changed
5,3F,0
"""

from __future__ import annotations

import itertools
from collections import Counter

from tracecore.errors import MalformedCapture
from tracecore.readers.dump.declarations import begins_as_dump
from tracecore.readers.headings.heading_facts import Above, lines_above, start_and_increment
from tracecore.readers.headings.heading_units import unit_of_times
from tracecore.readers.headings.names import TIME_HEADING, channel_names, title_and_units
from tracecore.readers.plan.plan import CHANGES, SAMPLED, Column, Plan
from tracecore.readers.plan.words import MOST_BITS, WordColumn, is_word, says_volts, word_column
from tracecore.readers.recognise.first_row import check_first_row, check_whole
from tracecore.readers.recognise.lines_above import check_lines_above
from tracecore.readers.recognise.row_cells import (
    LOGIC_CELLS,
    LOOKED_AT,
    NUMBER,
    counts_up,
    is_logic,
    is_row,
    open_ended,
)
from tracecore.readers.refusals import wrong_width
from tracecore.readers.source import Head


def logic_plan(head: Head) -> Plan | None:
    """None where what stands below the heading is not, for the most part, rows of logic cells or words."""
    if begins_as_dump(head):
        return None
    return _of_words(head) or _of_letters(head)


def _of_words(head: Head) -> Plan | None:
    """Rows with words in them; None where no column holds any."""
    above = lines_above(head, _begins_words)
    data_line = above.data_line
    if data_line is None or start_and_increment(above.titles)[0] is not None:
        return None
    rows = head.rows(data_line, LOOKED_AT)
    titles = above.titles or above.commented_title(head, len(rows[0]))
    title, unit_row = title_and_units(titles)
    rows = [open_ended(row, title) for row in rows]
    width = Counter(map(len, rows)).most_common(1)[0][0]
    table = [list(column) for column in zip(*(row for row in rows if len(row) == width), strict=True)]
    headed = bool(title) and bool(TIME_HEADING.fullmatch(title[0]))
    timed = width > 1 and (headed or _times_in_front(table[0], title, bool(above.rates), rows))
    names = channel_names(title[timed:], above.listed, width - timed)
    if any(says_volts(cell) for cell in (*title[timed:], *unit_row[timed:])):
        return None
    words = tuple(word_column(name, cells) for name, cells in zip(names, table[timed:], strict=True))
    if not any(words) or not all(w or _mostly_logic(c) for w, c in zip(words, table[timed:], strict=True)):
        return None
    _check_widths(head, data_line, words, timed)
    check_first_row(head, data_line, above.listed, words=True)
    check_whole(head, data_line)
    check_lines_above(head, data_line, width)
    _check_title(head, data_line, title, words, table)
    return _plan(head, above, data_line, timed, rows, names, title, unit_row, words)


def _of_letters(head: Head) -> Plan | None:
    above = lines_above(head, _begins_letters)
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
    return _plan(head, above, data_line, timed, rows, names, title, unit_row)


def _plan(
    head: Head,
    above: Above,
    data_line: int,
    timed: bool,
    rows: list[list[str]],
    names: tuple[str, ...],
    title: list[str],
    unit_row: list[str],
    words: tuple[WordColumn | None, ...] = (),
) -> Plan:
    """The plan of ``rows``, the first ones, below ``title`` and ``unit_row``."""
    named = bool(title) and bool(TIME_HEADING.fullmatch(title[0]))
    united = timed and (named or len(title) == len(names) + timed)
    unit, unknown = unit_of_times(title, unit_row) if united else (None, "")
    each = words or (None,) * len(names)
    columns = [Column(0, "", "time", unit_ps=unit)] if timed else []
    for at, (name, word) in enumerate(zip(names, each, strict=True), start=timed):
        columns.append(Column(at, name, "word" if word else "logic", word=word))
    return Plan(
        SAMPLED if not timed or (above.rates and even_times(rows)) else CHANGES,
        data_line,
        len(columns),
        tuple(columns),
        head.delimiter,
        head.decimal,
        head.coding,
        above.rates,
        unknown_unit=unknown,
        time_heading=title[0] if named or unit is not None else "",
        facts=tuple(fact for fact in above.facts if timed or fact[0] != "sample rate"),
        carried=above.carried,
    )


# ---- which line is the first row


def _begins_words(head: Head, line: int, titles: list[list[str]]) -> bool:
    """A cell that begins with a digit makes a row of words and numbers."""
    cells = head.cells(line)
    if titles and start_and_increment([titles[-1], cells])[0] is not None:
        return False  # volts
    digits = any(c[:1].isdecimal() or c[:1] in ("+", "-", "'") for c in cells if c)
    fits = all(not c or is_word(c) or NUMBER.fullmatch(c) for c in cells)
    like_title = bool(titles) and len(cells) == len(titles[-1])
    return (fits and (digits or like_title) and not counts_up(head, line)) or (digits and like_title)


def _begins_letters(head: Head, line: int, titles: list[list[str]]) -> bool:
    cells = head.cells(line)
    return (is_row(cells) and not counts_up(head, line)) or _is_damaged_row(cells, titles)


def _is_damaged_row(cells: list[str], titles: list[list[str]]) -> bool:
    """Below a heading of as many cells: logic cells behind a first one that is no number."""
    if not titles or len(titles[-1]) != len(cells) or len(cells) < 2 or TIME_HEADING.fullmatch(cells[0]):
        return False
    return all(c in LOGIC_CELLS for c in cells[1:]) and any(c in ("0", "1") for c in cells[1:])


def _first_row(head: Head, line: int, rows: list[list[str]], title: list[str]) -> list[str]:
    """The cells of the first row, without the empty one behind a trailing delimiter.

    Raises MalformedCapture where the heading and the rows below agree against it.
    """
    cells, below = open_ended(rows[0], title), [open_ended(row, title) for row in rows[1:3]]
    if len(title) > 1 and below and len(cells) != len(title) and all(len(b) == len(title) for b in below):
        raise wrong_width(head.path, line + 1, len(cells), f"{len(title)} as in the heading")
    return cells


# ---- what the cells are


def _says_volts(titles: list[list[str]], title: list[str], unit_row: list[str]) -> bool:
    """A unit in brackets, below the names, or in a preamble of names and values; a name such as V is none."""
    united = [cell for cell in title[1:] if cell.rstrip().endswith((")", "]"))]
    pairs = [cells[1] for cells in titles if len(cells) == 2 and cells not in (title, unit_row)]
    return any(map(says_volts, (*united, *unit_row[1:], *pairs)))


def _times_in_front(cells: list[str], title: list[str], rated: bool, rows: list[list[str]]) -> bool:
    """Without a heading that says so: numbers that climb, where no rate is stated and they are surely no words."""
    column = word_column(title[0] if title else "", cells)
    numbers = 2 * sum(bool(NUMBER.fullmatch(c)) for c in cells) > len(cells)
    return not rated and numbers and not (column and column.sure) and timed_rows(rows, False)


def _mostly_logic(cells: list[str]) -> bool:
    return 2 * sum(c in LOGIC_CELLS for c in cells) > len(cells)


def _check_widths(head: Head, data_line: int, words: tuple[WordColumn | None, ...], timed: bool) -> None:
    for column, word in enumerate(words, 1 + timed):
        if word is not None and len(word.bits) > MOST_BITS:
            raise MalformedCapture(
                head.path,
                line=max(1, data_line),
                column=column,
                found=f"{len(word.bits)} bits stated for {word.name!r}",
                expected=f"words of {MOST_BITS} bits at most",
                do="Correct the numbers of the bits.",
            )


def _check_title(
    head: Head, data_line: int, title: list[str], words: tuple[WordColumn | None, ...], table: list[list[str]]
) -> None:
    """Names such as FF can be a first row of hex words; nobody can tell where the words are as long."""
    if len(title) != len(table) or len(title) != len(words):
        return
    cells = zip(title, words, table, strict=True)
    if not all(is_word(t) and len(t) == len(column[0]) if w else t in LOGIC_CELLS for t, w, column in cells):
        return
    raise MalformedCapture(
        head.path,
        line=data_line,
        found=f"{title[0]!r} above the rows, which can be a name or a word in hex",
        expected="names that cannot be taken for words, such as 'BUS[7:0]'",
        do="Write such names above the first row.",
    )


def timed_rows(rows: list[list[str]], titled: bool) -> bool:
    """Is the first cell a time? ``0,0,1`` can be read both ways: the heading decides, or the rows below."""
    if len(rows[0]) == 1:
        return False
    if titled:
        return True
    first = {cells[0] for cells in rows}
    if first <= {"0", "1"}:
        return False
    # times run upwards; a stray cell that is no 0 or 1 does not make a column of times
    numbers = [float(c) for cells in rows if NUMBER.fullmatch(c := cells[0])]
    climbs = sum(b >= a for a, b in itertools.pairwise(numbers))
    odd = sum(cells[0] not in ("0", "1") for cells in rows)
    return 2 * odd > len(rows) - 2 and climbs >= 0.9 * (len(numbers) - 1)


def even_times(rows: list[list[str]]) -> bool:
    """Do the times of the first rows go in steps of one size, printing aside?"""
    shown = [c for cells in rows if NUMBER.fullmatch(c := cells[0])]
    if len(shown) < 3:
        return True
    times = [float(c) for c in shown]
    printed = max(10.0 ** -len(c.partition(".")[2]) if "e" not in c.lower() else 0.0 for c in shown)
    step = (times[-1] - times[0]) / (len(times) - 1)
    slack = max(0.51 * abs(step), 1.01 * printed)
    return sum(abs(b - a - step) > slack for a, b in itertools.pairwise(times)) * 10 <= len(times)
