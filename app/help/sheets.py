"""The sheets that Help shows: the guide, the keys, the cautions."""

from __future__ import annotations

import platform
from html import escape
from importlib.resources import files

from PySide6.QtCore import QSize, Qt, QUrl, qVersion
from PySide6.QtGui import QTextCursor, QTextDocument, QTextFormat
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from app import __version__
from app.model.actions import ActionRow, key_sheet
from app.report.cautions import CAUTIONS

LETTERS, AROUND = 96, QSize(40, 80)
"""Width of a sheet, in letters of its text, and what stays of the window around it, in pixels."""

GUIDE = "guide.md"
_SIZES = (QTextFormat.Property.FontPointSize, QTextFormat.Property.FontPixelSize)
_COLOURS = (QTextFormat.Property.ForegroundBrush,)


class Pages(QTextBrowser):
    """Pages of this folder that link to one another."""

    def __init__(self) -> None:
        super().__init__()
        self.sourceChanged.connect(lambda _url: self._even_letters())

    def _even_letters(self) -> None:
        """What is to be typed is as large as the text around it, and a link is ink with a line below it.

        Markdown gives the one a size that follows nothing, the other a colour that belongs to no theme.
        """
        document = self.document()
        block = document.begin()
        while block.isValid():
            parts = block.begin()
            while not parts.atEnd():
                part = parts.fragment()
                form = part.charFormat()
                if form.fontFixedPitch() or form.isAnchor():
                    for own in _SIZES if form.fontFixedPitch() else _COLOURS:
                        form.clearProperty(own)
                    form.setFontUnderline(form.isAnchor())
                    cursor = QTextCursor(document)
                    cursor.setPosition(part.position())
                    cursor.setPosition(part.position() + part.length(), QTextCursor.MoveMode.KeepAnchor)
                    cursor.setCharFormat(form)
                    # the change may split or join the parts
                    parts = block.begin()
                    while not parts.atEnd() and parts.fragment().position() <= cursor.selectionStart():
                        parts += 1
                    continue
                parts += 1
            block = block.next()

    def loadResource(self, kind: int, name: QUrl | str) -> object:
        page = QUrl(name).fileName()
        if not page.endswith(".md"):
            return super().loadResource(kind, name)
        return files("app.help").joinpath(page).read_text("utf-8")


def sheet(parent: QWidget, title: str, text: QTextBrowser | None = None) -> tuple[QDialog, QTextBrowser]:
    """A sheet with a Close button, empty where no ``text`` is given; it does not block the window."""
    dialog = QDialog(parent)
    dialog.setWindowTitle(title)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    # as many letters a line as are read with ease, whatever the size of the text
    letter = parent.fontMetrics().averageCharWidth()
    dialog.resize(QSize(LETTERS * letter, round(0.78 * LETTERS * letter)).boundedTo(parent.size() - AROUND))
    layout = QVBoxLayout(dialog)
    text = QTextBrowser() if text is None else text
    text.setOpenExternalLinks(False)
    text.setAccessibleName(title)
    layout.addWidget(text)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    buttons.rejected.connect(dialog.close)
    layout.addWidget(buttons)
    return dialog, text


def guide(parent: QWidget, chapter: str = "") -> QDialog:
    """The user's guide at the chapter of the step of that name, else at its contents; links open further pages."""
    dialog, text = sheet(parent, "Guide", Pages())
    page = f"{chapter}.md" if chapter else GUIDE
    text.setSource(QUrl(page), QTextDocument.ResourceType.MarkdownResource)
    buttons = dialog.findChild(QDialogButtonBox)
    assert buttons is not None
    contents = buttons.addButton("All chapters", QDialogButtonBox.ButtonRole.ActionRole)
    contents.clicked.connect(lambda: text.setSource(QUrl(GUIDE), QTextDocument.ResourceType.MarkdownResource))
    back = buttons.addButton("Back", QDialogButtonBox.ButtonRole.ActionRole)
    back.setEnabled(False)
    back.clicked.connect(text.backward)
    text.backwardAvailable.connect(back.setEnabled)
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


def version(parent: QWidget) -> QDialog:
    """What somebody who asks for help wants to know: this version, and what it runs on."""
    dialog, text = sheet(parent, "Version")
    rows = (
        ("Twinslot", __version__),
        ("Python", platform.python_version()),
        ("Qt", qVersion()),
        ("System", f"{platform.system()} {platform.release()}"),
        ("Licence", "MIT"),
    )
    cells = "".join(f"<tr><td>{escape(name)}&nbsp;&nbsp;&nbsp;</td><td>{escape(told)}</td></tr>" for name, told in rows)
    text.setHtml(f"<table>{cells}</table>")
    return dialog
