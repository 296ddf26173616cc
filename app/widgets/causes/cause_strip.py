"""A likely cause's cycles over the whole capture, for its card."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QColor, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip
from app.widgets.traces.divergence_bars import draw_bars, shares_over_cycles
from tracecore.capture import Int64
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from tracecore.comparison import Comparison

Role = Literal["suspect", "warning"]


class CauseStrip(QWidget):
    """Bars where cycles diverge: vermilion for wrong states, ochre for levels and for moved transitions."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._cycles: Int64 = np.empty(0, np.int64)
        self._total = 1
        self._role: Role = "suspect"
        self._theme: Theme = LIGHT
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.update()

    def set_cycles(self, cycles: Int64, total: int, role: Role = "suspect") -> None:
        """``cycles`` int64[M] increasing, of ``total`` cycles of the good capture."""
        self._cycles, self._total, self._role = cycles, max(1, total), role
        words = f"{group_digits(len(cycles))} of {group_digits(total)} cycles diverge"
        if len(cycles):
            words += f", from cycle {group_digits(int(cycles[0]))} to {group_digits(int(cycles[-1]))}"
        self.setAccessibleName(words)
        set_tip(self, words)
        self.update()

    def set_finding(self, comparison: Comparison, signal: str) -> None:
        """Shows the cycles of one signal of a comparison."""
        finding = comparison.signal(signal)
        total = max(1, len(comparison.lineup.good_edges_ps) - 1)
        wrong_states = bool(finding.missing_transitions or finding.extra_transitions)
        beside = bool(finding.moved_transitions or finding.levels)
        self.set_cycles(finding.diverging_cycles, total, "warning" if beside and not wrong_states else "suspect")

    def sizeHint(self) -> QSize:
        return QSize(200, 18)

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            width = self.width()
            edges = np.arange(width + 1, dtype=np.int64) * self._total // width
            first, stop = edges[:-1], np.maximum(edges[1:], edges[:-1] + 1)
            painter.fillRect(QRectF(0, self.height() - 1, width, 1), QColor(self._theme.rule_strong))
            shares = shares_over_cycles(self._cycles, first, stop)
            draw_bars(painter, QRectF(0, 0, width, self.height() - 1), shares, getattr(self._theme, self._role))
