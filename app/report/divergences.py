"""The table of divergences as CSV (RFC 4180: comma, quotes where needed, CR LF, a heading line)."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from app.harmless import cell
from tracecore.tables import DIVERGENCE_COLUMNS, divergence_rows

if TYPE_CHECKING:
    from tracecore.comparison import Comparison


def divergences_csv(comparison: Comparison) -> str:
    """One row for each stretch of each signal, signals in the sheet's order; columns ``DIVERGENCE_COLUMNS``."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(DIVERGENCE_COLUMNS)
    for row in divergence_rows(comparison):
        writer.writerow(cell(value) if isinstance(value, str) else value for value in row)
    return out.getvalue()
