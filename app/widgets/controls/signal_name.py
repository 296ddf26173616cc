"""A signal's name as on a drawing: bold, with an overbar where it is active low."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontDatabase, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip

TEXT_PX = 15
"""Text size at 100 %."""


def plain_font(scale: float, size: float = TEXT_PX, *, bold: bool = False) -> QFont:
    """The window's font at ``size`` pixels at 100 %."""
    font = QFont()
    font.setPixelSize(round(size * scale))
    font.setBold(bold)
    return font


def fixed_font(scale: float, size: float = TEXT_PX, *, bold: bool = False) -> QFont:
    """A font whose digits are equally wide, for pins and words."""
    font = QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont)
    font.setPixelSize(round(size * scale))
    font.setBold(bold)
    return font


def draw_signal_name(painter: QPainter, x: float, baseline: float, name: str, active: str, width: float) -> None:
    """Draws the name with the painter's font and pen; shortened in its middle where it is wider than ``width``."""
    metrics = QFontMetricsF(painter.font())
    text = metrics.elidedText(name, Qt.TextElideMode.ElideMiddle, width)
    painter.drawText(QRectF(x, baseline - metrics.ascent(), width + 1, metrics.height()), 0, text)
    if active == "low":
        thick = max(1.5, metrics.height() / 12)
        y = baseline - metrics.capHeight() - 2.2 * thick
        old = painter.pen()
        painter.setPen(QPen(old.color(), thick, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
        painter.drawLine(
            QRectF(x, y, metrics.horizontalAdvance(text), 0).topLeft(),
            QRectF(x, y, metrics.horizontalAdvance(text), 0).topRight(),
        )
        painter.setPen(old)


class SignalName(QWidget):
    """A label; a reader of the screen hears "ACK, active low"."""

    def __init__(self, name: str, active: str = "high", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._scale = LIGHT, 1.0
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.set_name(name, active)

    def set_name(self, name: str, active: str = "high") -> None:
        """Writes another name."""
        self.name, self.active = name, active
        self.setAccessibleName(f"{name}, active low" if active == "low" else name)
        set_tip(self, self.accessibleName())
        self.updateGeometry()
        self.update()

    def set_theme(self, theme: Theme, scale: float = 1.0) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        self.updateGeometry()
        self.update()

    def _font(self) -> QFont:
        return plain_font(self._scale, 19, bold=True)

    def sizeHint(self) -> QSize:
        metrics = QFontMetricsF(self._font())
        return QSize(int(metrics.horizontalAdvance(self.name)) + 4, int(metrics.height() * 1.2) + 2)

    def minimumSizeHint(self) -> QSize:
        return QSize(24, self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setFont(self._font())
            painter.setPen(QColor(self._theme.ink))
            metrics = QFontMetricsF(self._font())
            # the overbar's room is above; where a crowded page takes some of the height, the letters still stand inside
            lowest = self.height() - metrics.descent()
            baseline = min(self.height() - (self.height() - metrics.height() * 1.2) / 2 - metrics.descent(), lowest)
            draw_signal_name(painter, 0, baseline, self.name, self.active, self.width())
