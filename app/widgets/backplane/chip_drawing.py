"""A chip from above, as a data book has it: leg 1 at the left of the notch, names inside, nets outside.

Beside each leg stand both levels at the cursor's cycle; a leg that disobeys is hatched, one that may be open has an
open ring.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.chip_view import ChipView
from app.model.theme import LIGHT, Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.signal_name import draw_signal_name, fixed_font, plain_font

NARROWEST, WIDEST = 140, 260
"""Pixels at 100 % between the legs."""
BOX_AND_LEVELS = 76
NOT_WIRED = "not wired"


class ChipDrawing(QWidget):
    """Draws one chip; a click on a leg emits ``chosen`` with its number."""

    chosen = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self.view: ChipView | None = None
        self._theme, self._scale = LIGHT, 1.0
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(220)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        self._fit()
        self.update()

    def set_view(self, view: ChipView | None) -> None:
        """Shows a chip; None none."""
        self.view = view
        self._fit()
        if view is not None:
            wrong = ", ".join(f"{leg.number} {leg.name}" for leg in view.legs if leg.disobeys)
            self.setAccessibleName(
                f"{view.name}, {view.number}. " + (f"Disobeying: {wrong}" if wrong else "No leg disobeys")
            )
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(300, self.minimumHeight())

    def paintEvent(self, event: QPaintEvent) -> None:
        view = self.view
        if view is None:
            return
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            half = len(view.legs) // 2
            body, step = self._body()
            top = body.top()
            painter.setPen(QPen(QColor(self._theme.ink), 2))
            painter.setBrush(QColor(self._theme.panel))
            painter.drawRect(body)
            notch = 0.14 * body.width()
            painter.drawArc(QRectF(body.center().x() - notch, top - notch, 2 * notch, 2 * notch), 180 * 16, 180 * 16)
            painter.setFont(plain_font(self._scale, 17, bold=True))
            painter.drawText(body, Qt.AlignmentFlag.AlignCenter, view.name)
            for index in range(len(view.legs)):
                left = index < half
                row = index if left else len(view.legs) - 1 - index
                self._leg(painter, index, body, top + (row + 0.5) * step, step, left=left)

    def _body(self) -> tuple[QRectF, float]:
        """The chip's outline, and from one leg to the next."""
        assert self.view is not None
        half = max(1, len(self.view.legs) // 2)
        top, step = 14.0, (self.height() - 28.0) / half
        left, right = self._beside
        wide = min(self.width() - left - right, WIDEST * self._scale)
        spare = (self.width() - left - right - wide) / 2
        return QRectF(left + spare, top, wide, step * half), step

    @property
    def _beside(self) -> tuple[float, float]:
        """Pixels that box, levels and the longest net take at either side of the outline."""
        legs = self.view.legs if self.view is not None else ()
        metrics = QFontMetricsF(plain_font(self._scale, 13, bold=True))
        half = len(legs) // 2
        room = BOX_AND_LEVELS * self._scale + 10
        sides = legs[:half], legs[half:]
        names = [max((metrics.horizontalAdvance(leg.net or NOT_WIRED) for leg in side), default=0.0) for side in sides]
        return names[0] + room, names[1] + room

    def _fit(self) -> None:
        """No name is cut at a side."""
        self.setMinimumWidth(round(sum(self._beside) + NARROWEST * self._scale))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if self.view is None or not self.view.legs:
            return
        body, step = self._body()
        half = len(self.view.legs) // 2
        row = int((event.position().y() - body.top()) / step)
        if 0 <= row < half:
            left = event.position().x() < body.center().x()
            self.chosen.emit(self.view.legs[row if left else len(self.view.legs) - 1 - row].number)

    def _leg(self, painter: QPainter, index: int, body: QRectF, y: float, step: float, *, left: bool) -> None:
        assert self.view is not None
        leg, scale = self.view.legs[index], self._scale
        box_wide, box_high = 26 * scale, min(20 * scale, step * 0.8)
        x = body.left() - box_wide if left else body.right()
        painter.setBrush(QColor(self._theme.panel))
        painter.setPen(QPen(QColor(self._theme.ink), 1.2))
        box = QRectF(x, y - box_high / 2, box_wide, box_high)
        painter.drawRect(box)
        painter.setFont(fixed_font(scale, 12))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, str(leg.number))
        painter.setFont(plain_font(scale, 13, bold=True))
        wide = min(0.48 * body.width(), painter.fontMetrics().horizontalAdvance(leg.plain_name) + 2)
        inside = body.left() + 6 if left else body.right() - 6 - wide
        base = y + painter.fontMetrics().capHeight() / 2
        draw_signal_name(painter, inside, base, leg.plain_name, "low" if leg.active_low else "high", wide)
        levels_x = box.left() - 44 * scale if left else box.right() + 10 * scale
        self._levels(painter, index, QRectF(levels_x, y - box_high / 2, 34 * scale, box_high))
        painter.setFont(plain_font(scale, 13, bold=leg.disobeys))
        painter.setPen(QColor(self._theme.ink if leg.net else self._theme.muted))
        words = leg.net or NOT_WIRED
        room = QRectF(0, y - 12, levels_x - 6, 24) if left else QRectF(levels_x + 40 * scale, y - 12, self.width(), 24)
        side = Qt.AlignmentFlag.AlignRight if left else Qt.AlignmentFlag.AlignLeft
        painter.drawText(room, side | Qt.AlignmentFlag.AlignVCenter, words)
        if leg.may_be_open:
            painter.setPen(QPen(QColor(self._theme.suspect), 1.8))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            at = QPointF(box.left() - 5 * scale if left else box.right() + 5 * scale, y)
            painter.drawEllipse(at, 4 * scale, 4 * scale)

    def _levels(self, painter: QPainter, index: int, area: QRectF) -> None:
        """A short line up or down for each side: good thin in ink, suspect thick."""
        assert self.view is not None
        leg = self.view.legs[index]
        if leg.disobeys:
            painter.setPen(QPen(QColor(self._theme.suspect), 1))
            painter.setBrush(QBrush(QColor(self._theme.suspect), Qt.BrushStyle.BDiagPattern))
            painter.drawRect(area.adjusted(-3, -3, 3, 3))
        for level, colour, thick, shift in (
            (leg.good_level, self._theme.ink, 1.4, -1.0),
            (leg.suspect_level, self._theme.suspect, 2.8, 1.0),
        ):
            if level in (0, 1):
                y = (area.top() + 3 if level else area.bottom() - 3) + shift
                painter.setPen(QPen(QColor(colour), thick * self._scale))
                painter.drawLine(QPointF(area.left(), y), QPointF(area.right(), y))
