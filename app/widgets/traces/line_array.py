"""Lines straight from an array: a QLineF made for each costs ten times what it takes to draw it."""

from __future__ import annotations

from typing import cast

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF
from PySide6.QtGui import QPainter
from shiboken6 import Shiboken


def draw_lines(painter: QPainter, ends: NDArray[np.float64]) -> None:
    """Lines from (x0, y0) to (x1, y1): float64[N, 4], in the painter's pixels, with its pen."""
    held = np.ascontiguousarray(ends, np.float64)
    if len(held):
        # four doubles lie in memory as a QLineF does; the array lives until they are drawn
        first = cast(QLineF, Shiboken.wrapInstance(held.ctypes.data, QLineF))
        painter.drawLines(first, len(held))
