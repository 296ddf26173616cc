"""A row of widgets that goes on in a next row where the first is full, so that large text breaks nothing."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class WrapRow(QLayout):
    """Left to right, then down; items keep the size they ask for."""

    def __init__(self, parent: QWidget | None = None, gap: int = 8) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self._gap = gap
        self.setContentsMargins(0, 0, 0, 0)

    def addItem(self, item: QLayoutItem) -> None:
        self._items.append(item)

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._place(QRect(0, 0, width, 0), False)

    def setGeometry(self, rect: QRect) -> None:
        super().setGeometry(rect)
        self._place(rect, True)

    def sizeHint(self) -> QSize:
        shown = [item.sizeHint() for item in self._items if not item.isEmpty()]
        width = sum(size.width() for size in shown) + self._gap * max(0, len(shown) - 1)
        return QSize(width, max((size.height() for size in shown), default=0))

    def minimumSize(self) -> QSize:
        shown = [item.minimumSize() for item in self._items if not item.isEmpty()]
        return QSize(
            max((size.width() for size in shown), default=0), max((size.height() for size in shown), default=0)
        )

    def _place(self, rect: QRect, move: bool) -> int:
        """Puts the items in their rows and returns the height of all of them."""
        rows: list[list[QLayoutItem]] = [[]]
        x = 0
        for item in self._items:
            if item.isEmpty():
                continue
            width = item.sizeHint().width()
            if rows[-1] and x + width > rect.width():
                rows.append([])
                x = 0
            rows[-1].append(item)
            x += width + self._gap
        y = rect.y()
        for row in rows:
            high = max((item.sizeHint().height() for item in row), default=0)
            x = rect.x()
            for item in row if move else ():
                size = item.sizeHint()
                width = min(size.width(), rect.width())
                item.setGeometry(QRect(QPoint(x, y + (high - size.height()) // 2), QSize(width, size.height())))
                x += width + self._gap
            y += high + (self._gap if row is not rows[-1] else 0)
        return y - rect.y()
