"""The head: ruled form boxes for the case, the two sides and the line-up, each a button to its page."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QFrame, QHBoxLayout, QSizePolicy, QWidget

from app.model.theme import Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip

BOXES: tuple[tuple[str, str, str], ...] = (
    ("case", "Case", "log"),
    ("good", "Known-good", "captures"),
    ("suspect", "Suspect", "captures"),
    ("lineup", "Line-up", "lineup"),
)


def draw_side_mark(painter: QPainter, centre: QPointF, half: float, side: str, theme: Theme) -> None:
    """A thin line with a disc for the good side, a thick one with a square for the suspect."""
    good = side == "good"
    colour = QColor(theme.good if good else theme.suspect)
    painter.setPen(QPen(colour, 1.5 if good else 2.6))
    painter.drawLine(QPointF(centre.x() - half, centre.y()), QPointF(centre.x() + half, centre.y()))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    dot = half * 0.28
    if good:
        painter.drawEllipse(centre, dot, dot)
    else:
        painter.drawRect(QRectF(centre.x() - dot, centre.y() - dot, 2 * dot, 2 * dot))


class SideMark(QWidget):
    """The mark of a side, as a small picture beside its name."""

    def __init__(self, side: str, theme: Theme) -> None:
        super().__init__()
        self._side, self._theme = side, theme
        self.setAccessibleName("disc, thin line" if side == "good" else "square, thick line")

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.update()

    def sizeHint(self) -> QSize:
        line = self.fontMetrics().height()
        return QSize(line * 2, line)

    def minimumSizeHint(self) -> QSize:
        line = self.fontMetrics().height()
        return QSize(line, line)

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            half = min(self.fontMetrics().height() * 0.9, self.width() / 2 - 1)
            draw_side_mark(painter, QRectF(self.rect()).center(), half, self._side, self._theme)


class FormBox(QAbstractButton):
    """One box: a small label above, the value in bold below; cut with an ellipsis, whole in the tooltip."""

    def __init__(self, name: str, label: str, theme: Theme) -> None:
        super().__init__()
        self.name, self._label, self._theme = name, label, theme
        self.value = ""
        self.compact = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.set_value("–")

    def set_value(self, value: str, label: str = "") -> None:
        """Fills the box; ``label`` takes the place of the words above."""
        self.value, self._label = value, label or self._label
        set_tip(self, f"{self._label}: {value}")
        self.setAccessibleName(f"{self._label}: {value}")
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.updateGeometry()
        self.update()

    def set_compact(self, compact: bool) -> None:
        """The value alone, in one line, where the window is small."""
        self.compact = compact
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        line = self.fontMetrics().height()
        return QSize(line * 10, int(line * (1.8 if self.compact else 3.3)))

    def minimumSizeHint(self) -> QSize:
        return QSize(80, self.sizeHint().height())

    def _paint_line(self, painter: QPainter) -> None:
        """The side's mark, and the value."""
        line, area = self.fontMetrics().height(), QRectF(self.rect())
        left = line * 0.5
        if self.name in ("good", "suspect"):
            draw_side_mark(painter, QPointF(left + line * 0.6, area.center().y()), line * 0.6, self.name, self._theme)
            left += line * 1.6
        bold = self.font()
        bold.setBold(True)
        painter.setFont(bold)
        painter.setPen(QColor(self._theme.ink))
        room = QRectF(left, 0, area.width() - left - line * 0.3, area.height())
        text = painter.fontMetrics().elidedText(self.value, Qt.TextElideMode.ElideRight, int(room.width()))
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)

    def _paint_lines(self, painter: QPainter) -> None:
        """The label above, the value below."""
        theme, line, area = self._theme, self.fontMetrics().height(), QRectF(self.rect())
        painter.setFont(self.font())
        painter.setPen(QColor(theme.muted))
        left = line * 0.8
        top = QRectF(left, line * 0.4, area.width() - left - line * 0.5, line * 1.2)
        painter.drawText(top, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, self._label)
        if self.name in ("good", "suspect"):
            free = top.width() - painter.fontMetrics().horizontalAdvance(self._label) - line * 0.3
            half = max(6.0, min(line * 0.9, free / 2))
            draw_side_mark(painter, QPointF(top.right() - half, top.center().y()), half, self.name, theme)
        bold = self.font()
        bold.setBold(True)
        painter.setFont(bold)
        painter.setPen(QColor(theme.ink))
        below = QRectF(left, line * 1.65, area.width() - left - line * 0.4, line * 1.3)
        text = painter.fontMetrics().elidedText(self.value, Qt.TextElideMode.ElideRight, int(below.width()))
        painter.drawText(below, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self._theme
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            line = self.fontMetrics().height()
            area = QRectF(self.rect())
            if self.underMouse():
                painter.fillRect(area, QColor(theme.tint))
            painter.setPen(QPen(QColor(theme.rule_strong), 1))
            painter.drawLine(QPointF(area.right(), line * 0.5), QPointF(area.right(), area.bottom() - line * 0.5))
            if self.compact:
                self._paint_line(painter)
            else:
                self._paint_lines(painter)
            if self.hasFocus():
                painter.setPen(QPen(QColor(theme.ink), 2, Qt.PenStyle.DotLine))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRect(area.adjusted(3, 3, -4, -4))


class FormHead(QFrame):
    """``wanted`` carries the page that a box leads to."""

    wanted = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("formHead")
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        self.boxes: dict[str, FormBox] = {}
        for name, label, page in BOXES:
            box = FormBox(name, label, theme)
            box.clicked.connect(lambda _checked=False, page=page: self.wanted.emit(page))
            layout.addWidget(box, 1)
            self.boxes[name] = box

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        for box in self.boxes.values():
            box.set_theme(theme)

    def set_compact(self, compact: bool) -> None:
        """Values alone, in one line."""
        for box in self.boxes.values():
            box.set_compact(compact)
