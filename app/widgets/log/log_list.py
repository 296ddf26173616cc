"""The timeline: entries oldest first, a ruled margin column with the shape of each kind at the left."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRect,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeyEvent, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QFrame, QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem

from app.model.log_lines import LogLine
from app.model.theme import Theme
from app.widgets.controls.tip import plain_tip
from app.widgets.log.log_shape import draw_shape

Index = QModelIndex | QPersistentModelIndex
LINE_ROLE = Qt.ItemDataRole.UserRole
MOST_TEXT_LINES = 2
LETTERS: dict[int, str] = {Qt.Key.Key_N: "new_line", Qt.Key.Key_C: "correct_line", Qt.Key.Key_G: "go_to_mark"}
"""Single letters act only while the list has the focus."""


class LogModel(QAbstractListModel):
    """The lines of the log."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: tuple[LogLine, ...] = ()

    def set_lines(self, lines: Sequence[LogLine]) -> None:
        """Shows other lines."""
        self.beginResetModel()
        self.lines = tuple(lines)
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.lines)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        line = self.lines[index.row()]
        if role == LINE_ROLE:
            return line
        if role == Qt.ItemDataRole.DisplayRole:
            return line.entry.text
        if role in (Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.ToolTipRole):
            return plain_tip(line.spoken) if role == Qt.ItemDataRole.ToolTipRole else line.spoken
        return None


class LineDelegate(QStyledItemDelegate):
    """Paints one line: shape, double rule, kind and signature, and below them the text, struck where put right."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.theme = theme
        self._heights: dict[tuple[object, ...], int] = {}

    def forget(self) -> None:
        """Heights are worked out anew."""
        self._heights.clear()

    def _margin(self, metrics: QFontMetrics) -> int:
        return round(metrics.height() * 2.2)

    def _fonts(self, base: QFont, line: LogLine, chosen: bool) -> tuple[QFont, QFont]:
        """For the signature and for the text."""
        small, text = QFont(base), QFont(base)
        text.setBold(chosen)
        text.setStrikeOut(line.corrected_by is not None)
        return small, text

    def _text_area(self, area: QRect, metrics: QFontMetrics) -> QRect:
        gap = round(metrics.height() * 0.35)
        left = self._margin(metrics) + round(metrics.height() * 0.8)
        return area.adjusted(left, gap + metrics.height() + gap // 2, -gap, -gap)

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        # what the style sheet sets is the view's font; an option made for a hint may not have it yet
        view = option.widget if isinstance(option.widget, QListView) else None
        font = view.font() if view is not None else option.font
        width = view.viewport().width() if view is not None else option.rect.width()
        chosen = view is not None and view.currentIndex() == index
        line: LogLine = index.data(LINE_ROLE)
        key = (line.entry.text, line.entry.kind, signature(line), width, chosen, font.key())
        if key not in self._heights:
            self._heights[key] = self._height(line, font, width, chosen)
        return QSize(width, self._heights[key])

    def _height(self, line: LogLine, font: QFont, width: int, chosen: bool) -> int:
        metrics = QFontMetrics(self._fonts(font, line, chosen)[1])
        area = self._text_area(QRect(0, 0, max(width, 100), 1000), metrics)
        rows = len(wrapped(line.entry.text, metrics, area.width()))
        rows += self._signed_from(font, line, area.width()) is None
        gap = round(metrics.height() * 0.35)
        return metrics.height() + rows * metrics.lineSpacing() + 2 * gap + gap // 2 + 1

    def _signed_from(self, base: QFont, line: LogLine, width: int) -> int | None:
        """Where in the head the signature begins; None where it needs a row of its own."""
        bold = QFont(base)
        bold.setBold(True)
        gap = round(QFontMetrics(base).height() * 0.7)
        needed = QFontMetrics(base).horizontalAdvance(signature(line))
        for word in ("suspected", line.entry.kind):
            start = QFontMetrics(bold).horizontalAdvance(word) + gap
            if start + needed <= width:
                return start
        return None

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        line: LogLine = index.data(LINE_ROLE)
        theme, area = self.theme, option.rect
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        font = option.widget.font() if option.widget is not None else option.font
        metrics = QFontMetrics(font)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        margin = self._margin(metrics)
        painter.fillRect(QRect(area.x(), area.y(), margin, area.height()), QColor(theme.panel))
        if chosen:
            painter.fillRect(area, QColor(theme.tint))
        size = metrics.height() * 0.82
        box = QRectF(area.x() + (margin - size) / 2, area.center().y() - size / 2, size, size)
        draw_shape(painter, box, line.shape, theme, theme.tint if chosen else "")
        self._rules(painter, area, margin, theme)
        self._words(painter, area, font, line, chosen)
        if chosen:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(theme.ink), 2))
            painter.drawRect(QRectF(area).adjusted(1, 1, -1, -1))
            if option.state & QStyle.StateFlag.State_HasFocus:
                painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DotLine))
                painter.drawRect(QRectF(area).adjusted(4, 4, -4, -4))
        painter.restore()

    def _rules(self, painter: QPainter, area: QRect, margin: int, theme: Theme) -> None:
        painter.setPen(QPen(QColor(theme.muted), 1))
        for x in (margin + 0.5, margin + 3.5):
            painter.drawLine(QPointF(area.x() + x, area.top()), QPointF(area.x() + x, area.bottom() + 1))
        painter.setPen(QPen(QColor(theme.rule_strong), 1))
        y = area.bottom() + 0.5
        painter.drawLine(QPointF(area.left(), y), QPointF(area.right(), y))

    def _words(self, painter: QPainter, area: QRect, base: QFont, line: LogLine, chosen: bool) -> None:
        small, text = self._fonts(base, line, chosen)
        metrics = QFontMetrics(text)
        below = self._text_area(area, metrics)
        gap = round(metrics.height() * 0.35)
        head = QRect(below.x(), area.y() + gap, below.width(), metrics.height())
        bold = QFont(small)
        bold.setBold(True)
        painter.setFont(bold)
        painter.setPen(QColor(self.theme.ink))
        painter.drawText(head, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), line.entry.kind)
        start = self._signed_from(base, line, below.width())
        room = head.adjusted(start or 0, 0, 0, 0)
        if start is None:
            room.translate(0, metrics.lineSpacing())
            below.translate(0, metrics.lineSpacing())
        painter.setFont(small)
        painter.setPen(QColor(self.theme.muted))
        signed = QFontMetrics(small).elidedText(signature(line), Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), signed)
        painter.setFont(text)
        painter.setPen(QColor(self.theme.muted if line.corrected_by is not None else self.theme.ink))
        for i, words in enumerate(wrapped(line.entry.text, metrics, below.width())):
            y = below.y() + i * metrics.lineSpacing()
            painter.drawText(QRect(below.x(), y, below.width(), metrics.height()), 0, words)


def signature(line: LogLine) -> str:
    """When and by whom, and which line puts which right."""
    if line.corrected_by is not None:
        return f"{line.signed} · put right by entry {line.corrected_by}"
    return line.signed if line.entry.corrects is None else f"{line.signed} · puts entry {line.entry.corrects} right"


def wrapped(text: str, metrics: QFontMetrics, width: int) -> list[str]:
    """The text in at most ``MOST_TEXT_LINES`` lines, the last one cut with an ellipsis."""
    words, lines = text.split(), [""]
    while words:
        longer = f"{lines[-1]} {words[0]}".strip()
        if lines[-1] and metrics.horizontalAdvance(longer) > width - 4:
            if len(lines) == MOST_TEXT_LINES:
                break
            lines.append("")
            continue
        lines[-1] = longer
        words.pop(0)
    lines[-1] = metrics.elidedText(" ".join([lines[-1], *words]), Qt.TextElideMode.ElideRight, width)
    return [metrics.elidedText(line, Qt.TextElideMode.ElideRight, width) for line in lines]


class LogList(QListView):
    """``chosen`` carries an entry's number, ``asked`` an action's name; Enter is ``entered``."""

    chosen = Signal(int)
    asked = Signal(str)
    entered = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.setObjectName("logList")
        self.setAccessibleName("Repair log, oldest first")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.lines = LogModel()
        self.setModel(self.lines)
        self._delegate = LineDelegate(theme)
        self.setItemDelegate(self._delegate)
        self._filling = False
        self.selectionModel().currentChanged.connect(self._on_current)

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours, and the new text size."""
        self._delegate.theme = theme
        self._delegate.forget()
        self.scheduleDelayedItemsLayout()
        self.viewport().update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # a scroll bar that came or went changed the width in which the texts are broken
        self.scheduleDelayedItemsLayout()

    def show_lines(self, lines: Sequence[LogLine], number: int | None) -> None:
        """Shows the lines; the one of that number is chosen and in sight."""
        self._filling = True
        if tuple(lines) != self.lines.lines:
            self.lines.set_lines(lines)
        for row, line in enumerate(self.lines.lines):
            if line.entry.id == number and self.currentIndex().row() != row:
                self.setCurrentIndex(self.lines.index(row))
        self._filling = False
        self.executeDelayedItemsLayout()
        self.scrollTo(self.currentIndex())

    def _on_current(self, current: QModelIndex, _before: QModelIndex) -> None:
        # the chosen line is bold and may take a row more
        self.scheduleDelayedItemsLayout()
        if current.isValid() and not self._filling:
            self.chosen.emit(self.lines.lines[current.row()].entry.id)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.modifiers() == Qt.KeyboardModifier.NoModifier and event.key() in LETTERS:
            self.asked.emit(LETTERS[event.key()])
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.entered.emit()
        else:
            super().keyPressEvent(event)
