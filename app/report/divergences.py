"""The table of divergences as CSV (RFC 4180: comma, quotes where needed, CR LF, a heading line)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tracecore.csv_cells import csv_text
from tracecore.tables import DIVERGENCE_COLUMNS, divergence_rows

if TYPE_CHECKING:
    from tracecore.comparison import Comparison


def divergences_csv(comparison: Comparison) -> str:
    """One row for each stretch of each signal, signals in the sheet's order; columns ``DIVERGENCE_COLUMNS``."""
    return csv_text(DIVERGENCE_COLUMNS, divergence_rows(comparison), "\r\n")
