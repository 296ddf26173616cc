"""The crate with its slots and pins, from the card side or from the wiring side, and the chosen net on it."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.crate import BackplaneView, PinSpot, PinVerdict
from app.model.theme import LIGHT, Theme
from app.widgets.backplane.crate_geometry import CrateGeometry
from app.widgets.backplane.net_drawing import NetDrawing
from app.widgets.backplane.pin_shapes import draw_pin
from app.widgets.controls.painting import painting
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
        return f"slot 1 at the {'right' if self.wiring else 'left'}"

    def sizeHint(self) -> QSize:
        # a column that may scroll makes itself as high as its parts would like to be
        return QSize(700, self.minimumHeight())

    # ---- where things are

    @property
    def geometry_now(self) -> CrateGeometry:
        """Where slots and pins lie at this size."""
        assert self.view is not None
        head = (_HEAD + (14 if any(self.view.crate.names) else 0)) * self._scale
        sizes = head, _LEFT * self._scale, _FOOT * self._scale
        return CrateGeometry(self.view.crate, self.wiring, self.width(), self.height(), *sizes)

    def place(self, spot: PinSpot) -> QPointF:
        """Where a pin is drawn, in the widget."""
        return self.geometry_now.place(spot)

    # ---- choosing

    def mousePressEvent(self, event: QMouseEvent) -> None:
        near = self._nearest(event.position())
        if near is not None:
            self.chosen.emit(near.name)

    def _nearest(self, at: QPointF) -> PinSpot | None:
        if self.view is None or not self.view.spots:
            return None
        lies = self.geometry_now
        found = min(self.view.spots, key=lambda s: (lies.place(s) - at).manhattanLength())
        gap = lies.place(found) - at
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
        lies = self.geometry_now
        at = lies.place(here)
        best: tuple[float, PinSpot] | None = None
        for spot in self.view.spots:
            gap = lies.place(spot) - at
            along, aside = gap.x() * right + gap.y() * down, abs(gap.x() * down) + abs(gap.y() * right)
            if spot is not here and along > 0.5:
                far = along + 3 * aside
                if best is None or far < best[0]:
                    best = far, spot
        return best[1] if best else None

    # ---- drawing

    def paintEvent(self, event: QPaintEvent) -> None:
        view = self.view
        if view is None:
            return
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            lies = self.geometry_now
            self._slots(painter, lies)
            net = NetDrawing(painter, lies, self._theme, self._scale)
            net.wires(view)
            size = min(13.0 * self._scale, max(5.0, 1.25 * lies.step))
            for spot in view.spots:
                if spot.verdict not in self.hidden_verdicts or spot.name == view.chosen:
                    at = lies.place(spot)
                    draw_pin(painter, at.x(), at.y(), size, spot.verdict, self._theme)
            self._rings_of_net(painter, lies, size)
            net.labels(view, QRectF(2, lies.head, self.width() - 4, self.height() - lies.head - 2))

    def _slots(self, painter: QPainter, lies: CrateGeometry) -> None:
        assert self.view is not None
        crate, scale, step = self.view.crate, self._scale, lies.step
        of_net = {spot.slot for pin in self.view.net_pins if (spot := self.view.spot(pin.point)) is not None}
        for slot in range(1, crate.slots + 1):
            box = lies.slot_box(slot)
            painter.setPen(QPen(QColor(self._theme.ink if slot in of_net else self._theme.rule_strong), 1.2))
            painter.setBrush(QColor(self._theme.panel))
            painter.drawRect(box)
            self._free_pins(painter, lies, slot)
            self._slot_head(painter, lies, slot)
        painter.setPen(QColor(self._theme.ink))
        painter.setFont(fixed_font(scale, 13, bold=True))
        for number in sorted({1, *range(6, crate.pins + 1, 6)}):
            y = lies.head + (number - 0.5) * step
            box = QRectF(0, y - 10 * scale, lies.left - 6, 20 * scale)
            painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, str(number))

    def _free_pins(self, painter: QPainter, lies: CrateGeometry, slot: int) -> None:
        """A short line for each pin that nobody named; left out with those that were not probed."""
        assert self.view is not None
        if "not probed" in self.hidden_verdicts:
            return
        half = min(3.5 * self._scale, lies.slot_box(slot).width() / (5 * len(self.view.crate.rows)))
        painter.setPen(QPen(QColor(self._theme.rule), 1))
        for row in self.view.crate.rows:
            x = lies.row_x(slot, row)
            for number in range(1, self.view.crate.pins + 1):
                y = lies.head + (number - 0.5) * lies.step
                painter.drawLine(QPointF(x - half, y), QPointF(x + half, y))

    def _slot_head(self, painter: QPainter, lies: CrateGeometry, slot: int) -> None:
        """Number, name and the letters of the rows."""
        assert self.view is not None
        crate, scale = self.view.crate, self._scale
        box, wide = lies.slot_box(slot), lies.slot_wide
        middle = Qt.AlignmentFlag.AlignCenter
        painter.setPen(QColor(self._theme.ink))
        painter.setFont(plain_font(scale, 16, bold=True))
        painter.drawText(QRectF(box.center().x() - wide / 2, 0, wide, 22 * scale), middle, str(slot))
        if crate.name(slot) and wide >= 44 * scale:
            painter.setFont(plain_font(scale, 12))
            painter.setPen(QColor(self._theme.muted))
            name = QFontMetricsF(painter.font()).elidedText(crate.name(slot), Qt.TextElideMode.ElideRight, wide - 4)
            painter.drawText(QRectF(box.center().x() - wide / 2, 20 * scale, wide, 16 * scale), middle, name)
        painter.setPen(QColor(self._theme.ink))
        painter.setFont(plain_font(scale, 12, bold=True))
        for row in crate.rows:
            letter = QRectF(lies.row_x(slot, row) - 12 * scale, lies.head - 18 * scale, 24 * scale, 16 * scale)
            painter.drawText(letter, middle, row)

    def _rings_of_net(self, painter: QPainter, lies: CrateGeometry, size: float) -> None:
        """A box round each pin of the net, the chosen one's heavier."""
        assert self.view is not None
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for name in dict.fromkeys((*(pin.point for pin in self.view.net_pins), self.view.chosen)):
            spot = self.view.spot(name)
            if spot is not None:
                at, half = lies.place(spot), size * 0.75
                painter.setPen(QPen(QColor(self._theme.ink), 2.4 if name == self.view.chosen else 1.2))
                painter.drawRect(QRectF(at.x() - half, at.y() - half, 2 * half, 2 * half))


__all__ = ["SNAP_PX", "SlotMap"]
