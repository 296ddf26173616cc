"""Every piece of text as it is painted, widget by widget, and what is wrong with where it stands.

A widget paints itself into a recorder instead of a picture: so what it draws by hand is judged like a label or a cell.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPoint, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QPaintDevice, QPaintEngine, QPaintEngineState, QRegion, QTextItem, QTransform
from PySide6.QtWidgets import (
    QAbstractItemView,
    QAbstractScrollArea,
    QHeaderView,
    QLineEdit,
    QScrollBar,
    QTextEdit,
    QWidget,
)

SLACK_PX = 2.0
"""Text may stand this far outside: side bearings and rounding."""
FAR = 1_000_000
LEAST_PX = 12
"""A widget that takes the focus is at least this wide and high, else nobody sees that it has it."""


@dataclass(frozen=True, slots=True)
class Painted:
    """One piece of text: its widget, its box there in pixels (ascent and descent shortened to the letters)."""

    text: str
    widget: QWidget
    box: QRectF
    clip: QRectF | None

    def inside(self, other: QWidget) -> QRectF:
        """The box in another widget's pixels."""
        return self.box.translated(QPointF(self.widget.mapTo(other, QPoint(0, 0))))


class _Recorder(QPaintEngine):
    def __init__(self) -> None:
        super().__init__(QPaintEngine.PaintEngineFeature.AllFeatures)
        self.found: list[tuple[str, QRectF, QRectF | None]] = []
        self._turned = QTransform()
        self._clip: QRectF | None = None

    def begin(self, device: QPaintDevice) -> bool:
        return True

    def end(self) -> bool:
        return True

    def type(self) -> QPaintEngine.Type:
        return QPaintEngine.Type.User

    def updateState(self, state: QPaintEngineState) -> None:
        flags = QPaintEngine.DirtyFlag
        if state.state() & flags.DirtyTransform:
            self._turned = state.transform()
        if state.state() & (flags.DirtyClipRegion | flags.DirtyClipPath | flags.DirtyClipEnabled):
            by_path = state.state() & flags.DirtyClipPath
            area = state.clipPath().boundingRect() if by_path else QRectF(state.clipRegion().boundingRect())
            self._clip = self._turned.mapRect(area) if state.isClipEnabled() and not area.isEmpty() else None

    def drawTextItem(self, at: QPointF, item: QTextItem) -> None:
        if item.text().strip():
            letters = QRectF(at.x(), at.y() - 0.72 * item.ascent(), item.width(), 0.72 * item.ascent() + 1)
            self.found.append((item.text().strip(), self._turned.mapRect(letters), self._clip))

    def _nothing(self, *_what: object) -> None:
        """Only text is recorded."""

    drawPixmap = drawPath = drawPolygon = drawRects = drawLines = drawImage = _nothing
    drawPoints = drawEllipse = drawTiledPixmap = _nothing


class _Paper(QPaintDevice):
    def __init__(self, widget: QWidget) -> None:
        super().__init__()
        self.recorder = _Recorder()
        named = QPaintDevice.PaintDeviceMetric
        wide, high, dots = widget.width(), widget.height(), widget.logicalDpiX()
        self._told = {
            named.PdmWidth: wide,
            named.PdmHeight: high,
            named.PdmWidthMM: round(wide * 25.4 / dots),
            named.PdmHeightMM: round(high * 25.4 / dots),
            named.PdmNumColors: 1 << 24,
            named.PdmDepth: 32,
            named.PdmDpiX: dots,
            named.PdmDpiY: dots,
            named.PdmPhysicalDpiX: dots,
            named.PdmPhysicalDpiY: dots,
            named.PdmDevicePixelRatio: 1,
            named.PdmDevicePixelRatioScaled: int(self.devicePixelRatioFScale()),
        }

    def paintEngine(self) -> QPaintEngine:
        return self.recorder

    def metric(self, wanted: QPaintDevice.PaintDeviceMetric) -> int:
        return self._told.get(wanted, 0)


def shown(root: QWidget) -> list[QWidget]:
    """The widgets of a window that are visible, without the windows that belong to it."""
    own = [w for w in root.findChildren(QWidget) if w.isVisible() and w.window() is root.window()]
    return [root, *own]


def painted(root: QWidget) -> list[Painted]:
    """Every text that the window paints."""
    found = []
    for widget in shown(root):
        if widget.visibleRegion().isEmpty() and _scroller(widget) is None:
            continue
        paper = _Paper(widget)
        # a graphics view has a render of its own, with other arguments
        QWidget.render(widget, paper, QPoint(), QRegion(), QWidget.RenderFlag.DrawWindowBackground)
        found += [Painted(text, widget, box, clip) for text, box, clip in paper.recorder.found]
    return found


def _scroller(widget: QWidget) -> QAbstractScrollArea | None:
    parent = widget.parentWidget()
    while parent is not None:
        if isinstance(parent, QAbstractScrollArea):
            return parent
        parent = parent.parentWidget()
    return None


def _sticks_out(box: QRectF, area: QRect) -> str:
    sides = {
        "left": area.left() - box.left(),
        "right": box.right() - area.right() - 1,
        "top": area.top() - box.top(),
        "bottom": box.bottom() - area.bottom() - 1,
    }
    worst = max(sides, key=lambda side: sides[side])
    return f"{sides[worst]:.0f} px off its {worst}" if sides[worst] > SLACK_PX else ""


def _reach(area: QAbstractScrollArea, box: QRectF, viewport: QWidget) -> str:
    """What of a box cannot be scrolled into sight."""
    table = area.parentWidget() if isinstance(area, QHeaderView) else area
    wide = (table if isinstance(table, QAbstractScrollArea) else area).horizontalScrollBar()
    high = area.verticalScrollBar()
    off = Qt.ScrollBarPolicy.ScrollBarAlwaysOff
    room = QRect(viewport.rect())
    # an item view may count its scrolling in rows; that there is a bar has to do
    by_rows = isinstance(area, QAbstractItemView)
    if area.verticalScrollBarPolicy() != off and high.maximum() > 0:
        room.adjust(0, -FAR if by_rows else -high.value(), 0, FAR if by_rows else high.maximum() - high.value())
    if (area.horizontalScrollBarPolicy() != off or isinstance(area, QHeaderView)) and wide.maximum() > 0:
        room.adjust(-FAR if by_rows else -wide.value(), 0, FAR if by_rows else wide.maximum() - wide.value(), 0)
    return _sticks_out(box, room)


def _elided(piece: Painted) -> bool:
    """Is it cut with an ellipsis that nothing tells the whole of?"""
    if "…" not in piece.text or isinstance(piece.widget.parentWidget(), QTextEdit):
        return False
    own = getattr(piece.widget, "text", lambda: "")()
    if isinstance(own, str) and piece.text.replace("&", "") in own.replace("&", ""):
        return False
    if piece.widget.toolTip():
        return False
    view = piece.widget.parentWidget()
    if isinstance(view, QAbstractItemView) and view.model() is not None:
        at = piece.box.center().toPoint()
        if isinstance(view, QHeaderView):
            return not view.model().headerData(view.logicalIndexAt(at), view.orientation(), Qt.ItemDataRole.ToolTipRole)
        index = view.indexAt(at)
        told = index.data(Qt.ItemDataRole.ToolTipRole), index.data(Qt.ItemDataRole.DisplayRole)
        return not told[0] and piece.text not in str(told[1])
    return True


def _cut(piece: Painted, root: QWidget) -> str:
    widget: QWidget = piece.widget
    box = piece.box
    if piece.clip is not None and not piece.clip.intersects(box):
        return ""
    view = widget.parentWidget()
    if isinstance(view, QAbstractScrollArea) and widget is view.viewport():
        cut = _reach(view, box, widget)
        box = box.intersected(QRectF(widget.rect()))
        if box.isEmpty():
            return cut
    elif isinstance(widget, QLineEdit) and widget.placeholderText() != piece.text:
        # what is typed scrolls in its field
        box = box.intersected(QRectF(widget.rect()))
        cut = ""
    else:
        bars = widget.findChildren(QScrollBar, options=Qt.FindChildOption.FindDirectChildrenOnly)
        tall = 2 * FAR if any(b.isVisible() and b.orientation() == Qt.Orientation.Vertical for b in bars) else 0
        cut = _sticks_out(box, widget.rect().adjusted(0, -tall, 0, tall))
        box = box.intersected(QRectF(widget.rect())) if tall else box
        if box.isEmpty():
            return cut
    while not cut and widget is not root:
        parent = widget.parentWidget()
        assert parent is not None
        box = box.translated(QPointF(widget.pos()))
        if isinstance(parent.parentWidget(), QAbstractScrollArea) and parent is parent.parentWidget().viewport():
            cut = _reach(parent.parentWidget(), box, parent)
            # what lies in the scrolled part is judged there; the area itself still has to be seen
            box = box.intersected(QRectF(parent.rect()))
            if box.isEmpty():
                return cut
        else:
            cut = _sticks_out(box, parent.rect())
        widget = parent
    return cut


def _named(widget: QWidget) -> str:
    chain: list[str] = []
    at: QWidget | None = widget
    while at is not None and len(chain) < 4:
        chain.append(at.accessibleName() or at.objectName() or type(at).__name__)
        at = at.parentWidget()
    return " in ".join(chain)


def faults(root: QWidget) -> list[str]:
    """What is wrong with the texts of a window, one sentence each; empty where all can be read."""
    found = []
    pieces = painted(root)
    for piece in pieces:
        cut = _cut(piece, root)
        if cut:
            found.append(f"cut: '{piece.text}' {cut}, {_named(piece.widget)}")
        elif _elided(piece):
            found.append(f"shortened and told nowhere: '{piece.text}', {_named(piece.widget)}")
    found += _overlaps(pieces, root)
    for widget in shown(root):
        takes = widget.focusPolicy() != Qt.FocusPolicy.NoFocus and widget.isEnabled()
        if takes and min(widget.width(), widget.height()) < LEAST_PX:
            found.append(f"too small: {widget.width()} x {widget.height()} px, {_named(widget)}")
    return found


def _overlaps(pieces: list[Painted], root: QWidget) -> list[str]:
    seen: list[tuple[QRectF, Painted]] = []
    for piece in pieces:
        visible = QRectF(piece.widget.visibleRegion().boundingRect())
        if piece.clip is not None:
            visible = visible.intersected(piece.clip)
        box = piece.box.intersected(visible)
        if box.width() > SLACK_PX and box.height() > SLACK_PX:
            seen.append((box.translated(QPointF(piece.widget.mapTo(root, QPoint(0, 0)))), piece))
    seen.sort(key=lambda pair: pair[0].top())
    found = []
    for i, (box, piece) in enumerate(seen):
        for other_box, other in seen[i + 1 :]:
            if other_box.top() >= box.bottom() - SLACK_PX:
                break
            if other.widget is piece.widget and other.text == piece.text:
                # what is selected is painted over itself
                continue
            both = box.intersected(other_box)
            if both.width() > SLACK_PX and both.height() > SLACK_PX:
                found.append(f"overlap: '{piece.text}' and '{other.text}', {_named(piece.widget)}")
    return found
