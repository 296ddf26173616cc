"""A button that stays pressed where it is chosen, bold then; it has room for its words either way."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtGui import QFont, QFontMetrics
from PySide6.QtWidgets import QPushButton

from app.widgets.controls.tip import set_tip


class PickButton(QPushButton):
    """One of several to choose from, or a thing to leave out."""

    def __init__(self, text: str, tip: str = "", checked: bool = False) -> None:
        super().__init__(text)
        self.setCheckable(True)
        self.setProperty("pick", True)
        self.setChecked(checked)
        set_tip(self, tip)

    def sizeHint(self) -> QSize:
        """As wide as its words are in bold, so that choosing it moves nothing and cuts nothing."""
        bold = QFont(self.font())
        bold.setBold(True)
        words = QFontMetrics(bold).horizontalAdvance(self.text())
        icon = 0 if self.icon().isNull() else self.iconSize().width() + 8
        hint = super().sizeHint()
        return hint.expandedTo(QSize(words + icon + round(1.4 * self.fontMetrics().height()), hint.height()))

    def minimumSizeHint(self) -> QSize:
        """Words are never cut."""
        return self.sizeHint()
