"""A chip in stock, from a board that gives parts."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Donor:
    """One chip in stock."""

    board: str
    position: str
    number: str
    date_code: str = ""
