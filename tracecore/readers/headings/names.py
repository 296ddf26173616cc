"""The line of names above rows, the line of units or types below it, and the names that they give."""

from __future__ import annotations

import re

from tracecore.csv_cells import unguarded
from tracecore.quantities import time_unit_ps
from tracecore.readers.headings.channel_names import distinct

TIME_HEADING = re.compile(r"(?:time|t|timestamp)(?:[\s\[(/]+([a-zµμ]*)\s*[\])]?)?", re.IGNORECASE)
TYPES = frozenset(("logic", "digital", "bit", "bool", "boolean"))


def title_and_units(titles: list[list[str]]) -> tuple[list[str], list[str]]:
    """The line of names, and the line of units or types below it if there is one; trailing blanks taken off."""
    lines = []
    for cells in titles:
        while len(cells) > 1 and not cells[-1]:
            cells = cells[:-1]
        lines.append(cells)
    if not lines:
        return [], []
    last = lines[-1]
    # a word that is the same for every column is a type, not a name
    typed = len(last) > 1 and ((len(last) > 2 and len(set(last[1:])) == 1) or len(set(last)) == 1)
    typed = typed or all(word.lower() in TYPES for word in last)
    units = time_unit_ps(last[0].strip("()[]")) is not None
    # below a heading for times there are units, known or not
    units = units or (
        len(lines) > 1 and bool(TIME_HEADING.fullmatch(lines[-2][0])) and not TIME_HEADING.fullmatch(last[0])
    )
    if (units or typed) and len(lines) > 1 and (len(lines[-2]) == len(last) or (units and len(last) == 1)):
        return lines[-2], last
    return last, []


def channel_names(own: list[str], listed: tuple[str, ...], columns: int) -> tuple[str, ...]:
    """The names that the title or a list above it gives, if there is one a column; else numbers from 0."""
    typed = (len(own) > 1 and len(set(own)) == 1) or (bool(listed) and all(word.lower() in TYPES for word in own))
    for names in ((), listed) if typed else (own, listed):
        if len(names) == columns and all(names):
            return distinct([unguarded(name) for name in names])
    return tuple(str(i) for i in range(columns))
