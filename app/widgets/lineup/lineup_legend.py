"""The marks of the strip with their words and counts."""

from __future__ import annotations

from typing import get_args

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.wrap_row import WrapRow
from app.widgets.lineup.lineup_paper import Drawing, hatch
from tracecore.lineup.coverage import Coverage
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.slips import SlipKind
from tracecore.quantities import group_digits


class LegendItem(Drawing):
    """A mark, a bold word, and a count."""

    def __init__(self, kind: str, word: str, count: str) -> None:
        super().__init__()
        self.kind, self.word, self.count = kind, word, count
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(f"{word} {count}")

    def sizeHint(self) -> QSize:
        wide = self.metrics(bold=True).horizontalAdvance(self.word) + self.metrics().horizontalAdvance(self.count)
        return QSize(round(wide + self.px(42)), round(self.px(23)))

    def minimumSizeHint(self) -> QSize:
        return QSize(round(self.px(60)), self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self.theme
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            middle = self.height() / 2
            box = QRectF(1, middle - self.px(6), self.px(18), self.px(12))
            self._mark(painter, box)
            left, wide = self.px(25), self.metrics(bold=True).horizontalAdvance(self.word)
            self.words(painter, QRectF(left, 0, wide, self.height()), self.word, theme.ink, bold=True)
            left += wide + self.px(6)
            self.words(painter, QRectF(left, 0, self.width() - left, self.height()), self.count, theme.muted)

    def _mark(self, painter: QPainter, box: QRectF) -> None:
        theme = self.theme
        if self.kind == "matched":
            for y, colour, thick in ((box.top() + 2, theme.good, 1.6), (box.bottom() - 2, theme.suspect, 2.8)):
                painter.setPen(QPen(QColor(colour), self.px(thick)))
                painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
            return
        painter.setBrush(Qt.BrushStyle.NoBrush)
        half = box.height() / 2
        if self.kind == "inserted":
            painter.fillRect(QRectF(box.center().x() - 3, box.bottom() - half, 7, half), QColor(theme.suspect))
        elif self.kind == "missing":
            painter.fillRect(QRectF(box.center().x() - 3, box.top(), 7, half), QColor(theme.good))
        elif self.kind == "diverged":
            hatch(painter, box, theme.suspect)
        elif self.kind == "unsure":
            painter.setPen(QPen(QColor(theme.suspect), 1, Qt.PenStyle.DashLine))
            painter.drawRect(box)
            return
        else:
            painter.setPen(QPen(QColor(theme.muted), 1))
            painter.drawLine(box.bottomLeft(), box.topRight())
        painter.setPen(QPen(QColor(theme.suspect if self.kind == "diverged" else theme.muted), 1))
        painter.drawRect(box)


class LineupLegend(QWidget):
    """Only kinds that occur are listed."""

    def __init__(self) -> None:
        super().__init__()
        self._row = WrapRow(self, 16)
        self._theme: Theme = LIGHT
        self._scale = 1.0
        self.items: list[LegendItem] = []

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        for item in self.items:
            item.set_theme(theme, scale)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """As high as its rows are at this width."""
        self.setFixedHeight(max(1, self._row.heightForWidth(self.width())))

    def set_coverage(self, lineup: Lineup, cover: Coverage) -> None:
        """Lists the kinds of cycles of another line-up."""
        for item in self.items:
            self._row.removeWidget(item)
            item.deleteLater()
        self.items = []
        good, suspect = cover
        kinds = {kind: sum(s.kind == kind for s in lineup.slips) for kind in get_args(SlipKind)}
        rows = [("matched", "matched", group_digits(good.matched), good.matched > 0)]
        places = {k: f"in {group_digits(n)} place{'' if n == 1 else 's'}" for k, n in kinds.items()}
        rows.append(
            ("inserted", "inserted", f"{group_digits(suspect.slipped)} {places['inserted']}", kinds["inserted"] > 0)
        )
        rows.append(("missing", "missing", f"{group_digits(good.slipped)} {places['missing']}", kinds["missing"] > 0))
        apart = f"{group_digits(good.diverged)} against {group_digits(suspect.diverged)} {places['diverged']}"
        rows.append(("diverged", "diverged", apart, kinds["diverged"] > 0))
        unsure = f"{group_digits(good.unsure)} against {group_digits(suspect.unsure)} {places['unsure']}"
        rows.append(("unsure", "unsure", unsure, kinds["unsure"] > 0))
        alone = f"{group_digits(good.outside)} good, {group_digits(suspect.outside)} suspect"
        rows.append(("alone", "no partner", alone, good.outside + suspect.outside > 0))
        for kind, word, count, there in rows:
            if there:
                item = LegendItem(kind, word, count)
                item.set_theme(self._theme, self._scale)
                self._row.addWidget(item)
                item.show()  # what is hidden yet counts no height
                self.items.append(item)
        self._fit()
