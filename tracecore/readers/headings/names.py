"""The line of names above rows, the line of units or types below it, and the names that they give: none stands twice,
as two channels of one name would be one, and the other lost."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence

from tracecore.csv_cells import unguarded
from tracecore.errors import UnknownCapture
from tracecore.quantities import time_unit_ps

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


def free_name(name: str, taken: Collection[str]) -> str:
    """The name, or with a number behind it where it is taken.

    >>> free_name("A", {"A", "B"})
    'A (2)'
    """
    number, own = 1, name
    while own in taken:
        number += 1
        own = f"{name} ({number})"
    return own


def distinct(names: Iterable[str]) -> tuple[str, ...]:
    """Names of which none stands twice.

    >>> distinct(["A", "B", "A"])
    ('A', 'B', 'A (2)')
    """
    given: dict[str, None] = {}
    for name in names:
        given[free_name(name, given)] = None
    return tuple(given)


def check_distinct_bits(path: str, names: Sequence[str], do: str) -> None:
    """Raises UnknownCapture where words split into bits bear a name that stands already; ``do`` is what to do."""
    if len(set(names)) == len(names):
        return
    twice = next(name for name in names if names.count(name) > 1)
    raise UnknownCapture(
        path,
        found=f"two channels named {twice!r}",
        expected="names that differ once words are split into bits",
        do=do,
    )
