"""A table as plain text, in columns as wide as their words."""

from __future__ import annotations

from collections.abc import Sequence


def plain_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Head and rows in lines; two spaces between columns.

    >>> print(plain_table(("a", "b"), [("long", "1")]))
    a     b
    long  1
    """
    lines = [tuple(head), *(tuple(row) for row in rows)]
    widths = [max(len(line[k]) for line in lines) for k in range(len(head))]
    return "\n".join("  ".join(cell.ljust(w) for cell, w in zip(line, widths, strict=True)).rstrip() for line in lines)
