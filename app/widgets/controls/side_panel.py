"""A panel at the right that folds to its title, by hand or where room is short."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QFrame, QHBoxLayout, QToolButton, QVBoxLayout, QWidget

from app.model.theme import Theme
from app.widgets.controls.label import label
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip


class FoldedTitle(QAbstractButton):
    """The title of a folded panel, written from top to bottom; a press opens the panel."""

    def __init__(self, title: str, theme: Theme) -> None:
        super().__init__()
        self.setText(title)
        set_tip(self, f"Open {title}")
        self.setAccessibleName(f"Open {title}")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._theme = theme

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.update()

    def sizeHint(self) -> QSize:
        bold = QFont(self.font())
        bold.setBold(True)
        metrics = QFontMetrics(bold)
        return QSize(metrics.height() * 2, metrics.horizontalAdvance(f"{self.text()}  ◂") + 40)

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            font = self.font()
            font.setBold(True)
            painter.setFont(font)
            painter.setPen(QColor(self._theme.ink))
            if self.hasFocus():
                painter.setPen(QPen(QColor(self._theme.ink), 2, Qt.PenStyle.DotLine))
                painter.drawRect(self.rect().adjusted(3, 3, -3, -3))
            painter.translate(self.width(), 0)
            painter.rotate(90)
            area = QRectF(16, 0, self.height() - 20, self.width())
            painter.drawText(area, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, self.text() + "  ◂")


class SidePanel(QFrame):
    """``body`` is the layout to fill. ``folded`` carries whether it is folded now."""

    folded = Signal(bool)

    def __init__(self, title: str, subtitle: str, theme: Theme, *, leaves: bool = False) -> None:
        """``leaves``: folded it is not there at all, since the page has a line in its place."""
        super().__init__()
        self._leaves = leaves
        self.setObjectName("sidePanel")
        outer = QHBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        self.title = FoldedTitle(title, theme)
        self.title.clicked.connect(lambda: self.fold(False, by_hand=True))
        outer.addWidget(self.title)
        self._open = QWidget()
        self.body = QVBoxLayout(self._open)
        self.body.setContentsMargins(18, 12, 10, 12)
        self.body.setSpacing(6)
        head = QHBoxLayout()
        head.addWidget(label(title, "heading", wrap=False), 1)
        closer = QToolButton()
        closer.setText("▸")
        closer.setAutoRaise(True)
        set_tip(closer, f"Fold {title} to its title")
        closer.setAccessibleName(f"Fold {title}")
        closer.clicked.connect(lambda: self.fold(True, by_hand=True))
        head.addWidget(closer)
        self.body.addLayout(head)
        self.subtitle = label(subtitle, "muted")
        self.body.addWidget(self.subtitle)
        outer.addWidget(self._open, 1)
        self.is_folded = False
        self._by_hand = False
        self.set_scale(theme, 1.0)
        self.fold(False)

    def set_scale(self, theme: Theme, scale: float) -> None:
        """Takes colours and size."""
        self._scale = scale
        self.title.set_theme(theme)
        self._size()

    def fold(self, folded: bool, by_hand: bool = False) -> None:
        """Folds or opens; what a person chose by hand stays."""
        if self._by_hand and not by_hand:
            return
        self._by_hand = by_hand
        self.is_folded = folded
        self._open.setVisible(not folded)
        self.title.setVisible(folded)
        if self._leaves:
            self.setVisible(not folded)
        self._size()
        self.folded.emit(folded)

    def _size(self) -> None:
        self.setFixedWidth(round((34 if self.is_folded else self.open_width / self._scale) * self._scale))

    @property
    def open_width(self) -> int:
        """Width while open, in pixels."""
        return round(356 * self._scale)
