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
from tracecore.quantities import time_unit_ps
from tracecore.readers.dump.declarations import begins_as_dump
from tracecore.readers.headings.facts import start_and_increment, stated_rates
from tracecore.readers.headings.titles import TIME_HEADING, channel_names, names_and_units, split_title, unit_of_times
from tracecore.readers.plan.plan import CHANGES, SAMPLED, Column, Plan
from tracecore.readers.plan.words import MOST_BITS, WordColumn, is_word, says_volts, word_column
from tracecore.readers.recognise.cells import LOGIC_CELLS, NUMBER, is_text
from tracecore.readers.recognise.damaged_heading import check_heading
from tracecore.readers.recognise.first_row import above_rows, is_logic
from tracecore.readers.source import Head

_LOOKED_AT = 1000


def logic_plan(head: Head) -> Plan | None:
    """None where what stands below the heading is not, for the most part, rows of logic cells or words."""
    if begins_as_dump(head):
        return None
    return _plan(head, with_words=True) or _plan(head, with_words=False)


def _plan(head: Head, with_words: bool) -> Plan | None:
    """The plan of rows with words in them, or of rows of letters alone; None where they are none."""
    above = above_rows(head)
    if above is None or start_and_increment(above.titles)[0] is not None:
        return None  # volts
    data_line, listed, rates = above.data_line, above.listed, stated_rates(head, above.data_line)
    rows = head.rows(data_line, _LOOKED_AT)
    if not rows or (not with_words and 2 * sum(map(is_logic, rows)) <= len(rows)):
        return None
    titles = above.titles or above.commented_title(head, len(rows[0]))
    title, units = names_and_units(titles)
    # an empty cell behind a trailing delimiter is none
    rows = [row[:-1] if len(row) > 1 and not row[-1] and len(row) != len(title) else row for row in rows]
    width = Counter(map(len, rows)).most_common(1)[0][0]
    even = [row for row in rows if len(row) == width]
    named = bool(title) and bool(TIME_HEADING.fullmatch(title[0]))
    timed = width > 1 and (named or _times_in_front([row[0] for row in even], title, rows, with_words, bool(rates)))
    if _says_volts(titles, title[timed:], units[timed:], with_words):
        return None
    if any(sum(c not in LOGIC_CELLS for c in texts) > 1 and is_text(texts) for texts in zip(*even, strict=True)):
        return None  # decoded text, that is blank in most rows
    names = channel_names(title[timed:], listed, width - timed)
    words: tuple[WordColumn | None, ...] = (None,) * len(names)
    table: list[list[str]] = []
    if with_words:
        table = [list(column) for column in zip(*even, strict=True)]
        words = tuple(word_column(name, cells) for name, cells in zip(names, table[timed:], strict=True))
        letters = (2 * sum(c in LOGIC_CELLS for c in cells) > len(cells) for cells in table[timed:])
        if not any(words) or not all(w or mostly for w, mostly in zip(words, letters, strict=True)):
            return None
        _check_widths(head, data_line, words, timed)
    check_heading(head, data_line, width, listed, words=with_words)
    if width <= timed:
        return None
    if with_words:
        _check_title(head, data_line, title, words, table)
    unit, unknown = unit_of_times(title, units) if timed and (named or len(title) == width) else (None, "")
    columns = [Column(0, "", "time", unit_ps=unit)] if timed else []
    for at, (name, word) in enumerate(zip(names, words, strict=True), start=timed):
        columns.append(Column(at, name, "word" if word else "logic", word=word))
    return Plan(
        SAMPLED if not timed or (rates and _go_evenly(rows)) else CHANGES,
        data_line,
        width,
        tuple(columns),
        head.delimiter,
        head.decimal,
        head.coding,
        rates,
        unknown_unit=unknown,
        time_heading=title[0] if timed and (named or unit is not None) else "",
        facts=tuple(fact for fact in above.facts if timed or fact[0] != "sample rate"),
        carried=above.carried,
    )


# ---- what the cells are


def _says_volts(titles: list[list[str]], names: list[str], units: list[str], with_words: bool) -> bool:
    """A unit in brackets, below the names, or in a preamble of names and values; a name such as V is none."""
    if with_words:
        return any(map(says_volts, (*names, *units)))
    united = [cell for cell in names if cell.rstrip().endswith((")", "]"))]
    pairs = [cells[1] for cells in titles[: -1 - bool(units)] if len(cells) == 2]
    return any(map(says_volts, (*united, *units, *pairs)))


def _times_in_front(cells: list[str], title: list[str], rows: list[list[str]], with_words: bool, rated: bool) -> bool:
    """Without a heading that says so: numbers that climb; among words, where a unit of time stands above them, or
    no rate is stated and they are surely no words. ``0,0,1`` can be read both ways: the rows below decide."""
    if with_words:
        column = word_column(title[0] if title else "", cells)
        numbers = 2 * sum(bool(NUMBER.fullmatch(c)) for c in cells) > len(cells)
        united = bool(title) and time_unit_ps(split_title(title[0])[1]) is not None
        if not numbers or ((rated or (column and column.sure)) and not united):
            return False
    first = [row[0] for row in rows]
    if set(first) <= {"0", "1"}:
        return False
    # times run upwards; a stray cell that is no 0 or 1 does not make a column of times
    times = [float(c) for c in first if NUMBER.fullmatch(c)]
    climbs = sum(b >= a for a, b in itertools.pairwise(times))
    odd = sum(c not in ("0", "1") for c in first)
    return 2 * odd > len(rows) - 2 and climbs >= 0.9 * (len(times) - 1)


def _go_evenly(rows: list[list[str]]) -> bool:
    """Do the times of the first rows go in steps of one size, printing aside?"""
    shown = [c for cells in rows if NUMBER.fullmatch(c := cells[0])]
    if len(shown) < 3:
        return True
    times = [float(c) for c in shown]
    printed = max(10.0 ** -len(c.partition(".")[2]) if "e" not in c.lower() else 0.0 for c in shown)
    step = (times[-1] - times[0]) / (len(times) - 1)
    slack = max(0.51 * abs(step), 1.01 * printed)
    return sum(abs(b - a - step) > slack for a, b in itertools.pairwise(times)) * 10 <= len(times)


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
    if all(is_word(t) and len(t) == len(column[0]) if w else t in LOGIC_CELLS for t, w, column in cells):
        raise MalformedCapture(
            head.path,
            line=data_line,
            found=f"{title[0]!r} above the rows, which can be a name or a word in hex",
            expected="names that cannot be taken for words, such as 'BUS[7:0]'",
            do="Write such names above the first row.",
        )
