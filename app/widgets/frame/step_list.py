"""The seven steps as ruled rows, each with a stamp box: done, needs a look, or empty."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QFrame, QLabel, QSizePolicy, QVBoxLayout, QWidget

from app.model.actions import ActionRow
from app.model.step_state import STAMP_WORDS, StepState
from app.model.theme import Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip


def draw_mark(painter: QPainter, box: QRectF, kind: str, theme: Theme) -> None:
    """A tick, an ochre triangle, or a question mark in ``box``; nothing for other kinds."""
    size = box.width()
    if kind in ("done", "fine"):
        painter.setPen(QPen(QColor(theme.ink), max(1.6, size / 9)))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        points = [QPointF(box.x() + size * x, box.y() + size * y) for x, y in ((0.2, 0.52), (0.42, 0.75), (0.8, 0.25))]
        painter.drawPolyline(QPolygonF(points))
    elif kind in ("look", "bad"):
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.warning))
        points = [QPointF(box.x() + size * x, box.y() + size * y) for x, y in ((0.5, 0.2), (0.86, 0.82), (0.14, 0.82))]
        painter.drawPolygon(QPolygonF(points))
    elif kind == "unknown":
        font = painter.font()
        font.setBold(True)
        font.setPixelSize(max(8, round(size * 0.72)))
        painter.setFont(font)
        painter.setPen(QColor(theme.ink))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "?")


class StepRow(QAbstractButton):
    """One row; checkable, painted by hand so that the stamp is a box on any system."""

    def __init__(self, title: str, theme: Theme) -> None:
        super().__init__()
        self.setText(title)
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self.state = StepState("empty", "")
        self._theme = theme
        self._by_key = False
        self.compact = False

    def set_compact(self, compact: bool) -> None:
        """The number and the stamp alone, where the window is small; the tooltip and Alt have the name."""
        self.compact = compact
        self.set_state(self.state)
        self.updateGeometry()
        self.update()

    @property
    def words(self) -> str:
        """What is written in the row."""
        return self.text().split(" ")[0] if self.compact else self.text()

    def set_state(self, state: StepState) -> None:
        """Stamps the row."""
        self.state = state
        set_tip(self, f"{self.text()}. {state.why}" if self.compact else state.why)
        self.setAccessibleName(f"Step {self.text()}, {STAMP_WORDS[state.stamp]}")
        self.setAccessibleDescription(state.why)
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.updateGeometry()
        self.update()

    def focusInEvent(self, event: QFocusEvent) -> None:
        reasons = (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason, Qt.FocusReason.ShortcutFocusReason)
        self._by_key = event.reason() in reasons
        super().focusInEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        self._by_key = True
        super().keyPressEvent(event)

    def sizeHint(self) -> QSize:
        metrics = self.fontMetrics()
        bold = metrics.horizontalAdvance(self.words) * 1.15
        beside = 2.1 if self.compact else 3.2
        return QSize(int(bold + metrics.height() * beside), int(metrics.height() * 2.6))

    def minimumSizeHint(self) -> QSize:
        return QSize(self.sizeHint().width(), int(self.fontMetrics().height() * 1.7))

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self._theme
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            area = QRectF(self.rect())
            line = self.fontMetrics().height()
            if self.isChecked():
                painter.fillRect(area, QColor(theme.panel))
                painter.fillRect(QRectF(0, 0, 4, area.height()), QColor(theme.ink))
            elif self.underMouse():
                painter.fillRect(area, QColor(theme.paper))
            painter.setPen(QPen(QColor(theme.rule_strong), 1))
            painter.drawLine(area.bottomLeft(), area.bottomRight())
            font = self.font()
            font.setBold(self.isChecked())
            painter.setFont(font)
            faint = self.state.stamp == "empty" and not self.isChecked()
            painter.setPen(QColor(theme.muted if faint else theme.ink))
            text_area = area.adjusted(line * (0.4 if self.compact else 0.8), 0, -line * (1.2 if self.compact else 2), 0)
            painter.drawText(text_area, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, self.words)
            side = round(line * 1.05)
            box = QRectF(
                area.right() - side - line * (0.3 if self.compact else 0.5), area.center().y() - side / 2, side, side
            )
            dashed = Qt.PenStyle.DashLine if self.state.stamp == "unknown" else Qt.PenStyle.SolidLine
            painter.setPen(QPen(QColor(theme.rule_strong if self.state.stamp == "empty" else theme.ink), 1.5, dashed))
            painter.setBrush(QColor(theme.panel))
            painter.drawRect(box)
            draw_mark(painter, box, self.state.stamp, theme)
            if self.hasFocus() and self._by_key:
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(QPen(QColor(theme.ink), 2, Qt.PenStyle.DotLine))
                painter.drawRect(area.adjusted(6, 3, -3, -3))


class StepList(QFrame):
    """``wanted`` carries the page that was asked for; ``steps`` are their names and the rows that open them."""

    wanted = Signal(str)

    def __init__(self, steps: Sequence[tuple[str, ActionRow]], theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("steps")
        self.setAccessibleName("Steps")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        self.title = QLabel("Steps")
        self.title.setObjectName("stepsTitle")
        layout.addWidget(self.title)
        self.rows: dict[str, StepRow] = {}
        group = QButtonGroup(self)
        for name, opens in steps:
            row = StepRow(opens.text, theme)
            row.clicked.connect(lambda _checked=False, name=name: self.wanted.emit(name))
            row.setStatusTip(opens.hint)
            group.addButton(row)
            layout.addWidget(row)
            self.rows[name] = row
        layout.addStretch(1)

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        for row in self.rows.values():
            row.set_theme(theme)

    def set_compact(self, compact: bool) -> None:
        """Numbers and stamps alone."""
        self.title.setVisible(not compact)
        for row in self.rows.values():
            row.set_compact(compact)

    def set_current(self, name: str) -> None:
        """Marks the row of the page that is open."""
        self.rows[name].setChecked(True)
