"""After writing: where the file is, and what one does with it next: open it, show its folder, print it."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QUrl, Signal
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow


def printable(path: Path) -> Path | None:
    """The PDF that is printed for what was written: the file itself, or the one in the folder beside it."""
    if path.suffix.lower() == ".pdf":
        return path
    beside = sorted(path.parent.glob("*.pdf")) if path.suffix.lower() == ".html" else []
    return beside[0] if beside else None


class WrittenLine(QFrame):
    """Hidden until something was written. ``print_wanted`` carries the PDF, ``closed`` tells that it was sent away.

    ``wide``: words and buttons share one line; else the buttons stand below the words.
    """

    print_wanted = Signal(object)
    closed = Signal()

    def __init__(self, parent: QWidget | None = None, *, wide: bool = False) -> None:
        super().__init__(parent)
        self.setObjectName("lineStrip")
        self.setAccessibleName("Written")
        self.path = Path()
        parts = QHBoxLayout(self) if wide else QVBoxLayout(self)
        parts.setContentsMargins(14, 6, 10, 6)
        parts.setSpacing(10 if wide else 4)
        self.words = ElidedLabel("", "strong")
        parts.addWidget(self.words, 1)
        row: QHBoxLayout | WrapRow = QHBoxLayout() if wide else WrapRow()
        self.open_button = self._button(row, "Open", "Open it with the program that belongs to it", self._open)
        self.folder_button = self._button(row, "Show folder", "Open the folder that it is in", self._show_folder)
        self.print_button = self._button(row, "Print…", "Choose a printer", self._print)
        self.close_button = self._button(row, "Close", "Close this line; the file stays", self._close)
        parts.addLayout(row)
        self.hide()

    def _button(self, row: QHBoxLayout | WrapRow, text: str, tip: str, does: object) -> QPushButton:
        made = QPushButton(text)
        made.setProperty("small", True)
        made.setAutoDefault(False)
        set_tip(made, tip)
        made.clicked.connect(lambda: does())  # type: ignore[operator]
        row.addWidget(made)
        return made

    def tell(self, path: Path) -> None:
        """Shows what was written."""
        self.path = path
        self.words.setText(f"Written: {path}")
        self.print_button.setVisible(printable(path) is not None)
        self.show()

    def _open(self) -> None:
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.path)))

    def _show_folder(self) -> None:
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.path.parent)))

    def _print(self) -> None:
        found = printable(self.path)
        if found is not None:
            self.print_wanted.emit(found)

    def _close(self) -> None:
        self.hide()
        self.closed.emit()
