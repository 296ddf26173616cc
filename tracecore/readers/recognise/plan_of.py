"""The plan of a file from its first lines: where rows begin, and for each column its name and what it is taken for.

    Time;A;B                  the recogniser of volts knows it: a time in ms, two columns of volts
    (ms);(V);(mV)
    0,000;1,25;200

    Sample,CLK,BUS            no recogniser does: numbers of samples, logic, words in hex, each by its cells
    0,H,3F

It never refuses a file for what its cells hold, so that a person can see them and say what they are.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from tracecore.quantities import PS_PER_S, time_unit_ps
from tracecore.readers.dump.declarations import begins_as_dump
from tracecore.readers.headings.facts import StatedRate, start_and_increment, stated_rates
from tracecore.readers.headings.titles import (
    INDEX_WORD,
    RADIXES,
    TIME_WORD,
    VOLT_UNITS,
    free_name,
    is_unit,
    is_unit_word,
    names_and_units,
    plain_name,
    time_unit_in,
    unit_of,
)
from tracecore.readers.plan.column_choice import Kind
from tracecore.readers.plan.plan import CHANGES, SAMPLED, SCOPE, Column, Plan
from tracecore.readers.plan.words import word_column
from tracecore.readers.recognise.cells import (
    LOGIC_CELLS,
    NUMBER,
    counts_rows,
    filled,
    is_level_number,
    is_text,
    level_words,
    time_form,
)
from tracecore.readers.recognise.first_row import first_row
from tracecore.readers.recognise.known import known
from tracecore.readers.source import Head, comment_text, split_cells

_LOOKED_AT = 400
_FEWEST_ROWS = 3
_PER_COUNT = ("voltspercount", "vcount", "ymult", "ymultiplier", "yincrement", "voltscount")
_ORIGIN = ("yzero", "yorigin", "offsetvolts", "offsetv", "voltoffset", "voltsoffset")
_REFERENCE = ("yoff", "yoffset", "yreference", "zerocount")


def plan_of(head: Head, names: Iterable[str] = (), wanted: str | None = None) -> Plan | None:
    """The columns of a file and what they are taken for; None for a value change dump and for a file without rows of
    two alike.

    A line that holds all the ``names`` that were said is the heading, whatever the line below it looks like; but the
    rows begin where a person said. ``wanted`` is the layout that is asked for, where two can be told.
    """
    usual = plan_of(head, names) if wanted is not None else None
    if usual is not None and usual.layout == wanted and not usual.by_cells:
        return usual
    said = frozenset(names), wanted
    if said not in head.found:
        head.found[said] = _plan_of(head, *said)
    found: Plan | None = head.found[said]
    return found


def _plan_of(head: Head, said: frozenset[str], wanted: str | None) -> Plan | None:
    lines = [i for i, line in enumerate(head.lines) if line.strip() and comment_text(line) is None]
    table = {i: head.cells(i) for i in lines[: 2 * _LOOKED_AT]}
    if begins_as_dump(head) or not table:
        return None
    taken = known(head).taken(wanted)
    start = _start(head, table, said)
    if taken is not None and start < taken.data_line:
        taken = None
    rows = [cells for i, cells in table.items() if i >= start]
    if not rows:
        return None
    width = Counter(map(len, rows)).most_common(1)[0][0]
    rows = [cells for cells in rows if len(cells) == width]
    looked_at = rows[:_LOOKED_AT]
    above = [head.cells(i) for i in range(start) if head.lines[i].strip()]
    index, index_at = start_and_increment(above)
    # a damaged number makes no volts of an index
    titled = any(INDEX_WORD.fullmatch(cells[0]) for cells in above[-2:])
    stated = index is not None and not titled and not counts_rows([row[0] for row in looked_at])
    closed = width > 1 and not stated and all(not cells[-1] for cells in rows)
    # the recogniser of logic has looked at each cell of a row
    count = len(taken.columns) if taken is not None and not taken.volts else width - closed
    looked_at = [row + [""] * (count - width) for row in looked_at] if count > width else looked_at
    titles = [cells for i, cells in table.items() if i < start]
    if index is not None:
        titles = [(cells[:index_at] + [""] * count)[:count] for cells in titles]
    names, units = _titles(titles, head, start, count)
    if stated or (any(unit.lower() in RADIXES for unit in units) and taken is not None and not taken.volts):
        taken = None  # start and increment stand above volts alone; names are none where they are radixes
    columns = _with_still_levels(_columns(looked_at, names, units, count, taken))
    if taken is not None and taken.volts and _all_levels(row[:count] for row in looked_at):
        alone = _with_still_levels(_columns(looked_at, names, units, count, None))
        if any(c.levels for c in alone):
            columns, taken = alone, None  # no column of times
    if stated:  # a blank cell, or a volt that looks like a level, makes nothing else of a column of volts
        columns = [
            replace(c, kind="volts", levels=())
            if unit.strip("()[] ").lower() in VOLT_UNITS or (c.title and c.kind == "leave out" and not is_text(c.cells))
            else c
            for c, unit in zip(columns, units, strict=True)
        ]
    columns = _counted(columns, above)
    if taken is not None and not _is_special(columns, stated, bool(taken.rates)):
        return replace(taken, data_line=start, width=width, columns=tuple(columns))
    begin, rates = Fraction(0), stated_rates(head, start)
    if index is not None:
        begin, rates = index[0] * PS_PER_S, (StatedRate(1 / index[1], "the increment"),) if index[1] > 0 else ()
    time = next((c for c in columns if c.kind == "time"), None)
    volts = any(c.kind == "volts" for c in columns)
    return Plan(
        SCOPE if volts else SAMPLED if time is None else CHANGES,
        start,
        width,
        tuple(columns),
        head.delimiter,
        head.decimal,
        head.coding,
        rates,
        begin,
        unknown_unit=time_unit_in(time.title)[1] if time and not time.form and time.unit_ps is None else "",
        by_cells=True,
        special=_is_special(columns, stated, bool(rates)),
        named=index_at if index is not None else 0,
    )


def _is_special(columns: list[Column], stated: bool, rated: bool) -> bool:
    """Is a cell written in a way that no faster reader takes, or the time ``stated`` beside volts?"""
    few = len(columns[0].cells) < _FEWEST_ROWS
    if few and columns[0].form != "index" and not stated:
        return False  # a heading without rows must not pass for a row of its own
    shapes = any(c.form or c.levels or c.counted for c in columns)
    texts = any(c.kind == "leave out" and is_text(c.cells) for c in columns)
    kinds = {c.kind for c in columns}
    return stated or shapes or (texts and bool(kinds & {"logic", "word"}) and ("time" in kinds or rated))


# ---- which line is the first row


def _start(head: Head, table: dict[int, list[str]], names: Collection[str]) -> int:
    """The line of the first row: as found, or below the line that holds all ``names``, and below its units; where no
    line is like those below it, the one below the first that is about as wide as the last ones."""
    if head.first_row is not None:
        return head.first_row
    start = first_row(head)
    if start is None:
        width = Counter(map(len, list(table.values())[-60:])).most_common(1)[0][0]
        start = [i for i, cells in table.items() if abs(len(cells) - width) <= 1][:2][-1]
    above = [i for i in table if i < start]
    for place, i in enumerate(above):
        if names and {*table[i], *map(plain_name, table[i])}.issuperset(names):
            return next((j for j in above[place + 1 :] if not all(map(is_unit_word, table[j]))), start)
    return start


# ---- what the columns are


def _titles(above: list[list[str]], head: Head, start: int, count: int) -> tuple[list[str], list[str]]:
    """Names and units above the rows, blank where there are none."""
    fitting = [cells[:count] for cells in above if count <= len(cells) and not any(cells[count : count + 1])]
    if not fitting:
        comments = [said for line in head.lines[:start] if (said := comment_text(line)) is not None]
        fitting = [names for text in comments[-1:] if len(names := split_cells(text, head.delimiter)) == count > 1]
    names, units = names_and_units(fitting)
    return (names + [""] * count)[:count], (units + [""] * count)[:count]


def _all_levels(rows: Iterable[list[str]]) -> bool:
    """0 or 1, with or without decimals, or unknown, in all cells."""
    return all(cell in LOGIC_CELLS or is_level_number(cell) for row in rows for cell in row)


def _columns(
    rows: list[list[str]], names: Sequence[str], units: Sequence[str], count: int, taken: Plan | None
) -> list[Column]:
    """As the recogniser takes them, where one does; else by their titles and what most of their cells look like."""
    own = {c.cell: c for c in taken.columns} if taken is not None else {}
    volts = taken is not None and bool(taken.volts)
    levelled = volts and _all_levels(row[1:count] for row in rows)
    given = {c.name for c in own.values() if c.name}
    found: list[Column] = []
    for i in range(count):
        cells = tuple(row[i] for row in rows)
        title, unit = " ".join(filter(None, (names[i], units[i]))), unit_of(names[i], units[i])
        column = own.get(i) or (Column(i, "", "leave out") if own else _guessed(i, title, unit, cells))
        name, kind = column.name, column.kind
        if not name or time_unit_ps(unit) is not None:
            # a time is no channel, whose name would hold the unit
            name = plain_name(name or names[i]) or ("time" if kind == "time" else f"column {i + 1}")
            name = free_name(name, given)
        given.add(name)
        # what the recogniser of logic takes is no word for a level and no text
        open_kind = (not own or volts) and kind != "word"
        levels = level_words(cells) if unit.lower() not in VOLT_UNITS and open_kind else None
        form = time_form(plain_name(names[i]), cells) if not volts and (i == 0 or kind == "time") else ""
        if form:
            kind = "time"
        elif levels and (not volts or levelled):
            kind = "logic"
        elif open_kind and is_text(cells):
            kind = "leave out"
        texts = tuple(levels.items()) if levels and kind == "logic" else ()
        unit_ps = column.unit_ps if column.kind == "time" else time_unit_ps(unit)
        column = replace(
            column, name=name, kind=kind, title=title, cells=cells, unit_ps=unit_ps, form=form, levels=texts
        )
        if kind == "time":
            timed = TIME_WORD.fullmatch(title) or time_unit_ps(unit_of(title)) is not None
            guess: Kind = "volts" if any("." in cell for cell in cells) and not timed else "leave out"
            # one damaged cell, which is told, leaves no channel out
            if not timed and 10 * sum(cell in LOGIC_CELLS for cell in cells) >= 9 * len(cells):
                guess = "logic"
            column = replace(column, second_guess=guess)
        found.append(column)
    return found


def _with_still_levels(columns: list[Column]) -> list[Column]:
    """A column that stands still at 0.0 or 1.0 is logic where another one takes both, written alike, and no unit stands
    above it."""
    written = {word for c in columns if c.kind == "logic" for word in c.levels if "." in word[0]}
    texts = {text for text, _ in written}
    return [
        replace(c, kind="logic", levels=tuple(sorted(written)))
        if c.kind == "volts" and not is_unit(unit_of(c.title)) and {cell.lower() for cell in c.cells} <= texts
        else c
        for c in columns
    ]


def _guessed(i: int, title: str, unit: str, cells: tuple[str, ...]) -> Column:
    column = Column(i, "", "leave out", scale=VOLT_UNITS.get(unit.lower(), 1.0), unit_ps=time_unit_ps(unit))
    numbers = 2 * sum(bool(NUMBER.fullmatch(c)) for c in cells) > len(cells)
    if i == 0 and numbers and TIME_WORD.fullmatch(title):
        return replace(column, kind="time")
    if 2 * sum(c in LOGIC_CELLS for c in cells) > len(cells):
        return replace(column, kind="logic") if any(cells) else column
    word = word_column(title, list(cells))
    if word is not None and word.sure:
        return replace(column, kind="word", word=word)
    return replace(column, kind="volts") if numbers else column


def _counted(columns: list[Column], above: list[list[str]]) -> list[Column]:
    """The columns, those of whole numbers as counts of a converter where a preamble says what a count is worth.

    Volts are (count - reference) * volts a count + origin, as IEEE Std 488.2 instruments state it (common practice).
    """
    stated = {re.sub(r"[\W_]", "", cells[0].lower()): filled(cells[1:]) for cells in above if len(cells) > 1}
    if not any(key in stated for key in _PER_COUNT):
        return columns
    whole = [c for c in columns if c.kind == "volts" and all(re.fullmatch(r"[+-]?\d+", cell) for cell in c.cells)]

    def values(keys: tuple[str, ...], default: float) -> list[float]:
        """One a column, or the same for all; empty where neither is stated."""
        texts: list[str] = next((stated[key] for key in keys if key in stated), [])
        numbers = [float(text) for text in texts if NUMBER.fullmatch(text)]
        if len(numbers) == 1 or not texts:
            return (numbers or [default]) * len(whole)
        return numbers if len(numbers) == len(whole) else []

    new = {
        c.cell: replace(c, scale=scale, offset=origin - reference * scale, counted=True)
        for c, scale, origin, reference in zip(
            whole, values(_PER_COUNT, 1.0), values(_ORIGIN, 0.0), values(_REFERENCE, 0.0), strict=False
        )
    }
    return [new.get(c.cell, c) for c in columns]
