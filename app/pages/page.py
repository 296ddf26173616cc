"""What every page of the window has in common."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QPushButton, QWidget

from app.model.actions import action
from app.model.page_context import PageContext
from app.widgets.controls.tip import set_tip

if TYPE_CHECKING:
    from app.case.record import Side
    from app.pages.compare_marks import CompareMarks
    from app.widgets.log.log_line import LineStrip

__all__ = ["Page", "PageContext"]


class Page(QWidget):
    """``refresh`` follows the session; ``said`` carries the line for the bottom of the window."""

    said = Signal(str)
    line_strip: LineStrip | None = None
    """Where the page has lines of the log written."""
    begun_marks: CompareMarks | None = None
    """Where the page has marks written."""

    def __init__(self, context: PageContext) -> None:
        super().__init__()
        self.setObjectName("page")
        self.context = context

    def refresh(self, what: str) -> None:
        """The session changed: "case", "comparison", "checkups" or "chosen"."""

    def retheme(self) -> None:
        """The theme or the text size changed; the context has the new ones."""

    def take_focus(self) -> None:
        """The page opens: what its keys belong to gets the focus."""
        wanted, tab = self.begins_at(), Qt.FocusPolicy.TabFocus
        if wanted is None or not wanted.isVisibleTo(self) or not wanted.isEnabledTo(self):
            able = (w for w in self.findChildren(QWidget) if (w.focusPolicy() & tab) == tab and w.isEnabledTo(self))
            wanted = next((w for w in able if w.isVisibleTo(self)), self)
        wanted.setFocus(Qt.FocusReason.OtherFocusReason)

    def begins_at(self) -> QWidget | None:
        """The part that has the focus when the page opens."""
        return None

    def show_drop(self, side: Side | None) -> None:
        """Files hang over that half of the window; None where they are gone again."""

    def status(self) -> str:
        """The line at the bottom of the window while this page is open."""
        return ""

    def own_actions(self) -> dict[str, Callable[[], None]]:
        """What this page does, by the names of the table of actions."""
        return {}

    def do(self, name: str) -> bool:
        """Does an action that belongs to this page; False where it has none of that name."""
        does = self.own_actions().get(name)
        if does is None:
            return False
        does()
        return True

    def button(self, name: str, text: str = "") -> QPushButton:
        """A button for a row of the table of actions."""
        row = action(name)
        made = QPushButton(text or row.text)
        set_tip(made, row.hint)
        made.setAccessibleName(row.text.replace("…", ""))
        made.clicked.connect(lambda: self.context.act(name))
        return made
