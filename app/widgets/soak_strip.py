"""All captures of a soak in a row: each a cell, by shape and weight what it said; a click or an arrow chooses one."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QHelpEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.model.theme import Theme
from app.soak.soak import News

NARROWEST, WIDEST = 5, 22


class SoakStrip(QWidget):
    """Oldest at the left; where there is no room for all, the latest are shown. ``wanted`` carries a News."""

    wanted = Signal(object)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._news: tuple[News, ...] = ()
        self._chosen: News | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Captures of the soak")

    def set_news(self, news: Sequence[News]) -> None:
        """Takes what landed so far."""
        self._news = tuple(news)
        count = sum(n.status == "diverges" for n in self._news)
        self.setAccessibleDescription(f"{len(self._news)} captures, {count} diverge")
        self.update()

    def choose(self, news: News | None) -> None:
        """Outlines one capture."""
        self._chosen = news
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(400, self.fontMetrics().height() * 2)

    def _cells(self) -> tuple[tuple[News, ...], float]:
        """The captures that are drawn, and the width of a cell."""
        most = max(1, self.width() // NARROWEST)
        shown = self._news[-most:]
        return shown, min(WIDEST, self.width() / max(1, len(shown)))

    def _at(self, x: float) -> News | None:
        shown, width = self._cells()
        index = int(x / width)
        return shown[index] if 0 <= index < len(shown) else None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        found = self._at(event.position().x())
        if found is not None:
            self.wanted.emit(found)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
        if event.key() not in steps or not self._news:
            super().keyPressEvent(event)
            return
        at = self._news.index(self._chosen) if self._chosen in self._news else len(self._news)
        self.wanted.emit(self._news[min(max(at + steps[Qt.Key(event.key())], 0), len(self._news) - 1)])

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            found = self._at(event.pos().x())
            QToolTip.showText(event.globalPos(), f"{found.at}  {found.words}" if found else "", self)
            return True
        return super().event(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        shown, width = self._cells()
        base = self.height() - 2.0
        painter.setPen(QPen(QColor(theme.rule_strong), 1))
        painter.drawLine(QPointF(0, base), QPointF(self.width(), base))
        for index, news in enumerate(shown):
            self._cell(painter, QRectF(index * width, 3, width, base - 3), news)
        if self.hasFocus():
            painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DotLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5))
        painter.end()

    def _cell(self, painter: QPainter, area: QRectF, news: News) -> None:
        """Agrees: a short thin stroke. Diverges: a full thick bar. Broken or not compared: an open box."""
        theme, middle = self._theme, area.center().x()
        if news.status == "diverges":
            bar = QRectF(area.x() + area.width() * 0.15, area.y(), area.width() * 0.7, area.height())
            painter.fillRect(bar, QColor(theme.suspect))
        elif news.status == "agrees":
            painter.setPen(QPen(QColor(theme.ink), 1.2))
            painter.drawLine(QPointF(middle, area.bottom()), QPointF(middle, area.bottom() - area.height() * 0.3))
        else:
            side = min(area.width() * 0.6, area.height() * 0.4)
            painter.setPen(QPen(QColor(theme.warning), 1.4))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(middle - side / 2, area.bottom() - side - 1, side, side))
        if news is self._chosen:
            painter.setPen(QPen(QColor(theme.ink), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(area.adjusted(0, -1, 0, 0))
