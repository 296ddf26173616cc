"""A kind of line as a button: its shape and its word."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QSizePolicy

from app.model.log_lines import Shape
from app.model.theme import Theme
from app.widgets.controls.painting import painting
from app.widgets.log.log_shape import draw_shape


class ShapeButton(QAbstractButton):
    """A choice with its shape and its word; the chosen one has tint, ink edge and bold word."""

    def __init__(self, word: str, shape: Shape, theme: Theme) -> None:
        super().__init__()
        self.setText(word)
        self.setAccessibleName(word)
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self._shape, self._theme = shape, theme

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        bold = QFont(self.font())
        bold.setBold(True)
        metrics = QFontMetrics(bold)
        return QSize(metrics.horizontalAdvance(self.text()) + metrics.height() * 3, round(metrics.height() * 1.75))

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self._theme
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            chosen, line = self.isChecked(), self.fontMetrics().height()
            area = QRectF(self.rect())
            back = theme.tint if chosen or self.underMouse() else theme.panel
            painter.fillRect(area, QColor(back))
            painter.setPen(QPen(QColor(theme.ink if chosen else theme.rule_strong), 2 if chosen else 1))
            painter.drawRect(area.adjusted(1, 1, -1, -1))
            size = line * 0.72
            draw_shape(painter, QRectF(line * 0.7, (area.height() - size) / 2, size, size), self._shape, theme, back)
            font = QFont(self.font())
            font.setBold(chosen)
            painter.setFont(font)
            painter.setPen(QColor(theme.ink))
            words = area.adjusted(line * 1.9, 0, 0, 0)
            painter.drawText(words, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), self.text())
            if self.hasFocus():
                painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DotLine))
                painter.drawRect(area.adjusted(4, 4, -4, -4))
