"""Agreement of each signal over the matched cycles; what does not judge is hatched and says why."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen, QResizeEvent

from app.model.lineup_words import SignalShare
from app.model.theme import Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.signal_name import draw_signal_name, plain_font
from app.widgets.lineup.lineup_paper import Drawing, hatch
from tracecore.quantities import percent


class LineupSignals(Drawing):
    """Names with bars, in as many columns as there is room for."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: Sequence[SignalShare] = ()
        self.setAccessibleName("Agreement per signal")

    def set_rows(self, rows: Sequence[SignalShare]) -> None:
        """Shows other signals, in this order."""
        self.rows = rows
        said = [f"{r.name} {r.why_not or percent(r.share or 0)}" for r in rows]
        self.setAccessibleDescription(", ".join(said))
        self.setFixedHeight(self.heightForWidth(self.width()))
        self.update()

    def hasHeightForWidth(self) -> bool:
        return True

    def _columns(self, width: int) -> int:
        return max(1, min(2, int(width // self.px(225))))

    def heightForWidth(self, width: int) -> int:
        return round(max(1, -(-len(self.rows) // self._columns(width))) * self.px(23) + self.px(4))

    def sizeHint(self) -> QSize:
        return QSize(300, self.heightForWidth(self.width()))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, round(self.px(24)))

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        super().set_theme(theme, scale)
        self.setFixedHeight(self.heightForWidth(self.width()))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        wanted = self.heightForWidth(self.width())
        if self.height() != wanted:
            self.setFixedHeight(wanted)

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            columns = self._columns(self.width())
            count = -(-len(self.rows) // columns)
            wide = (self.width() - (columns - 1) * self.px(18)) / columns
            for i, row in enumerate(self.rows):
                column, line = divmod(i, max(1, count))
                self._row(painter, row, QRectF(column * (wide + self.px(18)), line * self.px(23), wide, self.px(23)))

    def _row(self, painter: QPainter, row: SignalShare, area: QRectF) -> None:
        theme = self.theme
        differs = row.share is not None and row.share < 0.999 and not row.why_not
        font = plain_font(self.scale, bold=differs)
        painter.setFont(font)
        painter.setPen(QColor(theme.ink))
        name_px = min(self.px(86), area.width() * 0.36)
        metrics = QFontMetricsF(font)
        baseline = area.center().y() + (metrics.ascent() - metrics.descent()) / 2
        draw_signal_name(painter, area.left(), baseline, row.name, row.active, name_px)
        text = "not used" if row.why_not else percent(row.share or 0.0)
        text_px = self.px(66)
        bar = QRectF(area.left() + name_px + self.px(6), area.center().y() - self.px(5), 0, self.px(10))
        bar.setWidth(max(self.px(10), area.right() - text_px - self.px(8) - bar.left()))
        if row.why_not:
            hatch(painter, bar, theme.muted, self.px(5))
        elif row.share is not None:
            full = QRectF(bar.left(), bar.top(), bar.width() * row.share, bar.height())
            painter.fillRect(full, QColor(theme.muted))
            hatch(painter, QRectF(full.right(), bar.top(), bar.right() - full.right(), bar.height()), theme.suspect)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(theme.suspect if differs else theme.rule_strong), 1))
        painter.drawRect(bar)
        colour = theme.muted if row.why_not else (theme.suspect_text if differs else theme.ink)
        where = QRectF(area.right() - text_px, area.top(), text_px, area.height())
        self.words(painter, where, text, colour, bold=differs, right=True)
