"""The report before it is written: its pages as they will print, and what they are to hold."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QImage, QPixmap
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.report.contents import SECTIONS
from app.widgets.controls.forms import ScrolledBody, fit
from app.widgets.controls.label import label
from app.widgets.controls.scrolled_column import show_instead
from app.widgets.controls.written_line import WrittenLine

if TYPE_CHECKING:
    from app.model.report_files import ReportFiles

PAGES = ("A4", "Letter")
DOTS_PER_INCH = 96
MARGIN = 12


class Sheet(QLabel):
    """A page as it prints; no wider than there is room, so that nobody scrolls sideways."""

    def __init__(self, picture: QImage, name: str) -> None:
        super().__init__()
        self._picture = QPixmap.fromImage(picture)
        self.setFrameShape(QFrame.Shape.Box)
        self.setAccessibleName(name)
        self.fit(self._picture.width())

    def fit(self, width: int) -> None:
        """Takes that width in pixels of the window, or its own where that is less."""
        ratio = self._picture.devicePixelRatio()
        room = max(120, min(round(width * ratio), self._picture.width()))
        picture = self._picture.scaledToWidth(room, Qt.TransformationMode.SmoothTransformation)
        self.setPixmap(picture)
        frame = 2 * self.frameWidth()
        self.setFixedSize(picture.deviceIndependentSize().toSize() + QSize(frame, frame))


class ReportForm(QDialog):
    """``folderWanted`` and ``pdfWanted`` carry the chosen sections and the paper's name."""

    folderWanted = Signal(object, str)
    pdfWanted = Signal(object, str)

    def __init__(self, files: ReportFiles, scale: float, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._files, self._scale = files, scale
        self._sheets: list[Sheet] = []
        self.setWindowTitle("Report")
        across = QHBoxLayout(self)
        across.setContentsMargins(18, 14, 0, 14)
        across.setSpacing(18)
        across.addLayout(self._choices())
        self.pages = QScrollArea()
        self.pages.setWidgetResizable(True)
        self.pages.installEventFilter(self)
        self.pages.setFrameShape(QFrame.Shape.NoFrame)
        self.pages.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.pages.setAccessibleName("Pages of the report")
        across.addWidget(self.pages, 1)
        self._soon = QTimer(self, singleShot=True, interval=250)
        self._soon.timeout.connect(self._preview)
        fit(self, round(1180 * scale), round(860 * scale))
        self._preview()

    def _choices(self) -> QVBoxLayout:
        """Sections scroll where the screen is small; paper and buttons stay below them."""
        column = QVBoxLayout()
        column.setSpacing(6)
        scroll = ScrolledBody()
        scroll.column.setSpacing(6)
        scroll.column.addWidget(label("Report", "heading", wrap=False))
        scroll.column.addWidget(label("Sections to print. An empty one is left out.", "muted"))
        self.sections: dict[str, QCheckBox] = {}
        for name, kind in SECTIONS.items():
            box = QCheckBox(kind.title)
            box.setChecked(True)
            box.toggled.connect(lambda _on: self._soon.start())
            scroll.column.addWidget(box)
            self.sections[name] = box
        scroll.column.addStretch(1)
        column.addWidget(scroll, 1)
        paper = QHBoxLayout()
        paper.addWidget(label("Paper", wrap=False))
        self.paper = QComboBox()
        self.paper.addItems(PAGES)
        self.paper.setAccessibleName("Paper")
        self.paper.currentTextChanged.connect(lambda _text: self._soon.start())
        paper.addWidget(self.paper, 1)
        column.addLayout(paper)
        self.line = label("", "muted")
        column.addWidget(self.line)
        self.written = WrittenLine()
        # a long path is cut rather than taking the pages' room
        self.written.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._files.written.connect(self.written.tell)
        column.addWidget(self.written)
        self.folder = self._button(column, "Write into a folder…", self.folderWanted.emit, decision=True)
        self.folder.setToolTip("Page for the browser, PDF, table of divergences and record for scripts")
        self.pdf = self._button(column, "PDF only…", self.pdfWanted.emit)
        self.closer = QPushButton("Close")
        self.closer.setAutoDefault(False)
        self.closer.clicked.connect(self.reject)
        column.addWidget(self.closer)
        return column

    def _button(
        self, column: QVBoxLayout, text: str, tell: Callable[[object, str], None], decision: bool = False
    ) -> QPushButton:
        made = QPushButton(text)
        made.setProperty("role", "decision" if decision else "")
        made.setAutoDefault(False)
        made.clicked.connect(lambda: tell(self.chosen(), self.paper.currentText()))
        column.addWidget(made)
        return made

    def chosen(self) -> tuple[str, ...]:
        """Names of the ticked sections, in the report's order."""
        return tuple(name for name, box in self.sections.items() if box.isChecked())

    def _preview(self) -> None:
        """Makes the pages anew; a form with nothing ticked has none."""
        names = self.chosen()
        for button in (self.folder, self.pdf):
            button.setEnabled(bool(names))
        if not names:
            self.line.setText("Tick at least one section")
            show_instead(self.pages, QWidget())
            return
        self.line.setText("Pages are being made…")
        dots = round(DOTS_PER_INCH * self.devicePixelRatioF())
        self._files.preview_report(names, self.paper.currentText(), dots, self._show, self.line.setText)

    def _show(self, pictures: tuple[QImage, ...]) -> None:
        body = QWidget()
        body.setObjectName("columnBody")
        column = QVBoxLayout(body)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, MARGIN)
        column.setSpacing(14)
        self._sheets = []
        for number, picture in enumerate(pictures, start=1):
            picture.setDevicePixelRatio(self.devicePixelRatioF())
            sheet = Sheet(picture, f"Page {number} of {len(pictures)}")
            column.addWidget(sheet, 0, Qt.AlignmentFlag.AlignHCenter)
            self._sheets.append(sheet)
        column.addStretch(1)
        at = self.pages.verticalScrollBar().value()
        show_instead(self.pages, body)
        self._fit()
        self.pages.verticalScrollBar().setValue(at)
        self.line.setText(f"{len(pictures)} page{'s' if len(pictures) != 1 else ''}")

    def _fit(self) -> None:
        for sheet in self._sheets:
            sheet.fit(self.pages.width() - 2 * MARGIN - self.pages.verticalScrollBar().sizeHint().width())

    def done(self, result: int) -> None:
        """Closed: pages that are still being made are of no use."""
        self._soon.stop()
        self._files.jobs.stop("preview")
        super().done(result)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        # a line about what was written takes room from the pages though the form keeps its size
        if watched is self.pages and event.type() == QEvent.Type.Resize:
            self._fit()
        return super().eventFilter(watched, event)
