"""Files dropped on the window: the half of the window decides the side."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtGui import QDragEnterEvent, QDragLeaveEvent, QDragMoveEvent, QDropEvent

from app.case.record import SIDE_WORDS, Side
from app.case.store import SUFFIX
from app.model.capture_files import files_of
from app.shell.frame import Frame


class DropFrame(Frame):
    """The part of the window that takes files."""

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        event.acceptProposedAction()
        side = self.side_at(event.position().x())
        self.say(f"Let go here for {SIDE_WORDS[side].lower()} captures")
        self._show_drop(side)

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        self._show_drop(None)
        self.say(self.pages[self.current].status())

    def _show_drop(self, side: Side | None) -> None:
        page = self.pages.get(self.current)
        if page is not None:
            page.show_drop(side)

    def dropEvent(self, event: QDropEvent) -> None:
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        event.acceptProposedAction()
        self._show_drop(None)
        cases = [path for path in paths if path.suffix == SUFFIX]
        if cases:
            self.open_file(cases[0])
            return
        self.files.open_files(self.side_at(event.position().x()), files_of(paths))

    def side_at(self, x: float) -> Side:
        """The half of the window decides the side."""
        return "good" if x < self.width() / 2 else "suspect"
