"""Signals with volts, the worst margin first: both sides' margins in figures and as a small drawing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem

from app.model.theme import LIGHT, Theme
from app.widgets.controls.signal_name import draw_signal_name, fixed_font, plain_font
from app.widgets.controls.tip import plain_tip
from app.widgets.controls.verdict_mark import draw_verdict
from tracecore.quantities import MINUS, format_volts

if TYPE_CHECKING:
    from tracecore.compare.signal_levels import SignalLevels
    from tracecore.measure.level_figures import LevelFigures

Index = QModelIndex | QPersistentModelIndex
TOP_V = 4.0


def margin_text(side: LevelFigures | None, *, low: bool) -> str:
    """A margin to a hundredth of a volt; "none" for a level never seen, a dash without volts."""
    if side is None:
        return "–"
    margin = side.low_margin_v if low else side.high_margin_v
    return "none" if margin is None else f"{margin:.2f}".replace("-", MINUS)


class LevelRows(QAbstractListModel):
    """One row a signal."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: Sequence[SignalLevels] = ()

    def set_rows(self, rows: Sequence[SignalLevels]) -> None:
        """Shows other signals."""
        self.beginResetModel()
        self.rows = tuple(rows)
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        row = self.rows[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return row.signal
        if role in (Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleTextRole):
            high, low = (
                f"{margin_text(row.good, low=which)} good, {margin_text(row.suspect, low=which)} suspect"
                for which in (False, True)
            )
            words = f"{row.signal} {row.place}, {row.verdict}. High margin {high}; low margin {low} V."
            return plain_tip(words) if role == Qt.ItemDataRole.ToolTipRole else words
        return None


class _Painter(QStyledItemDelegate):
    def __init__(self) -> None:
        super().__init__()
        self.theme: Theme = LIGHT
        self.scale = 1.0

    def px(self, size: float) -> float:
        return size * self.scale

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        return QSize(round(self.px(230)), round(self.px(58)))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row: SignalLevels = index.model().rows[index.row()]  # type: ignore[attr-defined]
        theme, px = self.theme, self.px
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        area = QRectF(option.rect)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        painter.fillRect(area, QColor(theme.tint if chosen else theme.paper))
        painter.setPen(QPen(QColor(theme.rule), 1))
        painter.drawLine(area.bottomLeft(), area.bottomRight())
        if chosen:
            painter.setPen(QPen(QColor(theme.ink), 2))
            painter.drawRect(area.adjusted(1, 1, -1, -1))
        left, top = area.x() + px(8), area.y()
        painter.setFont(plain_font(self.scale, 16, bold=True))
        painter.setPen(QColor(theme.ink))
        narrow, tiny = area.width() < px(226), area.width() < px(190)
        room = max(px(46), area.width() - px(36 if tiny else 160 if narrow else 204))
        draw_signal_name(painter, left, top + px(25), row.signal, row.active, room)
        painter.setFont(fixed_font(self.scale, 14))
        painter.setPen(QColor(theme.muted))
        painter.drawText(QPointF(left, top + px(46)), self._worst(row) if tiny else row.place)
        thumb = QRectF(area.right() - px(186), top + px(8), px(36), px(42))
        if not narrow:
            self._thumbnail(painter, thumb, row)
        if not tiny:
            self._figures(painter, QRectF(thumb.right() + px(6), top, px(104), px(58)), row)
        draw_verdict(painter, QRectF(area.right() - px(24), top + px(20), px(16), px(16)), row.verdict, theme)
        painter.restore()

    @staticmethod
    def _worst(row: SignalLevels) -> str:
        """What is left where there is no room for four figures: the smallest margin of the side that is judged."""
        judged = row.suspect or row.good
        margin = None if judged is None else judged.worst_margin_v
        return "none" if margin is None else format_volts(margin)

    def _thumbnail(self, painter: QPainter, box: QRectF, row: SignalLevels) -> None:
        theme = self.theme
        painter.fillRect(box, QColor(theme.panel))
        judged = row.suspect or row.good

        def y(volts: float) -> float:
            return box.bottom() - box.height() * min(max(volts, 0.0), TOP_V) / TOP_V

        if judged is not None:
            vil, vih = judged.receiver.vil_v, judged.receiver.vih_v
            painter.fillRect(QRectF(box.x(), y(vih), box.width(), y(vil) - y(vih)), QColor(theme.band_faint))
        painter.setPen(QPen(QColor(theme.rule_strong), 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(box)
        for share, side, colour, thick in ((0.32, row.good, theme.ink, 1.4), (0.68, row.suspect, theme.suspect, 2.4)):
            if side is None:
                continue
            x = box.x() + box.width() * share
            ends = [v for v in (side.low_v, side.high_v) if v is not None]
            painter.setPen(QPen(QColor(colour), thick))
            if len(ends) == 2:
                painter.drawLine(QPointF(x, y(ends[0])), QPointF(x, y(ends[1])))
            painter.setBrush(QColor(colour))
            painter.setPen(Qt.PenStyle.NoPen)
            for volts in ends:
                r = self.px(2.4)
                if side is row.good:
                    painter.drawEllipse(QPointF(x, y(volts)), r, r)
                else:
                    painter.drawRect(QRectF(x - r, y(volts) - r, 2 * r, 2 * r))

    def _figures(self, painter: QPainter, box: QRectF, row: SignalLevels) -> None:
        for k, (word, low) in enumerate((("high", False), ("low", True))):
            baseline = box.y() + self.px(24 + 21 * k)
            painter.setFont(plain_font(self.scale, 13))
            painter.setPen(QColor(self.theme.muted))
            painter.drawText(QPointF(box.x(), baseline), word)
            for column, side in ((0, row.good), (1, row.suspect)):
                text = margin_text(side, low=low)
                promised = None if side is None else (side.promised_low_v if low else side.promised_high_v)
                margin = None if side is None else (side.low_margin_v if low else side.high_margin_v)
                short = side is not None and (margin is None or (promised is not None and margin < promised))
                painter.setFont(plain_font(self.scale, 13, bold=short))
                painter.setPen(QColor(self.theme.ink))
                metrics = QFontMetricsF(painter.font())
                right = box.x() + self.px(68 + 46 * column)
                painter.drawText(QPointF(right - metrics.horizontalAdvance(text), baseline), text)


class LevelList(QListView):
    """``chosen`` carries the name of a signal."""

    chosen = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.rows = LevelRows()
        self.setModel(self.rows)
        self._delegate = _Painter()
        self.setItemDelegate(self._delegate)
        self.setAccessibleName("Signals in volts, worst margin first")
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.selectionModel().currentChanged.connect(self._on_current)

    def _on_current(self, index: QModelIndex) -> None:
        if index.isValid():
            self.chosen.emit(self.rows.rows[index.row()].signal)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self._delegate.theme, self._delegate.scale = theme, scale
        self.scheduleDelayedItemsLayout()
        self.viewport().update()

    def set_chosen(self, signal: str) -> None:
        """Marks a signal's row."""
        for k, row in enumerate(self.rows.rows):
            if row.signal == signal:
                self.setCurrentIndex(self.rows.index(k))
