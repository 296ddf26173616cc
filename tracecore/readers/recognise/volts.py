"""Columns of volts: what stands above or beside them, and where the rows begin.

x-axis,1,2                    names, then units; or a preamble of names and values above the rows, or beside them
second,Volt,Volt              in the first columns; or an index with start and increment in the heading
-2.0E-06,0.20,3.4
"""

from __future__ import annotations

import re
from collections import Counter

from tracecore.errors import MalformedCapture
from tracecore.readers.dump.declarations import begins_as_dump
from tracecore.readers.headings.facts import said_pair, stated_rates
from tracecore.readers.headings.titles import is_counts
from tracecore.readers.headings.volt_titles import VoltTitles, volt_titles, wrong_unit
from tracecore.readers.plan.plan import SCOPE, Column, Plan
from tracecore.readers.recognise.cells import NUMBER
from tracecore.readers.recognise.damaged_heading import check_heading
from tracecore.readers.recognise.first_row import first_row
from tracecore.readers.source import Head, comment_text

_LOOKED_AT = 500
# a preamble beside the rows ends within as many
_BESIDE = 60
_MOST_FACTS = 30
# two whole numbers may be the two levels of an ideal signal
_FEWEST_COUNTS = 2
_WHOLE = re.compile(r"[+-]?\d+")


def volts_plan(head: Head) -> Plan | None:
    """None where the file does not hold a heading and even columns of numbers that are not all 0 or 1."""
    lines = [i for i, line in enumerate(head.lines) if line.strip()][: 2 * _LOOKED_AT]
    if len(lines) < 2 or begins_as_dump(head):
        return None
    comments = {k: said for k, i in enumerate(lines) if (said := comment_text(head.lines[i])) is not None}
    table = [said_pair(comments[k], head) if k in comments else head.cells(i) for k, i in enumerate(lines)]
    first = first_row(head)
    if first is None or first not in lines:
        return None
    start = lines.index(first)
    least = head.first_row or 0
    columns = _number_columns([cells for k, cells in enumerate(table) if k not in comments and lines[k] >= least])
    if len(columns) < 2:
        return None
    beside = _BESIDE if columns[0] >= 2 else 0
    titles = volt_titles(table, lines, start, beside)
    if titles.index is not None:
        columns = tuple(c for c in columns if c < titles.index_at)
    if len(columns) < 2 or not (titles.rows or titles.pairs):
        return None
    names, scales, united = titles.channels(columns)
    width = Counter(map(len, table[start:])).most_common(1)[0][0]
    rows = table[start : start + _LOOKED_AT]
    cells = {column: [row[column] for row in rows if column < len(row)] for column in columns}
    if not (any(united) or titles.states_volts or _like_volts(rows, columns)):
        return None
    check_heading(head, lines[start], width)
    # a column of 0 and 1 is logic where another one has a unit, or decimals, which volts are printed with alike
    levelled = [titles.typed(c) or (not u and _of_levels(cells[c])) for c, u in zip(columns[1:], united, strict=True)]
    volts = any(united) or any(2 * sum("." in c or "e" in c.lower() for c in cells[k]) > len(rows) for k in columns[1:])
    unit, unknown = titles.time_unit(columns[0])
    found, plain = [Column(columns[0], "", "time", unit_ps=unit)], []
    for column, name, scale, has, logic in zip(columns[1:], names, scales, united, levelled, strict=True):
        found.append(Column(column, name, "logic" if logic and volts else "volts", scale=scale))
        if not has and found[-1].kind == "volts" and not titles.states_volts:
            plain.append(column)
    return Plan(
        SCOPE,
        lines[start],
        width,
        tuple(found),
        head.delimiter,
        head.decimal,
        head.coding,
        stated_rates(head, lines[start] + beside),
        index=titles.index,
        unknown_unit=unknown,
        wrong=wrong_unit(head, titles, columns) or _counts(head, titles, lines[start], cells, plain),
        facts=tuple((name, value) for name, (value, _) in titles.pairs.items() if value)[:_MOST_FACTS],
    )


def _counts(
    head: Head, titles: VoltTitles, line: int, cells: dict[int, list[str]], columns: list[int]
) -> MalformedCapture | None:
    """The error for whole numbers without a unit, which may be counts of a converter, or thousandths of volts."""
    for column in columns:
        own, name = cells[column], next(iter(titles.above(column)), "")
        if (len(set(own)) > _FEWEST_COUNTS and all(map(_WHOLE.fullmatch, own))) or is_counts(name):
            return MalformedCapture(
                head.path,
                line=line + 1,
                column=column + 1,
                found=f"whole numbers such as {own[0]!r} without a unit, which may be counts of a converter",
                expected="volts with their unit, or 'Y Increment' with the volts of a count above the rows",
                do="Say the volts of a count, such as --column 'CH1=volts x0.02', or --column CH1=volts.",
            )
    return None


def _is_number(cells: list[str], column: int) -> bool:
    """Does this cell exist and hold a decimal number?"""
    return column < len(cells) and bool(NUMBER.fullmatch(cells[column]))


def _number_columns(table: list[list[str]]) -> tuple[int, ...]:
    """Columns that hold numbers in most of the later rows; a damaged cell here and there takes none away."""
    sample = table[-min(60, max(2, len(table) // 2)) :]
    widest = max(map(len, sample), default=0)
    return tuple(c for c in range(widest) if 2 * sum(_is_number(cells, c) for cells in sample) >= len(sample))


def _of_levels(cells: list[str]) -> bool:
    """0 and 1; one or two other cells are damage, which is told when the column is read."""
    odd = sum(cell not in ("0", "1") for cell in cells)
    return 10 * odd <= len(cells) or odd <= min(2, len(cells) // 2)


def _like_volts(rows: list[list[str]], columns: tuple[int, ...]) -> bool:
    """A stray 2 among logic cells is a damaged logic file, not a scope's."""
    volts = sum(any(_is_number(cells, c) and cells[c] not in ("0", "1") for c in columns[1:]) for cells in rows)
    return 2 * volts > len(rows)
