"""The first lines of a file as they are, numbered; the cell that an error names stands out."""

from __future__ import annotations

from PySide6.QtGui import QColor, QTextCursor, QTextFormat
from PySide6.QtWidgets import QPlainTextEdit, QTextEdit

from app.model.import_preview import Preview
from app.model.theme import Theme
from app.widgets.controls.signal_name import fixed_font


class RawLines(QPlainTextEdit):
    """Read only; ``▸`` stands before the first row of data, ``…`` where lines are left out."""

    def __init__(self, theme: Theme, scale: float) -> None:
        super().__init__()
        self._theme = theme
        self.setReadOnly(True)
        self.setTabChangesFocus(True)
        self.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.setFont(fixed_font(scale, 14))
        # the window's style sheet sets a size for every widget, which would win over the font
        self.setStyleSheet(f"font-family: '{self.font().family()}'; font-size: {round(14 * scale)}px;")
        self.setAccessibleName("First lines of the file")
        self.setMinimumHeight(round(self.fontMetrics().height() * 4.6))

    def show_preview(self, found: Preview) -> None:
        """Shows the lines, and the place that is wrong."""
        digits = max((len(str(line.number)) for line in found.lines), default=1)
        rows, before, places = [], 0, {}
        for line in found.lines:
            if line.number > before + 1:
                rows.append("…")
            sign = "▸" if line.number == found.first_row else " "
            places[line.number] = len(rows)
            rows.append(f"{sign}{line.number:>{digits}}  {line.text}")
            before = line.number
        self.setPlainText("\n".join(rows))
        self.setExtraSelections([])
        if found.mark is not None and found.mark.line in places:
            ahead = digits + 3
            self._mark(places[found.mark.line], found.mark.start + ahead, found.mark.stop + ahead)

    def _mark(self, row: int, start: int, stop: int) -> None:
        block = self.document().findBlockByNumber(row)
        line, cell = QTextEdit.ExtraSelection(), QTextEdit.ExtraSelection()
        line.cursor = QTextCursor(block)
        line.format.setBackground(QColor(self._theme.band))
        line.format.setProperty(QTextFormat.Property.FullWidthSelection, True)
        cell.cursor = QTextCursor(block)
        cell.cursor.setPosition(block.position() + min(start, block.length() - 1))
        cell.cursor.setPosition(block.position() + min(stop, block.length() - 1), QTextCursor.MoveMode.KeepAnchor)
        cell.format.setBackground(QColor(self._theme.ink))
        cell.format.setForeground(QColor(self._theme.panel))
        self.setExtraSelections([line, cell])
        at = QTextCursor(block)
        self.setTextCursor(at)
        self.centerCursor()

    def marked_text(self) -> str:
        """The text of the cell that stands out; empty where none does."""
        chosen = self.extraSelections()
        return chosen[-1].cursor.selectedText() if chosen else ""
