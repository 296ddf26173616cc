"""How densely cycles diverge, column by column, drawn as bars: shared by the overview and the cards' strips."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter

from tracecore.capture import Int64

Shares = NDArray[np.float64]


def shares_over_cycles(cycles: Int64, first: Int64, stop: Int64) -> Shares:
    """Share (0 to 1) of diverging cycles in each column that holds the cycles ``first`` (closed) to ``stop`` (open).

    >>> shares_over_cycles(np.array([1, 2]), np.array([0, 2, 4]), np.array([2, 4, 4])).tolist()
    [0.5, 0.5, 0.0]
    """
    count = cycles.searchsorted(stop) - cycles.searchsorted(first)
    shares: Shares = count / np.maximum(stop - first, 1)
    return shares


def shares_over_time(cycles: Int64, cycle_edges_ps: Int64, column_edges_ps: Int64) -> Shares:
    """The same for columns of time; a cycle counts in each column that it touches."""
    first = cycle_edges_ps.searchsorted(column_edges_ps[:-1], side="right") - 1
    stop = cycle_edges_ps.searchsorted(column_edges_ps[1:])
    last = len(cycle_edges_ps) - 1
    return shares_over_cycles(cycles, np.clip(first, 0, last), np.clip(stop, 0, last))


def draw_bars(painter: QPainter, area: QRectF, shares: Shares, colour: str, least: float = 4) -> None:
    """A bar in each pixel column that has any; its height is the share, never less than ``least`` pixels."""
    tall = np.maximum(least, shares * area.height())
    paint, bottom = QColor(colour), area.bottom()
    for column in np.flatnonzero(shares > 0).tolist():
        height = float(tall[column])
        painter.fillRect(QRectF(area.left() + column, bottom - height, 1, height), paint)
