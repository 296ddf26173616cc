"""The crate with its slots and pins, from the card side or from the wiring side, and the chosen net on it.

The wiring side is the mirror of the card side: slot 1 at the right, row B left of row A.
"""

from __future__ import annotations

from itertools import pairwise

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.crate import BackplaneView, PinSpot, PinVerdict
from app.model.theme import LIGHT, Theme
from app.widgets.backplane.pin_shapes import draw_pin
from app.widgets.controls.signal_name import fixed_font, plain_font

SNAP_PX = 24
"""A click takes the nearest named pin within so many pixels, at 100 %."""
_HEAD, _LEFT, _FOOT = 40.0, 34.0, 8.0


class SlotMap(QWidget):
    """Emits ``chosen`` with the pin's name; arrows go from pin to pin."""

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.view: BackplaneView | None = None
        self.wiring = True
        self.hidden_verdicts: frozenset[PinVerdict] = frozenset()
        self._theme, self._scale = LIGHT, 1.0
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(320, 180)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        self.update()

    def set_view(self, view: BackplaneView) -> None:
        """Shows a crate and its chosen pin."""
        self.view = view
        spot = view.spot(view.chosen)
        self.setAccessibleName(f"{self.side_words}. Pin {view.chosen}: {spot.words}" if spot else self.side_words)
        self.update()

    def set_side(self, *, wiring: bool) -> None:
        """Turns the crate round."""
        self.wiring = wiring
        if self.view is not None:
            self.set_view(self.view)

    @property
    def side_words(self) -> str:
        """From where it is seen, and on which hand slot 1 is."""
        return "Wiring side, slot 1 at the right" if self.wiring else "Card side, slot 1 at the left"

    def sizeHint(self) -> QSize:
        return QSize(760, 360)

    # ---- where things are

    def place(self, spot: PinSpot) -> QPointF:
        """Where a pin is drawn, in the widget."""
        assert self.view is not None
        crate = self.view.crate
        columns = crate.columns(wiring=self.wiring)
        pitch = self._slot_width() / len(crate.rows)
        index = columns.index((spot.slot, spot.row))
        slot, row = divmod(index, len(crate.rows))
        head, left = _HEAD * self._scale, _LEFT * self._scale
        inner = 0.62 * self._slot_width()
        x = left + slot * self._slot_width() + (self._slot_width() - inner) / 2
        x += inner * (row + 0.5) / len(crate.rows) if len(crate.rows) > 1 else pitch / 2
        return QPointF(x, head + (spot.number - 0.5) * self._step())

    def _slot_width(self) -> float:
        assert self.view is not None
        return (self.width() - _LEFT * self._scale - 6) / max(1, self.view.crate.slots)

    def _step(self) -> float:
        assert self.view is not None
        return (self.height() - (_HEAD + _FOOT) * self._scale) / max(1, self.view.crate.pins)

    # ---- choosing

    def mousePressEvent(self, event: QMouseEvent) -> None:
        near = self._nearest(event.position())
        if near is not None:
            self.chosen.emit(near.name)

    def _nearest(self, at: QPointF) -> PinSpot | None:
        if self.view is None or not self.view.spots:
            return None
        found = min(self.view.spots, key=lambda s: (self.place(s) - at).manhattanLength())
        gap = self.place(found) - at
        return found if (gap.x() ** 2 + gap.y() ** 2) ** 0.5 <= SNAP_PX * self._scale else None

    def keyPressEvent(self, event: QKeyEvent) -> None:
        moves = {
            Qt.Key.Key_Up.value: (0, -1), Qt.Key.Key_Down.value: (0, 1),
            Qt.Key.Key_Left.value: (-1, 0), Qt.Key.Key_Right.value: (1, 0),
        }  # fmt: skip
        move = moves.get(int(event.key()))
        here = self.view.spot(self.view.chosen) if self.view is not None else None
        if move is None or here is None:
            super().keyPressEvent(event)
            return
        target = self._towards(here, *move)
        if target is not None:
            self.chosen.emit(target.name)

    def _towards(self, here: PinSpot, right: int, down: int) -> PinSpot | None:
        """The nearest named pin in a direction."""
        assert self.view is not None
        at = self.place(here)
        best: tuple[float, PinSpot] | None = None
        for spot in self.view.spots:
            gap = self.place(spot) - at
            along, aside = gap.x() * right + gap.y() * down, abs(gap.x() * down) + abs(gap.y() * right)
            if spot is not here and along > 0.5:
                far = along + 3 * aside
                if best is None or far < best[0]:
                    best = far, spot
        return best[1] if best else None

    # ---- drawing

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.view is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._slots(painter)
        self._net(painter)
        size = min(13.0 * self._scale, max(5.0, 1.5 * self._step()))
        for spot in self.view.spots:
            if spot.verdict not in self.hidden_verdicts or spot.name == self.view.chosen:
                point = self.place(spot)
                draw_pin(painter, point.x(), point.y(), size, spot.verdict, self._theme)
        self._chosen(painter, size)
        painter.end()

    def _slots(self, painter: QPainter) -> None:
        assert self.view is not None
        crate, wide, step = self.view.crate, self._slot_width(), self._step()
        head, left = _HEAD * self._scale, _LEFT * self._scale
        columns = crate.columns(wiring=self.wiring)
        inner = 0.62 * wide
        for place in range(crate.slots):
            slot, _ = columns[place * len(crate.rows)]
            x = left + place * wide + (wide - inner) / 2
            painter.setPen(QPen(QColor(self._theme.rule_strong), 1))
            painter.setBrush(QColor(self._theme.panel))
            painter.drawRect(QRectF(x, head, inner, step * crate.pins))
            painter.setPen(QColor(self._theme.ink))
            painter.setFont(plain_font(self._scale, 16, bold=True))
            painter.drawText(QRectF(x - 20, 0, inner + 40, head * 0.55), Qt.AlignmentFlag.AlignCenter, str(slot))
            painter.setFont(plain_font(self._scale, 12, bold=True))
            for index in range(len(crate.rows)):
                _, row = columns[place * len(crate.rows) + index]
                across = x + inner * (index + 0.5) / len(crate.rows)
                box = QRectF(across - 12, head * 0.5, 24, head * 0.45)
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, row)
        painter.setFont(fixed_font(self._scale, 13, bold=True))
        for number in sorted({1, *range(6, crate.pins + 1, 6)}):
            y = head + (number - 0.5) * step
            box = QRectF(0, y - 10, left - 6, 20)
            painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, str(number))

    def _net(self, painter: QPainter) -> None:
        """The chosen net: a line in the gaps between slots, whole where the suspect reads sound, dashed elsewhere."""
        assert self.view is not None
        path = self.view.path
        if path is None:
            return
        for one, other in pairwise(path.points):
            spots = self.view.spot(one), self.view.spot(other)
            if spots[0] is None or spots[1] is None:
                continue
            solid = (one, other) in self.view.sound
            colour = self._theme.ink if solid else self._theme.suspect
            pen = QPen(QColor(colour), 1.6 * self._scale, Qt.PenStyle.SolidLine if solid else Qt.PenStyle.DashLine)
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            start, end = self.place(spots[0]), self.place(spots[1])
            # beside the first slot, so that it runs over no foreign pin of a slot between
            gap = start.x() + (0.42 * self._slot_width() if end.x() > start.x() else -0.42 * self._slot_width())
            corners = (start, QPointF(gap, start.y()), QPointF(gap, end.y()), end)
            for here, there in pairwise(corners):
                painter.drawLine(here, there)
            if not solid:
                painter.setPen(QPen(QColor(colour), 1.6 * self._scale))
                painter.setBrush(QColor(self._theme.paper))
                radius = 3.5 * self._scale
                painter.drawEllipse(QPointF(gap, (start.y() + end.y()) / 2), radius, radius)

    def _chosen(self, painter: QPainter, size: float) -> None:
        assert self.view is not None
        spot = self.view.spot(self.view.chosen)
        if spot is None:
            return
        point = self.place(spot)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(self._theme.ink), 2.2))
        painter.drawRect(QRectF(point.x() - size * 0.75, point.y() - size * 0.75, size * 1.5, size * 1.5))
        words = f"{spot.name} {spot.net}".strip()
        painter.setFont(fixed_font(self._scale, 13, bold=True))
        wide = painter.fontMetrics().horizontalAdvance(words) + 10
        x = point.x() + size if point.x() + size + wide < self.width() else point.x() - size - wide
        box = QRectF(x, point.y() - 11 * self._scale, wide, 22 * self._scale)
        painter.setBrush(QColor(self._theme.panel))
        painter.setPen(QPen(QColor(self._theme.ink), 1.2))
        painter.drawRect(box)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)


__all__ = ["SNAP_PX", "SlotMap"]
