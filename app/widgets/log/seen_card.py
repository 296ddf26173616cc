"""Earlier cases: one that is alike, with its points and why; or one that a search found, with the reasons."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QPointF, QSize, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QFrame, QGridLayout, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from app.case.dates import MONTHS
from app.case.seen_before import Hit, SeenCase
from app.model.theme import Theme
from app.widgets.controls.label import label
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow


class PointMark(QWidget):
    """Filled where a point is alike, a ring where it is not."""

    def __init__(self, alike: bool, theme: Theme) -> None:
        super().__init__()
        self._alike, self._theme = alike, theme
        self.setAccessibleName("alike" if alike else "not alike")
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        line = self.fontMetrics().height()
        return QSize(line, line)

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(QColor(self._theme.ink), 1.6))
            if self._alike:
                painter.setBrush(QColor(self._theme.ink))
            radius = self.width() * 0.26
            painter.drawEllipse(QPointF(self.width() / 2, self.height() / 2), radius, radius)


class CaseCard(QFrame):
    """What the two kinds of card have in common. ``open_wanted`` carries the case's path."""

    open_wanted = Signal(object)

    def __init__(self, named: str, facts: str, path: Path) -> None:
        super().__init__()
        self.setObjectName("card")
        self.setAccessibleName(named)
        self.down = QVBoxLayout(self)
        self.down.setContentsMargins(12, 9, 12, 9)
        self.down.setSpacing(5)
        self.down.addWidget(label(named, "strong"))
        self.down.addWidget(label(facts, "muted"))
        self._path = path

    def buttons(self, *more: QPushButton) -> None:
        """Open case, and what else can be done."""
        self.open_button = QPushButton("Open case")
        set_tip(self.open_button, f"Open {self._path}; the open case is kept")
        self.open_button.clicked.connect(lambda: self.open_wanted.emit(self._path))
        area = QWidget()
        row = WrapRow(area)
        for button in (self.open_button, *more):
            button.setProperty("small", True)
            row.addWidget(button)
        self.down.addWidget(area)


class SeenCard(CaseCard):
    """``unlike_wanted`` carries the identity of a case that is not alike after all."""

    unlike_wanted = Signal(str)

    def __init__(self, seen: SeenCase, theme: Theme) -> None:
        super().__init__(seen.named, f"{month_words(seen.opened_at)} · {seen.ended}", seen.path)
        self.down.addWidget(label(f"alike in {seen.alike} of {len(seen.points)} points", "muted"))
        points = QGridLayout()
        points.setColumnStretch(1, 1)
        points.setVerticalSpacing(3)
        for row, point in enumerate(seen.points):
            points.addWidget(PointMark(point.alike, theme), row, 0)
            points.addWidget(label(point.words), row, 1)
        self.down.addLayout(points)
        self.unlike_button = QPushButton("Not alike")
        self.unlike_button.setToolTip("Do not offer that case for this one again; undo takes it back")
        self.unlike_button.clicked.connect(lambda: self.unlike_wanted.emit(seen.identity))
        self.buttons(self.unlike_button)


class HitCard(CaseCard):
    """A case that a search found."""

    def __init__(self, hit: Hit) -> None:
        super().__init__(hit.named, f"{month_words(hit.opened_at)} · {hit.state}", hit.path)
        for reason in hit.reasons:
            self.down.addWidget(label(reason if len(reason) < 120 else reason[:119] + "…"))
        self.buttons()


def month_words(at: str) -> str:
    """Month and year of an ISO 8601 time.

    >>> month_words("2024-11-02T10:00:00+01:00")
    'Nov 2024'
    """
    year, _, rest = at.partition("-")
    month = rest[:2]
    return f"{MONTHS[int(month) - 1]} {year}" if month.isdecimal() and 1 <= int(month) <= 12 else at
