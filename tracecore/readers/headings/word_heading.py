"""What stands above rows that hold words of a bus."""

from __future__ import annotations

from collections import Counter

from tracecore.errors import MalformedCapture
from tracecore.readers.headings.heading_facts import start_and_increment
from tracecore.readers.headings.row_heading import Heading, as_heading, lines_above
from tracecore.readers.headings.titles import TIME_HEADING, channel_names, title_and_units
from tracecore.readers.plan.words import MOST_BITS, WordColumn, is_word, says_volts, word_column
from tracecore.readers.recognise.first_row import check_first_row, check_whole
from tracecore.readers.recognise.front_times import timed_rows
from tracecore.readers.recognise.lines_above import check_lines_above
from tracecore.readers.recognise.row_cells import LOGIC_CELL, LOOKED_AT, NUMBER, counts_up, open_ended
from tracecore.readers.source import Head


def word_heading(head: Head) -> Heading | None:
    """The heading of rows with words in them; None where no column holds any."""
    above = lines_above(head, _is_first_row)
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
    return as_heading(above, data_line, timed, rows, names, title, unit_row, words)


def _is_first_row(head: Head, line: int, titles: list[list[str]]) -> bool:
    """A cell that begins with a digit makes a row of words and numbers."""
    cells = head.cells(line)
    if titles and start_and_increment([titles[-1], cells])[0] is not None:
        return False  # volts
    digits = any(c[:1].isdecimal() or c[:1] in ("+", "-", "'") for c in cells if c)
    fits = all(not c or is_word(c) or NUMBER.fullmatch(c) for c in cells)
    like_title = bool(titles) and len(cells) == len(titles[-1])
    return (fits and (digits or like_title) and not counts_up(head, line)) or (digits and like_title)


def _times_in_front(cells: list[str], title: list[str], rated: bool, rows: list[list[str]]) -> bool:
    """Without a heading that says so: numbers that climb, where no rate is stated and they are surely no words."""
    column = word_column(title[0] if title else "", cells)
    numbers = 2 * sum(bool(NUMBER.fullmatch(c)) for c in cells) > len(cells)
    return not rated and numbers and not (column and column.sure) and timed_rows(rows, False)


def _mostly_logic(cells: list[str]) -> bool:
    return 2 * sum(bool(LOGIC_CELL.fullmatch(c)) for c in cells) > len(cells)


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
    if not all(is_word(t) and len(t) == len(column[0]) if w else LOGIC_CELL.fullmatch(t) for t, w, column in cells):
        return
    raise MalformedCapture(
        head.path,
        line=data_line,
        found=f"{title[0]!r} above the rows, which can be a name or a word in hex",
        expected="names that cannot be taken for words, such as 'BUS[7:0]'",
        do="Write such names above the first row.",
    )
