"""Names in a sentence, cut short where there are many."""

from __future__ import annotations

from collections.abc import Iterable

from tracecore.quantities import group_digits


def few_names(names: Iterable[str], most: int = 12) -> str:
    """Names in a row; of more than ``most`` the first ones, and how many more there are.

    >>> few_names("ABCDE", 3)
    'A, B, C and 2 more'
    """
    row = list(names)
    return ", ".join(row[:most]) + (f" and {group_digits(len(row) - most)} more" if len(row) > most else "")
