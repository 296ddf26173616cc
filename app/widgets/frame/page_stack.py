"""The pages, one above the other: the open one alone decides how little room they take."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QStackedWidget


class PageStack(QStackedWidget):
    """A page that is not open must not take room from what is shown below the open one."""

    def minimumSizeHint(self) -> QSize:
        page = self.currentWidget()
        return super().minimumSizeHint() if page is None else page.minimumSizeHint()
