"""The chosen net on the slot map: its wires, and a label at each of its pins."""

from __future__ import annotations

from itertools import pairwise

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen

from app.model.crate import BackplaneView, NetEdge, NetPin, PinSpot
from app.model.theme import Theme
from app.widgets.backplane.crate_geometry import CrateGeometry
from app.widgets.controls.signal_name import fixed_font, plain_font

MOST_LABELS = 6
"""Of a net with more pins only the driver's and the chosen one's are labelled."""


class NetDrawing:
    """Paints with the map's geometry, colours and size of text."""

    def __init__(self, painter: QPainter, geometry: CrateGeometry, theme: Theme, scale: float) -> None:
        self.painter, self.geometry, self.theme, self.scale = painter, geometry, theme, scale

    def wires(self, view: BackplaneView) -> None:
        """Solid where a side's readings join, broken with a ring at each end where they part, else dashed."""
        for lane, edge in enumerate(view.edges):
            one, other = view.spot(edge.start), view.spot(edge.end)
            if one is not None and other is not None:
                self._wire(edge, self.geometry.way(one, other, lane))

    def _wire(self, edge: NetEdge, corners: list[QPointF]) -> None:
        painter, sound = self.painter, edge.state == "same"
        colour = QColor(self.theme.ink if sound else self.theme.suspect)
        pen = QPen(colour, 1.6 * self.scale, Qt.PenStyle.SolidLine if sound else Qt.PenStyle.DashLine)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if edge.state == "broken":
            # nothing is drawn where the way is broken
            rings = self._around_middle(corners)
            for part in ([*corners[: rings[0] + 1], rings[1]], [rings[2], *corners[rings[0] + 1 :]]):
                painter.setPen(QPen(colour, 1.6 * self.scale))
                for here, there in pairwise(part):
                    painter.drawLine(here, there)
            for at in rings[1:]:
                self._ring(at, colour)
            return
        painter.setPen(pen)
        for here, there in pairwise(corners):
            painter.drawLine(here, there)
        if not sound:
            longest = max(pairwise(corners), key=lambda ends: _length(*ends))
            self._ring((longest[0] + longest[1]) / 2, colour)

    def _around_middle(self, corners: list[QPointF]) -> tuple[int, QPointF, QPointF]:
        """The longest straight piece, and two points on it with a gap between."""
        index = max(range(len(corners) - 1), key=lambda k: _length(corners[k], corners[k + 1]))
        one, other = corners[index], corners[index + 1]
        half = min(0.3, 9 * self.scale / max(1.0, _length(one, other)))
        return index, one + (other - one) * (0.5 - half), one + (other - one) * (0.5 + half)

    def _ring(self, at: QPointF, colour: QColor) -> None:
        self.painter.setPen(QPen(colour, 1.6 * self.scale))
        self.painter.setBrush(QColor(self.theme.paper))
        self.painter.drawEllipse(at, 3.5 * self.scale, 3.5 * self.scale)
        self.painter.setBrush(Qt.BrushStyle.NoBrush)

    def labels(self, view: BackplaneView, within: QRectF) -> None:
        """Name, part it plays and words at each pin of the net; the chosen one's edge is heavier."""
        spots = [(pin, spot) for pin in view.net_pins if (spot := view.spot(pin.point)) is not None]
        if len(spots) > MOST_LABELS:
            spots = [(pin, spot) for pin, spot in spots if pin.role == "driver" or pin.point == view.chosen]
        chosen = view.spot(view.chosen)
        if chosen is not None and all(spot is not chosen for _, spot in spots):
            words = chosen.words
            spots.append((NetPin(chosen.name, "pin", "", chosen.verdict, words, chosen.signal), chosen))
        # the chosen one takes its place first
        spots.sort(key=lambda own: own[1].name != view.chosen)
        taken = [self._around(spot) for _, spot in spots]
        for pin, spot in spots:
            box = self._label_box(pin, spot, taken, within)
            if box is not None:
                taken.append(box)
                self._label(pin, spot, box, chosen=spot.name == view.chosen)

    def _around(self, spot: PinSpot) -> QRectF:
        at, near = self.geometry.place(spot), 8 * self.scale
        return QRectF(at.x() - near, at.y() - near, 2 * near, 2 * near)

    def _label_box(self, pin: NetPin, spot: PinSpot, taken: list[QRectF], within: QRectF) -> QRectF | None:
        name, small = fixed_font(self.scale, 13, bold=True), plain_font(self.scale, 13)
        first = QFontMetricsF(name).horizontalAdvance(pin.point) + QFontMetricsF(small).horizontalAdvance(
            f" {pin.role if pin.role != 'pin' else pin.part}"
        )
        wide = max(first, QFontMetricsF(small).horizontalAdvance(pin.words)) + 14 * self.scale
        high = QFontMetricsF(small).height() * 2 + 4 * self.scale
        at, slot = self.geometry.place(spot), self.geometry.slot_box(spot.slot)
        gap = 10 * self.scale
        for drop in (0.0, high * 0.7, -high * 0.7, high * 1.5, -high * 1.5):
            for x in (slot.right() + gap, slot.left() - gap - wide):
                box = QRectF(x, at.y() - high / 2 + drop, wide, high)
                box.moveTop(min(max(box.top(), within.top()), within.bottom() - high))
                if within.contains(box) and not any(box.intersects(other) for other in taken):
                    return box
        return None

    def _label(self, pin: NetPin, spot: PinSpot, box: QRectF, *, chosen: bool) -> None:
        painter, at = self.painter, self.geometry.place(spot)
        wrong = pin.verdict in ("diverges", "level", "timing")
        edge = QColor(self.theme.suspect if wrong else self.theme.ink)
        painter.setPen(QPen(edge, 1.0))
        side = box.left() if box.left() > at.x() else box.right()
        painter.drawLine(at, QPointF(side, min(max(at.y(), box.top()), box.bottom())))
        painter.setPen(QPen(edge, 2.0 if chosen else 1.2))
        painter.setBrush(QColor(self.theme.panel))
        painter.drawRect(box)
        inside = box.adjusted(7 * self.scale, 2 * self.scale, 0, -2 * self.scale)
        upper = QRectF(inside.left(), inside.top(), inside.width(), inside.height() / 2)
        lower = upper.translated(0, inside.height() / 2)
        middle = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        painter.setFont(fixed_font(self.scale, 13, bold=True))
        painter.setPen(QColor(self.theme.ink))
        painter.drawText(upper, middle, pin.point)
        shift = QFontMetricsF(painter.font()).horizontalAdvance(pin.point)
        painter.setFont(plain_font(self.scale, 13))
        painter.setPen(QColor(self.theme.muted))
        painter.drawText(upper.adjusted(shift, 0, 0, 0), middle, f" {pin.role if pin.role != 'pin' else pin.part}")
        painter.setPen(QColor(self.theme.suspect_text if wrong else self.theme.ink))
        painter.drawText(lower, middle, pin.words)


def _length(one: QPointF, other: QPointF) -> float:
    return abs(one.x() - other.x()) + abs(one.y() - other.y())
