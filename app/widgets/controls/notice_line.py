"""The gravest notice of a comparison in one line; the others unfold below it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPoint, QPointF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPixmap, QPolygonF, QRegion
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.painting import painting
from app.widgets.controls.scrolled_column import show_instead
from app.widgets.controls.tip import set_tip
from tracecore.cautions import AT_THE_PINS
from tracecore.notices import AT_PINS, Notice, Severity, in_order

SEVERITY_WORDS: dict[Severity, str] = {"doubt": "in doubt", "look": "worth a look", "info": "to know"}
MOST_UNFOLDED = 0.4
"""Of the page's height that the unfolded list takes at most."""


class SeverityMark(QWidget):
    """A triangle with a stroke for "look", a dashed box with "?" for "doubt", a bar for "info"."""

    def __init__(self, severity: Severity, theme: Theme, scale: float) -> None:
        super().__init__()
        self.severity, self._theme = severity, theme
        side = round(20 * min(scale, 1.6))
        self.setFixedSize(QSize(side, side))
        self.setAccessibleName(SEVERITY_WORDS[severity])
        set_tip(self, SEVERITY_WORDS[severity])

    def picture(self) -> QPixmap:
        """The mark alone, for a place that takes no widget."""
        found = QPixmap(self.size())
        found.fill(Qt.GlobalColor.transparent)
        self.render(found, QPoint(), QRegion(), QWidget.RenderFlag.DrawChildren)
        return found

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            box = self.rect().toRectF().adjusted(1.5, 1.5, -1.5, -1.5)
            ink = QColor(self._theme.warning_text)
            font = painter.font()
            font.setBold(True)
            font.setPixelSize(max(8, round(box.height() * 0.62)))
            painter.setFont(font)
            if self.severity == "look":
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(QColor(self._theme.warning))
                painter.drawPolygon(
                    QPolygonF([box.bottomLeft(), (box.topLeft() + box.topRight()) / 2, box.bottomRight()])
                )
                painter.setPen(QColor(self._theme.panel))
                painter.drawText(box.adjusted(0, box.height() * 0.2, 0, 0), Qt.AlignmentFlag.AlignCenter, "!")
            elif self.severity == "doubt":
                painter.setPen(QPen(ink, 1.5, Qt.PenStyle.DashLine))
                painter.drawRect(box)
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "?")
            else:
                painter.setPen(QPen(QColor(self._theme.muted), 2))
                middle = box.center().y()
                painter.drawLine(QPointF(box.left() + 3, middle), QPointF(box.right() - 3, middle))


class NoticeLine(QFrame):
    """Hidden where there is no notice. ``wrap`` lets the line be several, where a page has room for that."""

    def __init__(self, wrap: bool = False) -> None:
        super().__init__()
        self.setObjectName("noticeLine")
        self.setAccessibleName("Notices")
        self._theme, self._scale, self._gives_way = LIGHT, 1.0, False
        self.notices: tuple[Notice, ...] = ()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(10, 5, 8, 5)
        self._column.setSpacing(4)
        self._head = QHBoxLayout()
        self._head.setSpacing(8)
        self._column.addLayout(self._head)
        self.first: QLabel = label("", "warning") if wrap else ElidedLabel("", "warning")
        self._head.addWidget(self.first, 1)
        self.more = QPushButton()
        self.more.setProperty("small", True)
        self.more.setCheckable(True)
        self.more.toggled.connect(lambda _on: self._show_list())
        self._head.addWidget(self.more)
        self._mark: SeverityMark | None = None
        self.list = QScrollArea()
        self.list.setWidgetResizable(True)
        self.list.setFrameShape(QFrame.Shape.NoFrame)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._column.addWidget(self.list)
        self.setVisible(False)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and size."""
        self._theme, self._scale = theme, scale
        self.set_notices(self.notices)

    def give_way(self, gives_way: bool) -> None:
        """Leaves its room to what stands below it."""
        self._gives_way = gives_way
        self.setVisible(bool(self.notices) and not gives_way)

    def set_notices(self, notices: Sequence[Notice]) -> None:
        """Shows them, the gravest first; where none is more than "to know" the line is no alarm."""
        fresh = in_order(tuple(notices))
        if fresh != self.notices:
            self.more.setChecked(False)
        self.notices = fresh
        self.setVisible(bool(fresh) and not self._gives_way)
        if not fresh:
            return
        if self._mark is not None:
            self._head.removeWidget(self._mark)
            self._mark.hide()
            self._mark.deleteLater()
        self._mark = SeverityMark(fresh[0].severity, self._theme, self._scale)
        self._head.insertWidget(0, self._mark)
        calm = fresh[0].severity == "info"
        self.setProperty("calm", calm)
        self.first.setObjectName("muted" if calm else "warning")
        for own in (self, self.first):
            own.style().unpolish(own)
            own.style().polish(own)
        self.setAccessibleDescription(" ".join(own.sentence for own in fresh))
        self._show_list()

    def _show_list(self) -> None:
        is_open = self.more.isChecked()
        others = len(self.notices) - 1
        words = f"{others} more" if others else "What to do"
        count = f"{others + 1} notices" if others else "Notice"
        # all stand in the list then, the first one too
        self.first.setText(count if is_open else self.notices[0].text)
        set_tip(self.first, "" if is_open else self.notices[0].sentence)
        self.more.setText("Fold ▴" if is_open else f"{words} ▾")
        self.more.setVisible(bool(others or self.notices[0].do))
        self.list.setVisible(is_open)
        if is_open:
            body = self._body()
            show_instead(self.list, body)
            height = body.sizeHint().height()
            parent = self.parentWidget()
            page = parent.height() if parent is not None else 600
            self.list.setFixedHeight(min(height + 4, max(60, round(page * MOST_UNFOLDED))))

    def unfolded(self) -> tuple[str, ...]:
        """The sentences that stand in the list; empty while it is folded."""
        body = self.list.widget()
        if self.list.isHidden() or body is None:
            return ()
        return tuple(words.text() for words in body.findChildren(QLabel))

    def _body(self) -> QWidget:
        body = QWidget()
        body.setObjectName("noticeBody")
        rows = QVBoxLayout(body)
        rows.setContentsMargins(0, 2, 0, 2)
        rows.setSpacing(6)
        for own in self.notices:
            row = QHBoxLayout()
            row.setSpacing(8)
            row.addWidget(SeverityMark(own.severity, self._theme, self._scale), 0, Qt.AlignmentFlag.AlignTop)
            row.addWidget(label(own.sentence), 1)
            rows.addLayout(row)
        if any(own.code in AT_PINS for own in self.notices):
            rows.addWidget(label(AT_THE_PINS, "muted"))
        return body
