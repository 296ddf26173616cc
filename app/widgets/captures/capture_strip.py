"""Many captures in a row: each a cell, by shape and weight what it said; a click or an arrow chooses one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QHelpEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.model.theme import Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import plain_tip

NARROWEST, WIDEST = 5, 22


@dataclass(frozen=True, slots=True)
class CaptureCell:
    """One capture; "unknown" where it could not be read or compared. ``words`` is the tooltip."""

    kind: Literal["agrees", "diverges", "unknown"]
    words: str


class CaptureStrip(QWidget):
    """Oldest at the left; where there is no room for all, the latest are shown. ``wanted`` carries a cell's number."""

    wanted = Signal(int)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._cells: tuple[CaptureCell, ...] = ()
        self._chosen = -1
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Captures")

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.update()

    def set_cells(self, cells: Sequence[CaptureCell], chosen: int = -1) -> None:
        """Takes the captures, and which one is outlined."""
        self._cells, self._chosen = tuple(cells), chosen
        count = sum(cell.kind == "diverges" for cell in self._cells)
        self.setAccessibleDescription(f"{len(self._cells)} captures, {count} diverge")
        self.update()

    def choose(self, number: int) -> None:
        """Outlines one capture; -1 none."""
        self._chosen = number
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(400, round(self.fontMetrics().height() * 1.6))

    def _drawn(self) -> tuple[int, float]:
        """The number of the first cell that is drawn, and the width of a cell."""
        most = max(1, self.width() // NARROWEST)
        first = max(0, len(self._cells) - most)
        return first, min(WIDEST, self.width() / max(1, len(self._cells) - first))

    def _at(self, x: float) -> int | None:
        first, width = self._drawn()
        number = first + int(x / width)
        return number if x >= 0 and number < len(self._cells) else None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        found = self._at(event.position().x())
        if found is not None:
            self.wanted.emit(found)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
        if event.key() not in steps or not self._cells:
            super().keyPressEvent(event)
            return
        at = self._chosen if self._chosen >= 0 else len(self._cells)
        self.wanted.emit(min(max(at + steps[Qt.Key(event.key())], 0), len(self._cells) - 1))

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and _walks(event):
            # while it has the focus the arrows walk the captures, and do not move the traces
            event.accept()
            return True
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            found = self._at(event.pos().x())
            words = self._cells[found].words if found is not None else ""
            QToolTip.showText(event.globalPos(), plain_tip(words), self)
            return True
        return super().event(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self._theme
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            first, width = self._drawn()
            base = self.height() - 2.0
            painter.setPen(QPen(QColor(theme.rule_strong), 1))
            painter.drawLine(QPointF(0, base), QPointF(self.width(), base))
            for index, cell in enumerate(self._cells[first:]):
                self._cell(painter, QRectF(index * width, 3, width, base - 3), cell, first + index == self._chosen)
            if self.hasFocus():
                painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DotLine))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5))

    def _cell(self, painter: QPainter, area: QRectF, cell: CaptureCell, chosen: bool) -> None:
        """Agrees: a short thin stroke. Diverges: a full thick bar. Not known: an open box."""
        theme, middle = self._theme, area.center().x()
        if cell.kind == "diverges":
            bar = QRectF(area.x() + area.width() * 0.15, area.y(), area.width() * 0.7, area.height())
            painter.fillRect(bar, QColor(theme.suspect))
        elif cell.kind == "agrees":
            painter.setPen(QPen(QColor(theme.ink), 1.2))
            painter.drawLine(QPointF(middle, area.bottom()), QPointF(middle, area.bottom() - area.height() * 0.3))
        else:
            side = min(area.width() * 0.6, area.height() * 0.4)
            painter.setPen(QPen(QColor(theme.warning), 1.4))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(middle - side / 2, area.bottom() - side - 1, side, side))
        if chosen:
            painter.setPen(QPen(QColor(theme.ink), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(area.adjusted(0, -1, 0, 0))


def _walks(event: QKeyEvent) -> bool:
    return event.key() in (Qt.Key.Key_Left, Qt.Key.Key_Right) and not event.modifiers()
