"""The sheets that Help shows: the guide, the keys, the cautions."""

from __future__ import annotations

from html import escape
from importlib.resources import files

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from app.help.notices import notices_guide
from app.model.actions import ActionRow, key_sheet
from app.report.cautions import CAUTIONS


def sheet(parent: QWidget, title: str) -> tuple[QDialog, QTextBrowser]:
    """An empty sheet with a Close button; it does not block the window."""
    dialog = QDialog(parent)
    dialog.setWindowTitle(title)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.resize(min(820, parent.width() - 80), min(640, parent.height() - 80))
    layout = QVBoxLayout(dialog)
    text = QTextBrowser()
    text.setOpenExternalLinks(False)
    text.setAccessibleName(title)
    layout.addWidget(text)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    buttons.rejected.connect(dialog.close)
    layout.addWidget(buttons)
    return dialog, text


def guide(parent: QWidget) -> QDialog:
    """The user's guide."""
    dialog, text = sheet(parent, "Guide")
    words = files("app.help").joinpath("guide.md").read_text("utf-8")
    text.setMarkdown(f"{words}\n\n{notices_guide()}")
    return dialog


def keys(parent: QWidget, steps: tuple[ActionRow, ...]) -> QDialog:
    """All keys, from the table of actions and the rows of the steps."""
    dialog, text = sheet(parent, "Keys")
    text.setHtml(key_sheet(steps))
    return dialog


CAUTION_HEAD = (
    "Reminders only, and not complete. Local codes, the maker's service manual and licensed or otherwise "
    "qualified persons come first. Nothing in this program says that a step is safe."
)


def cautions(parent: QWidget) -> QDialog:
    """Reminders for work in an old cabinet; shown on the first start and from the menu."""
    dialog, text = sheet(parent, "Cautions")
    rows = "".join(f"<li style='margin-bottom:6px'>{escape(row)}</li>" for row in CAUTIONS)
    text.setHtml(f"<p><b>{escape(CAUTION_HEAD)}</b></p><ul>{rows}</ul>")
    return dialog
