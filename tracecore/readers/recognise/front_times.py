"""Whether the first cells of rows are times, and whether these go in even steps."""

from __future__ import annotations

import itertools

from tracecore.readers.recognise.row_cells import NUMBER


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
