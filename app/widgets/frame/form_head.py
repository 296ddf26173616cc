"""The head: ruled form boxes for the case, the two sides and the line-up, each a button to its page."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen, QResizeEvent
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


def shares(wanted: Sequence[Sequence[float]], room: float) -> list[float]:
    """What each box gets of the room: ``wanted`` are its widths with its wordings, the fullest first.

    The widest that has a shorter wording takes it, until all fit or none has. What then is still too wide gives way
    alike, and what is free is shared alike.

    >>> shares([[40.0], [50.0, 20.0]], 100)
    [45.0, 55.0]
    >>> shares([[60.0], [50.0, 20.0]], 100)
    [70.0, 30.0]
    >>> shares([[90.0], [50.0, 20.0]], 100)
    [80.0, 20.0]
    """
    taken = [0] * len(wanted)

    def widths() -> list[float]:
        return [own[k] for own, k in zip(wanted, taken, strict=True)]

    while sum(widths()) > room:
        more = [i for i, own in enumerate(wanted) if taken[i] + 1 < len(own)]
        if not more:
            break
        taken[max(more, key=lambda i: widths()[i])] += 1
    found = widths()
    if sum(found) <= room:
        return [own + (room - sum(found)) / len(found) for own in found]
    # the narrow ones keep what they need, the others share the rest alike
    out, free, still = [0.0] * len(found), room, len(found)
    for i in sorted(range(len(found)), key=lambda i: found[i]):
        out[i] = min(found[i], free / still)
        free, still = free - out[i], still - 1
    return out


class FormBox(QAbstractButton):
    """One box: a small label above, the value in bold below. Where it does not fit it takes a shorter wording, the
    last of them cut with an ellipsis; the tooltip has all of it."""

    def __init__(self, name: str, label: str, theme: Theme) -> None:
        super().__init__()
        self.name, self._label, self._theme = name, label, theme
        self._wordings: tuple[str, ...] = ()
        self.compact = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.set_value(("–",))

    @property
    def value(self) -> str:
        """All of it."""
        return self._wordings[0]

    def set_value(self, wordings: tuple[str, ...], label: str = "") -> None:
        """Fills the box, with its value in full and shorter; ``label`` takes the place of the words above."""
        self._wordings, self._label = wordings, label or self._label
        set_tip(self, f"{self._label}: {self.value}")
        self.setAccessibleName(f"{self._label}: {self.value}")
        self.update()

    def wanted(self) -> list[float]:
        """Pixels of each wording."""
        left, right = self._beside
        metrics = QFontMetricsF(self._bold)
        return [metrics.horizontalAdvance(words) + left + right + 1 for words in self._wordings]

    @property
    def _bold(self) -> QFont:
        bold = self.font()
        bold.setBold(True)
        return bold

    @property
    def _beside(self) -> tuple[float, float]:
        """Pixels to the left and right of the value."""
        line = self.fontMetrics().height()
        if not self.compact:
            return line * 0.8, line * 0.4
        return line * (2.1 if self.name in ("good", "suspect") else 0.5), line * 0.3

    def _fitting(self, room: float) -> str:
        """The fullest wording that there is room for, the shortest one cut where there is none."""
        metrics = QFontMetricsF(self._bold)
        fits = next((words for words in self._wordings if metrics.horizontalAdvance(words) <= room), None)
        return fits or metrics.elidedText(self._wordings[-1], Qt.TextElideMode.ElideRight, room)

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
        if self.name in ("good", "suspect"):
            draw_side_mark(painter, QPointF(line * 1.1, area.center().y()), line * 0.6, self.name, self._theme)
        left, right = self._beside
        painter.setFont(self._bold)
        painter.setPen(QColor(self._theme.ink))
        room = QRectF(left, 0, area.width() - left - right, area.height())
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, self._fitting(room.width()))

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
        painter.setFont(self._bold)
        painter.setPen(QColor(theme.ink))
        left, right = self._beside
        below = QRectF(left, line * 1.65, area.width() - left - right, line * 1.3)
        words = self._fitting(below.width())
        painter.drawText(below, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, words)

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
        self._row = layout
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
        self.share()

    def set_compact(self, compact: bool) -> None:
        """Values alone, in one line."""
        for box in self.boxes.values():
            box.set_compact(compact)
        self.share()

    def share(self) -> None:
        """Gives each box the width that its value needs, as far as there is room."""
        room = float(self.width())
        for i, share in enumerate(shares([box.wanted() for box in self.boxes.values()], room)):
            self._row.setStretch(i, max(1, round(share)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.share()
